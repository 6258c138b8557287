"""Problems of catalogue files: where, what, and how to mend it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from typing import Any

from logdoctor.catalogue.marks import DOES, MARK_KEYS

__all__ = ["Problem", "entry_problems", "marks_problems"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong with a catalogue file."""

    file: str
    key: str
    problem: str
    mend: str

    def __str__(self) -> str:
        """One line: file, key path, problem, mend."""
        return f"{self.file}: {self.key}: {self.problem}; {self.mend}"


def entry_problems(data: Any, file: str) -> list[Problem]:
    """Hold one normalized entry against the schema and the rules that need no other entry."""
    problems = [
        Problem(
            file=file, key=error.json_path, problem=error.message[:200], mend="see DEVELOPERS.md, How to add a failure"
        )
        for error in sorted(_validator().iter_errors(data), key=lambda e: e.json_path)
    ]
    if problems:
        return problems
    if not data["id"].startswith(data["phase"] + "-"):
        problems.append(
            Problem(
                file=file,
                key="$.id",
                problem="the id does not begin with its phase",
                mend="rename it or correct the phase",
            )
        )
    for index, signature in enumerate(data["signatures"]):
        if "literal" not in signature:
            problems.append(
                Problem(
                    file=file,
                    key=f"$.signatures[{index}].literal",
                    problem=f"the pattern of {signature['id']} is not valid, or no picking literal can be derived from it",
                    mend="give one: fixed text that every matching line holds",
                )
            )
    return problems


def marks_problems(data: Any, file: str) -> list[Problem]:
    """Hold one file of marks against the rules of marks.py."""
    if not isinstance(data, dict) or not isinstance(data.get("marks"), list) or "tool" not in data:
        return [Problem(file=file, key="$", problem="no tool with a list of marks", mend="write tool: and marks:")]
    problems = []
    for index, mark in enumerate(data["marks"]):
        key = f"$.marks[{index}]"
        if not isinstance(mark, dict) or not {"id", "does", "line"} <= mark.keys():
            problems.append(Problem(file=file, key=key, problem="id, does or line is missing", mend="add it"))
            continue
        problems += [
            Problem(file=file, key=f"{key}.{unknown}", problem="unknown key", mend="see catalogue/marks.py")
            for unknown in sorted(mark.keys() - MARK_KEYS)
        ]
        if mark["does"] not in DOES:
            problems.append(
                Problem(
                    file=file,
                    key=f"{key}.does",
                    problem=f"unknown word {mark['does']!r}",
                    mend=f"one of {', '.join(sorted(DOES))}",
                )
            )
        if "literal" not in mark:
            problems.append(
                Problem(file=file, key=f"{key}.literal", problem="no picking literal can be derived", mend="give one")
            )
    return problems


@cache
def _validator() -> Any:
    from importlib.resources import files

    import jsonschema  # slow to import, and only needed when an entry is read from YAML

    text = files("logdoctor.catalogue").joinpath("entry.schema.json").read_text(encoding="utf-8")
    return jsonschema.Draft202012Validator(json.loads(text))
