"""Items of the root: failing tests, compiler errors, missing artifacts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.model import Item

if TYPE_CHECKING:
    from collections.abc import Iterable

    from logdoctor.diagnosis.sightings import Sighting

__all__ = ["MAX_ITEMS", "items_of"]

MAX_ITEMS = 50


def items_of(root: Sighting, sightings: Iterable[Sighting]) -> tuple[tuple[Item, ...], int]:
    """The first fifty different items of the root's failure, and how many there are in all."""
    found: dict[tuple[str, str | None, int | None], Item] = {}
    for sighting in sightings:
        if sighting.failure.id == root.failure.id and sighting.signature.items and sighting.weight != "none":
            item = _item(sighting)
            found.setdefault((item.text, item.file, item.line), item)
    return tuple(found.values())[:MAX_ITEMS], len(found)


def _item(sighting: Sighting) -> Item:
    groups = sighting.hit.groups
    at = groups.get("at", "")
    return Item(
        text=(groups.get("text") or sighting.hit.text).strip(),
        file=groups.get("file"),
        line=int(at) if at.isascii() and at.isdigit() and len(at) < 10 else None,
    )
