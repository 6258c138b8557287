"""Knowledge folders to plain, validated data, with a cache by content hash.

A YAML file is parsed and validated once; afterwards its data comes from a JSON file in the user's cache folder.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.building import normalized_entry, normalized_facts, normalized_marks
from logdoctor.catalogue.prepared import FORMAT
from logdoctor.catalogue.problems import Problem, entry_problems, marks_problems
from logdoctor.catalogue.shapes import facts_shape_problems, hidden_problems, marks_shape_problems

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["Knowledge", "read_folder"]

CACHE_FORMAT = FORMAT
MAX_FILE = 4 << 20


@dataclass(slots=True)
class Knowledge:
    """Plain data of one layer: entries and marks by file, fact lines, and what was wrong."""

    entries: list[dict[str, Any]] = field(default_factory=list)
    marks: list[dict[str, Any]] = field(default_factory=list)
    facts: dict[str, Any] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)


def read_folder(folder: Path, *, cache_dir: Path | None = None) -> Knowledge:
    """Read all files of a knowledge folder; a file that can't be used is left out and named in `problems`."""
    knowledge = Knowledge()
    cache = _Cache(cache_dir / f"knowledge-{_folder_key(folder)}.json" if cache_dir else None)
    for path in _yaml_files(folder):
        where = path.relative_to(folder).as_posix()
        _take(knowledge, where, _parsed(path, where, cache))
    cache.save()
    return knowledge


def _folder_key(folder: Path) -> str:
    return hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:12]


def _yaml_files(folder: Path) -> Iterator[Path]:
    yield from sorted(p for p in folder.rglob("*.yaml") if p.is_file())


def _parsed(path: Path, where: str, cache: _Cache) -> dict[str, Any]:
    try:
        if path.stat().st_size > MAX_FILE:
            return _unusable(where, "larger than 4 MiB", "split it")
        raw = path.read_bytes()
    except OSError as error:
        return _unusable(where, error.strerror or str(error), "make it readable")
    return cache.get(where.encode() + b"\0" + raw, lambda: _parse(raw, where))


def _parse(raw: bytes, where: str) -> dict[str, Any]:
    import yaml  # only when the cache has no answer

    if b"&" in raw and b"*" in raw and _has_alias(raw):
        return _unusable(where, "YAML aliases are not allowed", "write the value out")
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    try:
        data = yaml.load(raw, Loader=loader)  # noqa: S506 - a safe loader, in C where it is there
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        mark = getattr(error, "problem_mark", None)
        place = f"line {mark.line + 1}: " if mark else ""
        return _unusable(where, f"{place}{getattr(error, 'problem', None) or error}", "correct the YAML")
    kind = "marks" if where.startswith("phases/") else "facts" if where == "facts.yaml" else "entry"
    problems = hidden_problems(data, where)
    if not problems:
        data, problems = _CHECKED[kind](data, where)
    told = [[p.key, p.problem, p.mend] for p in problems]
    return {"kind": kind, "data": None if problems else data, "problems": told}


def _checked_marks(data: Any, where: str) -> tuple[Any, list[Problem]]:
    if problems := marks_shape_problems(data, where):
        return data, problems
    data = normalized_marks(data)
    return data, marks_problems(data, where)


def _checked_facts(data: Any, where: str) -> tuple[Any, list[Problem]]:
    problems = facts_shape_problems(data, where)
    return data if problems else normalized_facts(data), problems


def _checked_entry(data: Any, where: str) -> tuple[Any, list[Problem]]:
    data = normalized_entry(data)
    return data, entry_problems(data, where)


_CHECKED: dict[str, Callable[[Any, str], tuple[Any, list[Problem]]]] = {
    "marks": _checked_marks,
    "facts": _checked_facts,
    "entry": _checked_entry,
}


def _has_alias(raw: bytes) -> bool:
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    with suppress(yaml.YAMLError):
        return any(isinstance(event, yaml.AliasEvent) for event in yaml.parse(raw, Loader=loader))
    return False


def _unusable(where: str, problem: str, mend: str) -> dict[str, Any]:
    return {"kind": "none", "data": None, "problems": [["$", f"{where}: {problem}"[:300], mend]]}


def _take(knowledge: Knowledge, where: str, parsed: dict[str, Any]) -> None:
    problems = [Problem(file=where, key=k, problem=p, mend=m) for k, p, m in parsed["problems"]]
    knowledge.problems += problems
    if parsed["kind"] == "facts":
        knowledge.facts = parsed["data"] or {}
    elif not problems and parsed["kind"] == "entry":
        knowledge.entries.append(parsed["data"] | {"file": where})
    elif not problems and parsed["kind"] == "marks":
        knowledge.marks.append(parsed["data"])


class _Cache:
    """Parsed files by content hash; a cache that can't be read or written is as if it were empty."""

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self._old: dict[str, Any] = {}
        self._new: dict[str, Any] = {}
        if path is not None:
            with suppress(OSError, ValueError, TypeError, KeyError, RecursionError):
                stored = json.loads(path.read_bytes())
                self._old = dict(stored["files"]) if stored["format"] == CACHE_FORMAT else {}

    def get(self, key: bytes, make: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        digest = hashlib.sha256(key).hexdigest()
        value = self._old.get(digest)
        self._new[digest] = value if value is not None else make()
        return self._new[digest]  # type: ignore[no-any-return]

    def save(self) -> None:
        """Write the new state beside the old and swap it in, so that two processes don't tear it."""
        if self._path is None or self._new.keys() == self._old.keys():
            return
        # A plain value that JSON has no form for (a date in an entry with problems) is not kept.
        import tempfile  # only when there is something to keep

        with suppress(OSError, TypeError, ValueError):
            text = json.dumps({"format": CACHE_FORMAT, "files": self._new})
            self._path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, temporary = tempfile.mkstemp(dir=self._path.parent, prefix=".knowledge-")
            with os.fdopen(handle, "w", encoding="utf-8") as out:
                out.write(text)
            Path(temporary).replace(self._path)
