"""Steps, sightings, statements and timelines made by hand, with only what the rules of root and outcome look at."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from types import SimpleNamespace
from typing import Any

__all__ = ["mark", "sighting", "statement", "step", "timeline"]


def step(start: int = 1, end: int = 100, **more: Any) -> Any:
    """A step; nothing followed it unless said otherwise."""
    told = {
        "phase": "compile",
        "lane": None,
        "module": None,
        "goal": None,
        "tool": "maven",
        "followed": False,
        "inner": False,
        "allowed": False,
        "closed": None,
        "opened_as": None,
    }
    return SimpleNamespace(start=start, end=end, **{**told, **more})


def sighting(line: int = 10, **more: Any) -> Any:
    """A hard sighting of a specific failure `one`; keys with two parts go to its failure, signature or hit."""
    failure = {"id": "one", "phase": "compile", "stand_in": "no", "wrapper": False, "explains": (), "outcome": None}
    signature = {"tool": "maven", "prefers": (), "items": False, "summary": False, "ends": False, "literals": ("abcd",)}
    hit = {"text": "[ERROR] it does not work", "groups": {}}
    own = {"line": line, "weight": "hard", "apart": False, "lane": None}
    parts: dict[str, dict[str, Any]] = {"failure": failure, "signature": signature, "hit": hit}
    for key, value in more.items():
        part, _, inner = key.partition("_")
        if part in parts:
            parts[part][inner] = value
        else:
            own[key] = value
    own.setdefault("step", step())
    return SimpleNamespace(**own, **{name: SimpleNamespace(**values) for name, values in parts.items()})


def statement(start: int = 20, holds: Iterable[Any] = (), **more: Any) -> Any:
    """A closing statement that holds the given sightings."""
    held = [id(one) for one in holds]
    told = {"goal": None, "module": None, "lane": None, "tool": "maven", "refers": False}
    made = SimpleNamespace(start=start, holds=lambda one: id(one) in held, **{**told, **more})
    if "step" not in more:
        made.step = step()
    return made


def mark(
    line: int, outcome: str | None = "succeeded", by: str = "tool", tool: str = "maven", lane: str | None = None
) -> Any:
    """A mark met on a line."""
    told = SimpleNamespace(id="made/by-hand", outcome=outcome, by=by, tool=tool, options={})
    return SimpleNamespace(line=line, mark=told, hit=SimpleNamespace(lane=lane, offset=line * 10))


def timeline(steps: Sequence[Any] = (), lines: int = 200, **marks: Sequence[Any]) -> Any:
    """A timeline of these steps in order, with marks by kind."""

    def at(line: int, lane: str | None) -> Any:
        return next((one for one in reversed(steps) if one.start <= line and one.lane == lane), step(inner=False))

    return SimpleNamespace(
        steps=list(steps),
        lines=lines,
        lanes=[one.lane for one in steps if one.lane],
        of=lambda *kinds: sorted((one for kind in kinds for one in marks.get(kind, ())), key=lambda one: one.line),
        step_at=at,
        lane_of=lambda hit: hit.lane,
        after=lambda one: [other for other in steps if other.start > one.start],
    )
