"""Steps to segments: runs of lines in one phase and lane, each with its state."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.intake import clean
from logdoctor.model import Hit, Phase, Segment, State

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from logdoctor.diagnosis.outcome import Ending
    from logdoctor.diagnosis.sightings import Sighting
    from logdoctor.diagnosis.timeline import Step, Timeline
    from logdoctor.intake import LineReader
    from logdoctor.scan import Tally

__all__ = ["LaneLines", "count_lanes", "make_segments"]

RUN_OF_DOWNLOADS = 5
DAY = 86_400.0
MAX_SEGMENTS = 2_000
MAX_LANE_LINES = 50_000
KEEPS_ITS_DOWNLOADS: frozenset[Phase] = frozenset({"deploy", "resolve", "checkout"})


@dataclass(frozen=True, slots=True)
class LaneLines:
    """The line numbers of each lane in an interleaved stretch; without lanes every line counts."""

    numbers: Mapping[str, Sequence[int]]

    def between(self, lane: str | None, start: int, end: int) -> int:
        """How many lines of a lane stand from `start` to `end`."""
        if lane is None or lane not in self.numbers:
            return end - start + 1
        own = self.numbers[lane]
        return bisect_right(own, end) - bisect_left(own, start)


def count_lanes(timeline: Timeline, reader: LineReader) -> LaneLines:
    """Read the interleaved stretch (its first 50,000 lines) and note which line is whose."""
    numbers: dict[str, list[int]] = {lane: [] for lane in timeline.lanes if lane is not None}
    opened = [s.opened_by for s in timeline.steps if s.lane is not None and s.opened_by is not None]
    if opened:
        first = min(opened, key=lambda hit: hit.line)
        places = [reader.line_at(first.offset), *reader.after(first.offset, MAX_LANE_LINES)]
        for number, (start, end) in enumerate(places, start=first.line):
            lane = clean(reader.text(start, end)).lane
            if lane in numbers:
                numbers[lane].append(number)
    return LaneLines(numbers)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    phase: Phase
    step: Step
    start: int
    end: int


def make_segments(
    timeline: Timeline, tallies: Sequence[Tally], ending: Ending, root: Sighting | None, counts: LaneLines
) -> tuple[Segment, ...]:
    """All segments in order of their first line; `tallies` are the runs of downloads, `counts` the lines of each lane."""
    runs = [t for t in tallies if t.count >= RUN_OF_DOWNLOADS]
    segments: list[Segment] = []
    for lane in sorted(timeline.lanes, key=lambda name: name or ""):
        parts = [p for step in timeline.steps if step.lane == lane for p in _carved(step, runs)]
        segments += [_segment(group, ending, root, counts) for group in _merged(parts)]
    segments.sort(key=lambda s: (s.start, s.lane or ""))
    return tuple(segments[:MAX_SEGMENTS])


def _carved(step: Step, runs: Iterable[Tally]) -> Iterator[_Part]:
    """A long run of downloads inside a step that is about something else is a segment of its own."""
    start = step.start
    if step.phase not in KEEPS_ITS_DOWNLOADS:
        for run in runs:
            if step.start <= run.first and run.last <= step.end:
                if run.first > start:
                    yield _Part(phase=step.phase, step=step, start=start, end=run.first - 1)
                yield _Part(phase="resolve", step=step, start=run.first, end=run.last)
                start = run.last + 1
    if start <= step.end:
        yield _Part(phase=step.phase, step=step, start=start, end=step.end)


def _merged(parts: Iterable[_Part]) -> Iterator[list[_Part]]:
    group: list[_Part] = []
    for part in parts:
        if group and (part.phase, part.step.module) != (group[-1].phase, group[-1].step.module):
            yield group
            group = []
        group.append(part)
    if group:
        yield group


def _segment(group: list[_Part], ending: Ending, root: Sighting | None, counts: LaneLines) -> Segment:
    first, last = group[0], group[-1]
    return Segment(
        phase=first.phase,
        lane=first.step.lane,
        module=first.step.module,
        start=first.start,
        end=last.end,
        lines=sum(counts.between(first.step.lane, p.start, p.end) for p in group),
        state=_state(group, ending, root),
        seconds=_seconds(first.step.opened_by, last.step.ended_by),
        tool=first.step.tool,
        goal=last.step.goal,
    )


def _state(group: list[_Part], ending: Ending, root: Sighting | None) -> State:
    last = group[-1].step
    holds_root = root is not None and any(p.step.lane == root.lane and p.start <= root.line <= p.end for p in group)
    if holds_root and ending.outcome == "aborted":
        return "unfinished"
    if holds_root or any(p.step.closed == "failed" for p in group):
        return "failed"
    cleaned_up = last.phase == "post" and ending.by == "ci"
    if (
        last.closed == "passed"
        or last.followed
        or cleaned_up
        or ending.outcome == "succeeded"
        or group[-1].end < last.end
    ):
        return "passed"
    return "unfinished"


def _seconds(begin: Hit | None, end: Hit | None) -> float | None:
    if begin is None or end is None or begin.seconds is None or end.seconds is None or begin.clock != end.clock:
        return None
    passed = end.seconds - begin.seconds
    if passed < 0 and begin.clock == "clock":
        passed += DAY
    return round(passed, 3) if passed >= 0 else None
