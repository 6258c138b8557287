"""The shapes of files of marks and of facts, and texts that no catalogue file may hold.

Held against the plain YAML data before anything else is done with it: a layer may be written by whoever opened a change.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.marks import DOES, MARK_KEYS
from logdoctor.catalogue.problems import Problem
from logdoctor.intake import printable
from logdoctor.model import PHASES

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["facts_shape_problems", "hidden_problems", "marks_shape_problems"]

TEXT = {"type": "string", "minLength": 1}
TEXTS = {"type": "array", "items": {"type": "string"}}
NAMED_TEXTS = {"type": "object", "additionalProperties": {"type": "string"}}
FACT_NAMES = {"propertyNames": {"pattern": r"^[a-z][a-z0-9_]*\Z"}}
MARK = {
    "type": "object",
    "required": ["id", "does", "line"],
    "properties": {key: {"type": "string"} for key in MARK_KEYS - {"needs", "table_needs"}}
    | {
        "id": {"type": "string", "pattern": r"^[a-z0-9]+(-[a-z0-9]+)*\Z"},
        "tool": TEXT,
        "does": {"enum": sorted(DOES)},
        "literal": {"anyOf": [TEXT, {"type": "array", "minItems": 1, "items": TEXT}]},
        "phase": {"enum": [*PHASES, "same"]},
        "table": {"type": "object", "additionalProperties": {"enum": [*PHASES, "same"]}},
        "outcome": {"enum": ["passed", "failed", "succeeded", "aborted", "unknown"]},
        "examples": TEXTS,
        "lookalikes": TEXTS,
        "refers": {"type": "boolean"},
        "lasts": {"type": "integer", "minimum": 1, "maximum": 10_000},
        "at_end": {"type": "integer", "minimum": 1},
        "together": {"type": "boolean"},
    },
}
MARKS_FILE = {
    "type": "object",
    "required": ["tool", "marks"],
    "properties": {"tool": TEXT, "marks": {"type": "array", "items": MARK}},
}
FACTS_FILE = {
    "type": "object",
    "additionalProperties": False,
    "properties": {
        "computed": NAMED_TEXTS | FACT_NAMES,
        "setup": NAMED_TEXTS | FACT_NAMES,
        "line": NAMED_TEXTS | FACT_NAMES,
    },
}


def marks_shape_problems(data: Any, file: str) -> list[Problem]:
    """What keeps a file of marks from being one."""
    return _held(_validator("marks"), data, file, "see catalogue/marks.py")


def facts_shape_problems(data: Any, file: str) -> list[Problem]:
    """What keeps a file of facts from being one."""
    return _held(_validator("facts"), data, file, "write computed:, setup: or line: with named texts")


def hidden_problems(data: Any, file: str) -> list[Problem]:
    """Texts that hold what a terminal would act on or a reader would not see; keys that are no texts."""
    return [Problem(file=file, key=key, problem=problem, mend="write it out") for key, problem in _hidden(data)]


def _hidden(data: Any) -> Iterator[tuple[str, str]]:
    waiting = [("$", data)]
    while waiting:
        where, value = waiting.pop()
        if isinstance(value, list):
            waiting += [(f"{where}[{index}]", inner) for index, inner in enumerate(value)]
        elif isinstance(value, dict):
            for key, inner in value.items():
                if not isinstance(key, (str, bool)):
                    yield where, f"a {type(key).__name__} as key"
                elif isinstance(key, str) and _hides(key):
                    yield where, "a key with control or invisible characters"
                else:
                    waiting.append((f"{where}.{key}", inner))
        elif isinstance(value, str) and _hides(value):
            yield where, "control or invisible characters"


def _hides(text: str) -> bool:
    shown = text.replace("\n", " ").replace("\t", " ")
    return printable(shown) != shown


def _held(validator: Any, data: Any, file: str, mend: str) -> list[Problem]:
    errors = sorted(validator.iter_errors(data), key=lambda e: str(e.json_path))
    return [Problem(file=file, key=str(e.json_path), problem=str(e.message)[:200], mend=mend) for e in errors]


@cache
def _validator(kind: str) -> Any:
    import jsonschema  # slow to import, and only needed when a file is read from YAML

    shapes: dict[str, dict[str, Any]] = {"marks": MARKS_FILE, "facts": FACTS_FILE}
    return jsonschema.Draft202012Validator(shapes[kind])
