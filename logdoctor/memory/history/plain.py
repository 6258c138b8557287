"""Runs and remarks as JSON objects, and back: for what waits to go in, for export and for import."""

from __future__ import annotations

import math
from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

from logdoctor.memory.history.model import Remark, Run
from logdoctor.memory.history.recording import cleaned

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["entry_of", "plain_entry"]

_KINDS: dict[str, type[Run | Remark]] = {"run": Run, "remark": Remark}
_REQUIRED = {"run": ("id", "at", "outcome", "fingerprint"), "remark": ("id", "run_id", "at", "kind")}
_OUTCOMES = ("failed", "aborted", "succeeded", "unknown")
_LATEST = 253402300799.0  # the end of the year 9999: later times have no date


def plain_entry(entry: Run | Remark) -> dict[str, Any]:
    """A run or remark as a JSON-ready object; what is not known is left out."""
    kind = "run" if isinstance(entry, Run) else "remark"
    return {"entry": kind, **{key: value for key, value in asdict(entry).items() if value is not None}}


def entry_of(plain: object) -> Run | Remark:
    """The run or remark that an object tells; ValueError says what is wrong with it. Texts pass the gate again."""
    if not isinstance(plain, dict) or plain.get("entry") not in _KINDS:
        raise ValueError('no object with "entry": "run" or "remark"')
    kind = str(plain["entry"])
    names = {field.name for field in fields(_KINDS[kind])}
    if unknown := sorted(str(key) for key in set(plain) - names - {"entry"}):
        raise ValueError(f"unknown key {unknown[0][:40]!r}")
    values = {key: _value(key, plain[key]) for key in names if plain.get(key) is not None}
    if missing := [key for key in _REQUIRED[kind] if values.get(key) is None]:
        raise ValueError(f"key {missing[0]} is missing")
    _check(kind, values)
    return _KINDS[kind](**values)


def _value(key: str, value: object) -> Any:
    if key == "at":
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise ValueError("at is no number")
        if not 0 <= value <= _LATEST:
            raise ValueError("at is no time")
        return float(value)
    if not isinstance(value, str):
        raise ValueError(f"{key} is no text")  # noqa: TRY004 - one kind of error for all that is wrong with an entry
    if key in ("id", "run_id", "fingerprint") and not (value.isalnum() and len(value) <= 64):
        raise ValueError(f"{key} is no identity")
    return value if key in ("id", "run_id", "fingerprint") else cleaned(value)


def _check(kind: str, values: Mapping[str, Any]) -> None:
    if kind == "run" and values["outcome"] not in _OUTCOMES:
        raise ValueError(f"outcome is none of {', '.join(_OUTCOMES)}")
    if kind == "remark" and values["kind"] not in ("confirmed", "wrong"):
        raise ValueError("kind is neither confirmed nor wrong")
