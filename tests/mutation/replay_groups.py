"""Small fixtures in groups, exactly as expected: the tests that cover how a root is chosen, cheap enough for mutation runs.

Not collected by the ordinary run, where tests/test_replay.py holds every fixture; a mutation run names this file.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
import yaml

from tests.support import FIXTURES, verdict_of

GROUPS = 20
STEP = 5
LARGEST = 8 * 1024


@cache
def samples() -> tuple[tuple[Path, str | None, int | None, str], ...]:
    """Every fifth small fixture whose expectation is met to the line."""
    still_open = yaml.safe_load((FIXTURES / "open.yaml").read_text())
    skipped = {name for kind in still_open.values() for name in kind}
    found = []
    for path in sorted(FIXTURES.rglob("*.log"))[::STEP]:
        if path.stem not in skipped and path.stat().st_size <= LARGEST:
            want = yaml.safe_load(path.with_suffix(".yaml").read_text())
            if not want.get("also"):
                found.append((path, want.get("failure"), want.get("line"), want["outcome"]))
    return tuple(found)


@pytest.mark.parametrize("group", range(GROUPS))
def test_verdicts(group: int) -> None:
    wrong = []
    for path, failure, line, outcome in samples()[group::GROUPS]:
        verdict = verdict_of(path.read_bytes())
        root = verdict.root
        told = (
            verdict.outcome,
            root.failure.id if root and failure else failure,
            root.line if root and failure else line,
        )
        near = told[2] is None or line is None or abs(told[2] - line) <= 2
        if told[:2] != (outcome, failure) or (failure and root is None) or not near:
            wrong.append((path.name, told, (outcome, failure, line)))
    assert wrong == []
