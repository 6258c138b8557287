"""The phase track as values: each phase once, in the order of a build, with its stretches of lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.model import PHASES, Phase, Segment, State

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["GLYPHS", "Stop", "detail", "stops_of", "time_words"]

GLYPHS: dict[State, str] = {"passed": "+", "failed": "x", "unfinished": "?"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A phase of the build with all its stretches, the failed ones first."""

    phase: Phase
    state: State
    stretches: tuple[Segment, ...]

    @property
    def glyph(self) -> str:
        """The state as one character."""
        return GLYPHS[self.state]

    @property
    def lines(self) -> str:
        """From the first to the last line of all stretches."""
        start = min(s.start for s in self.stretches)
        end = max(s.end for s in self.stretches)
        return f"{start}-{end}" if end > start else f"{start}"


def stops_of(segments: Sequence[Segment]) -> tuple[Stop, ...]:
    """The phases that the log shows, in order."""
    found = [(phase, [s for s in segments if s.phase == phase]) for phase in PHASES]
    return tuple(Stop(phase=phase, state=_worst(own), stretches=_ordered(own)) for phase, own in found if own)


def detail(stop: Stop, number: int) -> str:
    """One stretch of a phase in words."""
    stretch = stop.stretches[number]
    parts = [f"{GLYPHS[stretch.state]} {stop.phase} {stretch.state}"]
    if len(stop.stretches) > 1:
        parts.append(f"stretch {number + 1} of {len(stop.stretches)}")
    parts.append(f"lines {stretch.start}-{stretch.end}" if stretch.end > stretch.start else f"line {stretch.start}")
    if stretch.seconds is not None:
        parts.append(time_words(stretch.seconds))
    parts += [f"{kind} {name}" for kind, name in (("module", stretch.module), ("lane", stretch.lane)) if name]
    return ", ".join(parts)


def time_words(seconds: float) -> str:
    """A duration for reading: `0.4 s`, `12 s`, `3 min 5 s`, `2 h 7 min`."""
    if seconds < 9.95:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"


def _worst(segments: Sequence[Segment]) -> State:
    states = {s.state for s in segments}
    return "failed" if "failed" in states else "unfinished" if "unfinished" in states else "passed"


def _ordered(segments: Sequence[Segment]) -> tuple[Segment, ...]:
    """The stretch that failed comes first, as it is the one to look at."""
    return tuple(sorted(segments, key=lambda s: (s.state != "failed", s.start)))
