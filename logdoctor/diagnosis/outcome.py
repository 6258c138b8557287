"""How the build ended: failed, succeeded, aborted or unknown.

The CI server's closing line decides; in a log without any line of a CI server the tools' last statements do; a failure
that later steps left behind does not count.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from logdoctor.diagnosis.sightings import Sighting
    from logdoctor.diagnosis.statements import Statement
    from logdoctor.diagnosis.timeline import MarkHit, Step, Timeline
    from logdoctor.model import Outcome

    LastWords = Callable[[int], "tuple[Outcome, int] | None"]

__all__ = ["Ending", "find_ending", "tried_again"]

NEAR_THE_END = 40
LAST_WORDS = 4
TRIES_AGAIN = "system/tries-again"
SAID_AT_ONCE = 2
ROWS_OF_A_TABLE = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """The outcome, the line that told it, and the line after which the last build of the log begins."""

    outcome: Outcome
    after: int = 0
    line: int | None = None
    by: str = "nothing"


def find_ending(
    timeline: Timeline,
    statements: Sequence[Statement],
    sightings: Sequence[Sighting],
    last_words: LastWords = lambda _: None,
) -> Ending:
    """Decide the outcome of the whole log; of several builds one after the other the last one counts.

    `last_words` tells what the last lines say in anybody's words, of those that start behind a byte, and where.
    """
    after = _earlier_build(timeline)
    statements = [s for s in statements if s.start > after]
    sightings = [s for s in sightings if s.line > after]
    return replace(_told(timeline, statements, sightings, last_words), after=after)


def _told(
    timeline: Timeline,
    statements: Sequence[Statement],
    sightings: Sequence[Sighting],
    last_words: LastWords,
) -> Ending:
    closing = _last(_words(timeline), "ci")
    if closing is not None and closing.mark.outcome == "succeeded":
        return Ending(outcome="succeeded", line=closing.line, by="ci")
    if (ended := _ended_from_outside(timeline, sightings)) is not None:
        return Ending(outcome="aborted", line=ended.line, by="ci")
    if closing is not None:
        return Ending(outcome=_outcome(closing), line=closing.line, by="ci")
    said = [m.hit.offset for m in _words(timeline) if m.mark.by in ("step", "cleanup", "over")]
    last = last_words(max(said, default=-1))
    if last is not None and not (last[0] == "succeeded" and _gave_up_behind(last[1], sightings)):
        return Ending(outcome=last[0], line=timeline.lines, by="step")
    if (told := _by_steps(timeline)) is not None:
        return told
    ending = _by_tools(timeline, statements, sightings)
    return Ending(outcome="unknown") if _has_server_lines(timeline) else ending


def _gave_up_behind(offset: int, sightings: Sequence[Sighting]) -> bool:
    """Whether a tool's error stands behind a byte."""
    return any(s.weight == "hard" and not s.apart and s.hit.offset > offset for s in sightings)


def _earlier_build(timeline: Timeline) -> int:
    """The last line on which a CI server closed a build that other work then followed; 0 where there is one build."""
    closed = [m for m in timeline.of("conclude") if m.mark.by in ("ci", "cleanup")]
    return max((m.line for m in closed if _left_behind(timeline, m.line, m.hit.lane)), default=0)


def _words(timeline: Timeline) -> list[MarkHit]:
    """The concluding marks of the last build in the log."""
    after = _earlier_build(timeline)
    return [m for m in timeline.of("conclude") if m.line > after]


def _by_steps(timeline: Timeline) -> Ending | None:
    """What the CI server says of the last step; unknown where it wrote into the log and says nothing."""
    words = [m for m in _words(timeline) if not _reports_well(timeline, m)]
    step_end = _last(words, "step")
    if step_end is not None and not _left_behind(timeline, step_end.line, step_end.hit.lane):
        return Ending(outcome=_outcome(step_end), line=step_end.line, by="step")
    cleaned_up = _last(_words(timeline), "cleanup")
    if cleaned_up is not None:
        return Ending(outcome="succeeded", line=cleaned_up.line, by="ci")
    over = _last(_words(timeline), "over")
    if over is not None and step_end is None and timeline.lines - over.line < LAST_WORDS:
        return Ending(outcome="succeeded", line=over.line, by="step")
    return None


def _reports_well(timeline: Timeline, found: MarkHit) -> bool:
    """Whether a step that only reports or cleans up, as it does after a failure too, was called done."""
    return (
        found.mark.outcome == "succeeded" and timeline.step_at(found.line, timeline.lane_of(found.hit)).phase == "post"
    )


def _ended_from_outside(timeline: Timeline, sightings: Sequence[Sighting]) -> Sighting | None:
    """The first line that tells of a time limit, a cancellation or a lost agent, unless the build went on."""
    for sighting in sightings:
        ends = sighting.failure.outcome == "aborted" and sighting.weight == "hard" and not sighting.apart
        if ends and not _left_behind(timeline, sighting.line, sighting.lane):
            return sighting
    return None


def _by_tools(timeline: Timeline, statements: Sequence[Statement], sightings: Sequence[Sighting]) -> Ending:
    words = [m for m in _words(timeline) if m.mark.by == "tool" and not _does_not_count(timeline, m)]
    good = max((m.line for m in words if m.mark.outcome == "succeeded" and not _beside_a_bad_row(m, words)), default=0)
    bad = max(
        [m.line for m in words if m.mark.outcome == "failed"]
        + [s.start for s in statements if not s.step.inner]
        + [s.line for s in sightings if _gives_up(s, timeline)],
        default=0,
    )
    if bad > good and not _left_behind(timeline, bad, None):
        return Ending(outcome="failed", line=bad, by="tool")
    if good and good >= bad:
        return Ending(outcome="succeeded", line=good, by="tool")
    return Ending(outcome="unknown")


def _beside_a_bad_row(found: MarkHit, words: Sequence[MarkHit]) -> bool:
    """Whether it is a row of one table in which a row above tells of a failure."""
    above = [m for m in words if m.mark.outcome == "failed" and 0 < found.line - m.line <= ROWS_OF_A_TABLE]
    return bool(found.mark.options.get("together")) and any(
        m.mark.options.get("together") and m.mark.tool == found.mark.tool for m in above
    )


def _has_server_lines(timeline: Timeline) -> bool:
    """Whether a CI server wrote into this log: then its own closing line is what is missing, and the tools' don't replace it."""
    after = _earlier_build(timeline)
    return any(m.mark.tool == "ci" for m in timeline.of("open") if m.line > after)


def _gives_up(sighting: Sighting, timeline: Timeline) -> bool:
    """A hard sighting at the very end of the log, with nothing after it, is the tool's last statement."""
    return (
        sighting.weight == "hard"
        and not sighting.apart
        and not sighting.step.inner
        and sighting.step.closed != "passed"
        and not tried_again(sighting, timeline)
        and (
            sighting.signature.ends
            or (
                not sighting.step.allowed
                and "test" not in (sighting.failure.phase, sighting.step.phase)
                and (sighting.failure.phase == "post" or not _after_the_work(sighting.step))
                and timeline.lines - sighting.line <= NEAR_THE_END
            )
        )
    )


def _after_the_work(step: Step) -> bool:
    """Whether the CI server itself began this step, to report or to clean up."""
    return step.phase == "post" and step.tool != "bash"


def tried_again(sighting: Sighting, timeline: Timeline) -> bool:
    """Whether the next lines announce another try: what gives up says so once more."""
    said = [m for m in timeline.of("repair") if m.mark.id == TRIES_AGAIN]
    return any(0 <= m.line - sighting.line <= SAID_AT_ONCE and timeline.lane_of(m.hit) == sighting.lane for m in said)


def _left_behind(timeline: Timeline, line: int, lane: str | None) -> bool:
    """Whether the build went on with another step after this line, cleaning up and reporting apart."""
    step = timeline.step_at(line, lane if lane in timeline.lanes else None)
    return any(_is_work(later) for later in timeline.after(step) if later.start > line)


def _is_work(step: Step) -> bool:
    return step.phase != "post" and not step.inner


def _last(marks: Sequence[MarkHit], by: str) -> MarkHit | None:
    return next((m for m in reversed(marks) if m.mark.by == by), None)


def _does_not_count(timeline: Timeline, found: MarkHit) -> bool:
    """Whether it stands in a nested build, tells of a command that may fail, or of cleaning up."""
    step = timeline.step_at(found.line, timeline.lane_of(found.hit))
    return step.inner or _after_the_work(step) or (step.allowed and found.mark.outcome == "failed")


def _outcome(found: MarkHit) -> Outcome:
    outcome = found.mark.outcome
    return outcome if outcome in ("failed", "succeeded", "aborted") else "unknown"  # type: ignore[return-value]
