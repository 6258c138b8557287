"""Closing statements: the last explanations that tools print before they give up.

A statement comes from a mark that opens one, from a signature whose tool gives up with that line (`ends`),
or from a tool's own last word that it failed. It reaches over the lines that belong to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.catalogue.patterns import compiled
from logdoctor.diagnosis.vocabulary import GOES_ON
from logdoctor.intake import LineReader, clean

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from logdoctor.diagnosis.sightings import Sighting
    from logdoctor.diagnosis.timeline import MarkHit, Step, Timeline
    from logdoctor.model import Hit

__all__ = ["Statement", "find_statements"]

DEFAULT_REACH = 12
MAX_STATEMENTS = 400
UNDER_TEST = frozenset({"git", "kubectl", "helm", "terraform", "ansible", "system", "twine", "pip"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """Where a tool says why it gives up. `refers`: it only points to what was said before."""

    start: int
    end: int
    lane: str | None
    step: Step
    tool: str
    goal: str | None = None
    module: str | None = None
    refers: bool = False

    def holds(self, sighting: Sighting) -> bool:
        """Whether the sighting stands inside this statement."""
        return self.lane == sighting.lane and self.start <= sighting.line <= self.end


def find_statements(timeline: Timeline, sightings: Iterable[Sighting], reader: LineReader) -> list[Statement]:
    """All closing statements in order."""
    marks = [mark for mark in timeline.of("state") if _counts(mark, timeline)][-MAX_STATEMENTS:]
    found = [_from_mark(timeline, mark, reader) for mark in marks]
    found += _from_last_words(timeline)
    found += [_from_ending(s) for s in sightings if s.signature.ends and s.weight == "hard" and not s.apart]
    return sorted(found, key=lambda s: (s.start, s.refers))


def _counts(found: MarkHit, timeline: Timeline) -> bool:
    """Whether a mark is a statement where it stands: not said by a program under test, and near enough to the end."""
    step = timeline.step_at(found.line, timeline.lane_of(found.hit))
    if step.allowed or GOES_ON.search(found.hit.text):
        return False
    if step.phase == "test" and found.mark.tool in UNDER_TEST and step.tool != "bash":
        return False
    allowed = found.mark.options.get("at_end")
    if not isinstance(allowed, int):
        return True
    closing = [m.line for m in timeline.of("conclude") if m.mark.by in ("ci", "step") and m.line >= found.line]
    return min(closing, default=timeline.lines) - found.line <= allowed


def _from_mark(timeline: Timeline, found: MarkHit, reader: LineReader) -> Statement:
    groups, options = found.hit.groups, found.mark.options
    lane = timeline.lane_of(found.hit)
    reach = options.get("lasts")
    until = options.get("until")
    return Statement(
        start=found.line,
        end=_end(
            found.hit,
            reader,
            reach if isinstance(reach, int) else DEFAULT_REACH,
            until if isinstance(until, str) else None,
        ),
        lane=lane,
        step=timeline.step_at(found.line, lane),
        tool=found.mark.tool,
        goal=groups.get("goal"),
        module=groups.get("module"),
        refers=bool(options.get("refers")),
    )


def _end(hit: Hit, reader: LineReader, reach: int, until: str | None) -> int:
    rule = compiled(until) if until else None
    if rule is None:
        return hit.line + reach
    for number, (start, end) in enumerate(reader.after(hit.offset, reach), start=1):
        if rule.search(clean(reader.text(start, end)).text):
            return hit.line + number - 1
    return hit.line + reach


def _from_last_words(timeline: Timeline) -> Iterator[Statement]:
    for found in timeline.of("conclude"):
        if found.mark.by == "tool" and found.mark.outcome == "failed":
            lane = timeline.lane_of(found.hit)
            step = timeline.step_at(found.line, lane)
            if step.allowed:
                continue
            yield Statement(
                start=found.line,
                end=found.line,
                lane=lane,
                step=step,
                tool=found.mark.tool,
                refers=True,
            )


def _from_ending(sighting: Sighting) -> Statement:
    return Statement(
        start=sighting.line,
        end=sighting.line,
        lane=sighting.lane,
        step=sighting.step,
        tool=sighting.signature.tool,
        goal=sighting.hit.groups.get("goal"),
    )
