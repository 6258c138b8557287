"""The catalogue in layers: built in, the user's, the project's; later layers merge over earlier ones."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.book import Catalogue
from logdoctor.catalogue.kept import kept, stamp_of, written

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from logdoctor.catalogue.prepared import Prepared
    from logdoctor.catalogue.problems import Problem
    from logdoctor.catalogue.reading import Knowledge

__all__ = ["cache_folder", "knowledge_folder", "load_catalogue", "user_folder"]

PACKED = "knowledge.jsonl"
BUILT_IN = "built in"


def load_catalogue(*, project: Path | None = None, user: Path | None = None, built_in: Path | None = None) -> Catalogue:
    """Load the catalogue.

    `project` is a work tree whose `.logdoctor/` folder is read too; `user` and `built_in` replace the usual folders.
    """
    base = _built_in(built_in)
    more = []
    for name, folder in (("user", user or user_folder()), ("project", project / ".logdoctor" if project else None)):
        if folder is not None and folder.is_dir():
            from logdoctor.catalogue.reading import read_folder

            more.append((name, read_folder(folder)))
    if isinstance(base, Catalogue):
        if not more:
            return base
        base = _knowledge_of(base)
    return _merged([(BUILT_IN, base), *more])


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


def _built_in(folder: Path | None) -> Catalogue | Knowledge:
    if folder is not None or not os.environ.get("LOGDOCTOR_KNOWLEDGE"):
        return _shipped(folder)
    from logdoctor.catalogue.apart import read_apart

    apart = read_apart(Path(os.environ["LOGDOCTOR_KNOWLEDGE"]))
    if apart.problems:  # a file that is no use is told, and the diagnosis goes on
        shipped = _shipped(None)
        shipped.problems = (*shipped.problems, *apart.problems)
        return shipped
    return apart


def _shipped(folder: Path | None) -> Catalogue:
    """The catalogue that came with the program: prepared in the wheel, of a checkout kept prepared in the cache folder."""
    if folder is None and (prepared := _in_the_wheel()) is not None:
        return _catalogue_of(prepared)
    folder = folder or knowledge_folder()
    if folder is None:
        return Catalogue({}, (), {})
    cache = cache_folder()
    stamp = stamp_of(folder)
    if cache is not None and (prepared := kept(cache, folder, stamp)) is not None:
        return _catalogue_of(prepared)
    from logdoctor.catalogue.reading import read_folder

    catalogue = _merged([(BUILT_IN, read_folder(folder, cache_dir=cache))])
    if cache is not None:
        written(cache, folder, stamp, catalogue)
    return catalogue


def _in_the_wheel() -> Prepared | None:
    from logdoctor.catalogue.prepared import unpacked

    beside = Path(__file__).resolve().parents[1]
    if beside.is_dir():
        packed = beside / PACKED
        return unpacked(packed.read_bytes()) if packed.is_file() else None
    from importlib.resources import files  # the package lies in an archive

    inside = files("logdoctor").joinpath(PACKED)
    return unpacked(inside.read_bytes()) if inside.is_file() else None


def _catalogue_of(prepared: Prepared) -> Catalogue:
    problems = tuple(prepared.problems)
    return Catalogue(prepared.entries, (), prepared.head["facts"], problems, prepared)


def _knowledge_of(catalogue: Catalogue) -> Knowledge:
    """Plain data again, for other layers to be merged over."""
    from logdoctor.catalogue.reading import Knowledge

    marks = [{"tool": told["tool"], "marks": [told["data"]]} for told in catalogue.mark_data()]
    return Knowledge(
        entries=catalogue.entry_data(),
        marks=marks,
        facts=dict(catalogue.facts),
        problems=list(catalogue.problems),
    )


def _merged(layers: Iterable[tuple[str, Knowledge]]) -> Catalogue:
    entries: dict[str, dict[str, Any]] = {}
    marks: list[dict[str, Any]] = []
    facts: dict[str, Any] = {}
    problems: list[Problem] = []
    for name, knowledge in layers:
        for entry in knowledge.entries:
            entries[entry["id"]] = _merged_entry(entries.get(entry["id"]), entry | {"layer": name})
        marks += knowledge.marks
        if name != BUILT_IN:
            from logdoctor.catalogue.limiting import patterns_in
            from logdoctor.catalogue.patterns import limit

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
