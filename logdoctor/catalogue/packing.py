"""The catalogue as one value or file, to be shipped."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.reading import read_folder

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["bundle", "for_the_wheel"]


def bundle(folder: Path) -> dict[str, Any]:
    """All of a knowledge folder as one JSON-ready value; raises ValueError with all problems."""
    knowledge = read_folder(folder)
    if knowledge.problems:
        raise ValueError("\n".join(map(str, knowledge.problems)))
    return {"entries": knowledge.entries, "marks": knowledge.marks, "facts": knowledge.facts}


def for_the_wheel(folder: Path) -> bytes:
    """The same prepared for quick reading, as the wheel ships it; raises ValueError with all problems."""
    from logdoctor.catalogue.book import Catalogue
    from logdoctor.catalogue.prepared import packed

    all_of_it = bundle(folder)
    catalogue = Catalogue(
        {entry["id"]: entry for entry in all_of_it["entries"]}, all_of_it["marks"], all_of_it["facts"]
    )
    return packed(catalogue, (folder / "ordinary.txt").read_bytes().splitlines())
