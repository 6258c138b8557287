"""The catalogue in layers: built in, the user's, the project's; later layers merge over earlier ones."""

from __future__ import annotations

import json
import os
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.book import Catalogue
from logdoctor.catalogue.limiting import patterns_in
from logdoctor.catalogue.patterns import limit
from logdoctor.catalogue.reading import Knowledge, read_folder

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["cache_folder", "knowledge_folder", "load_catalogue", "user_folder"]

PACKED = "knowledge.json"
BUILT_IN = "built in"


def load_catalogue(*, project: Path | None = None, user: Path | None = None, built_in: Path | None = None) -> Catalogue:
    """Load the catalogue.

    `project` is a work tree whose `.logdoctor/` folder is read too; `user` and `built_in` replace the usual folders.
    """
    base = _built_in(built_in)
    layers = [(BUILT_IN, base)]
    for name, folder in (("user", user or user_folder()), ("project", project / ".logdoctor" if project else None)):
        if folder is not None and folder.is_dir():
            layers.append((name, read_folder(folder)))
    return _merged(layers)


def knowledge_folder() -> Path | None:
    """The `knowledge/` folder of a source checkout, or None in an installed package."""
    folder = Path(__file__).resolve().parents[2] / "knowledge"
    return folder if (folder / "facts.yaml").is_file() else None


def user_folder() -> Path | None:
    """Where a user's own entries lie; None without a home folder."""
    if base := os.environ.get("XDG_CONFIG_HOME"):
        return Path(base) / "logdoctor" / "knowledge"
    home = _home()
    return home / ".config" / "logdoctor" / "knowledge" if home else None


def cache_folder() -> Path | None:
    """Where parsed knowledge is kept; None without a home folder."""
    if base := os.environ.get("XDG_CACHE_HOME"):
        return Path(base) / "logdoctor"
    home = _home()
    return home / ".cache" / "logdoctor" if home else None


def _home() -> Path | None:
    try:
        return Path.home()
    except RuntimeError:
        return None


def _built_in(folder: Path | None) -> Knowledge:
    if folder is not None or not os.environ.get("LOGDOCTOR_KNOWLEDGE"):
        return _shipped(folder)
    from logdoctor.catalogue.apart import read_apart

    apart = read_apart(Path(os.environ["LOGDOCTOR_KNOWLEDGE"]))
    if apart.problems:  # a file that is no use is told, and the diagnosis goes on
        shipped = _shipped(None)
        shipped.problems += apart.problems
        return shipped
    return apart


def _shipped(folder: Path | None) -> Knowledge:
    packed = files("logdoctor").joinpath(PACKED)
    if folder is None and packed.is_file():
        data = json.loads(packed.read_bytes())
        return Knowledge(entries=data["entries"], marks=data["marks"], facts=data["facts"])
    folder = folder or knowledge_folder()
    return read_folder(folder, cache_dir=cache_folder()) if folder else Knowledge()


def _merged(layers: Iterable[tuple[str, Knowledge]]) -> Catalogue:
    entries: dict[str, dict[str, Any]] = {}
    marks: list[dict[str, Any]] = []
    facts: dict[str, Any] = {}
    problems = []
    for name, knowledge in layers:
        for entry in knowledge.entries:
            entries[entry["id"]] = _merged_entry(entries.get(entry["id"]), entry | {"layer": name})
        marks += knowledge.marks
        if name != BUILT_IN:
            limit(patterns_in([*knowledge.entries, *knowledge.marks, knowledge.facts]))
        for kind, values in knowledge.facts.items():
            facts[kind] = {**facts.get(kind, {}), **values}
        problems += knowledge.problems
    return Catalogue(entries, marks, facts, tuple(problems))


def _merged_entry(old: Mapping[str, Any] | None, new: dict[str, Any]) -> dict[str, Any]:
    """Scalars are replaced; signatures, causes and checks are merged by id."""
    if old is None:
        return new
    merged = {**old, **new}
    for key in ("signatures", "causes", "checks"):
        by_id = {item["id"]: item for item in old.get(key, ())}
        by_id.update({item["id"]: item for item in new.get(key, ())})
        merged[key] = list(by_id.values())
    return merged
