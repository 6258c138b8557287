"""The catalogue as one JSON-ready value, as the wheel ships it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.reading import read_folder

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["bundle"]


def bundle(folder: Path) -> dict[str, Any]:
    """All of a knowledge folder as one JSON-ready value, as the wheel ships it; raises ValueError with all problems."""
    knowledge = read_folder(folder)
    if knowledge.problems:
        raise ValueError("\n".join(map(str, knowledge.problems)))
    return {"entries": knowledge.entries, "marks": knowledge.marks, "facts": knowledge.facts}
