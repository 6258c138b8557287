"""Failing tests, compiler errors and missing artifacts of two roots: new, still failing, gone."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.memory.comparing.model import ItemsChange

if TYPE_CHECKING:
    from logdoctor.memory.comparing.model import Standing
    from logdoctor.model import Finding, Item, Verdict

__all__ = ["items_change"]

# The line in the file moves with every edit, and a test that fails otherwise is still the same test.
_TEST_PLACE = re.compile(r"^(?P<test>\S+?)(?::\d+(?:->\S+)?)(?:\s.*|$)")
_MEASURE = re.compile(r"\s*[(\[]?\b\d+(?:[.,]\d+)?\s?(?:ms|s|sec|seconds)\b[)\]]?")
_REASON = re.compile(r"^(?P<test>(?:FAILED|ERROR) \S+(?:::.*?)?) - .*$")


def items_change(old: Verdict, new: Verdict, standing: Standing) -> ItemsChange:
    """What happened to the items; those of different kinds of failure are never the same."""
    before, after = _listed(old.root), _listed(new.root)
    old_total = old.root.items_total if old.root else 0
    new_total = new.root.items_total if new.root else 0
    if old.root and new.root and old.root.failure.id == new.root.failure.id:
        return _of_one_kind(before, after, old_total, new_total)
    past = standing in ("fixed", "gone") and bool(before)
    return ItemsChange(
        new=tuple(after.values()),
        gone=tuple(before.values()) if past else (),
        not_reached=tuple(before.values()) if standing == "not reached" else (),
        old_total=old_total,
        new_total=new_total,
        complete=old_total <= len(before) and new_total <= len(after) and not (before and standing == "still there"),
    )


def _of_one_kind(before: dict[object, Item], after: dict[object, Item], old_total: int, new_total: int) -> ItemsChange:
    whole_old, whole_new = old_total <= _most(before), new_total <= _most(after)
    return ItemsChange(
        new=tuple(item for key, item in after.items() if key not in before) if whole_old else (),
        still=tuple(item for key, item in after.items() if key in before),
        gone=tuple(item for key, item in before.items() if key not in after) if whole_new else (),
        old_total=old_total,
        new_total=new_total,
        complete=whole_old and whole_new,
    )


def _most(listed: dict[object, Item]) -> int:
    """How many items a verdict lists at most; a list that is shorter is whole."""
    from logdoctor.diagnosis.items import MAX_ITEMS

    return MAX_ITEMS if listed else 0


def _listed(root: Finding | None) -> dict[object, Item]:
    if root is None:
        return {}
    return {_key(item, root): item for item in reversed(root.items)}


def _key(item: Item, root: Finding) -> tuple[str | None, str]:
    text = _MEASURE.sub("", item.text).strip()
    if root.failure.phase == "test":
        for pattern in (_TEST_PLACE, _REASON):
            if found := pattern.match(text):
                text = found["test"]
                break
    return item.file, text
