"""What came after the line that seems to have stopped the build: ordinary work, and then an error of another kind, speak against it.

A script passes over many an error (a probe, a fallback, a file that need not be there) without saying so. Where the failed step
went on with ordinary lines and then ended in an error that nothing known explains, the earlier one did not end it.
The numbers of lines are common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.diagnosis.closing import closes
from logdoctor.diagnosis.outcome import tried_again
from logdoctor.diagnosis.vocabulary import FRAME, FURNITURE, GOES_ON, LEVEL, SOFT, STRONG, SUMMARY, WEAK
from logdoctor.intake import LineReader, clean

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.diagnosis.root import Choice
    from logdoctor.diagnosis.sightings import Sighting
    from logdoctor.diagnosis.timeline import Timeline

__all__ = ["failed_later"]

LINES_LOOKED_AT = 400
WORK_LINES = 3
# Words such as `without` tell of a failure only after more of it.
MORE_WORK_LINES = 4
# So much ordinary work speaks for itself where the error was said to be passed over.
WORK_AFTER_PASSING_OVER = 2
SAID_AT_ONCE = 2
LEADS_TO_AT_ONCE = 15
SHORTEST_REPEAT = 12
_OTHER = (FRAME, SUMMARY, FURNITURE, SOFT)


def failed_later(
    choice: Choice, timeline: Timeline, sightings: Sequence[Sighting], reader: LineReader, closing: int
) -> bool:
    """Whether ordinary work and then an unexplained error stand between the chosen root and the closing line."""
    root = choice.root
    if _may_go_on(root):
        return False
    last, passed_over = _end_of_it(choice, timeline, sightings, reader, closing)
    cleaning = [s.start for s in timeline.steps if s.phase == "post" and s.start > last.line and s.lane == last.lane]
    told = {m.line for m in timeline.of("conclude", "elsewhere", "skip", "repair")}
    met = {s.line: _is_another(s, root) for s in sightings}
    work = 0
    for number, text in _lines_after(last, reader, min([closing, *cleaning])):
        if number in told:
            continue
        if number in met or _tells_nothing_new(text, root.hit.text):
            if met.get(number) and work >= WORK_LINES:
                return True
            continue
        strong, weak = _like_an_error(text)
        if (strong or weak) and work >= _work_before(strong=strong, passed_over=passed_over):
            return True
        if not strong and (passed_over or not text.startswith((" ", "\t"))):
            work += 1
    return passed_over and work >= WORK_AFTER_PASSING_OVER


def _may_go_on(root: Sighting) -> bool:
    """Whether the tool goes on after such an error all the same: compilers and test runners do, to the other files and tests."""
    if root.signature.items or root.failure.phase == "compile" or root.failure.id == "test-failed":
        return True
    return {root.failure.phase, root.step.phase} == {"test"} or root.failure.stand_in != "no"


def _end_of_it(
    choice: Choice, timeline: Timeline, sightings: Sequence[Sighting], reader: LineReader, closing: int
) -> tuple[Sighting, bool]:
    """The last sighting of the root's failure or of what it leads to, and whether the failure was said to be passed over."""
    root = choice.root
    last = _last_of([root], {root.failure.id}, sightings, closing)
    led_to = _last_of([root, choice.named_by], _itself_and_led_to(choice), sightings, closing)
    if 0 < led_to.line - last.line <= LEADS_TO_AT_ONCE or not _passed_over(last, timeline, reader):
        return led_to, False
    return last, True


def _passed_over(sighting: Sighting, timeline: Timeline, reader: LineReader) -> bool:
    """Whether the line itself or what was said at once tells that the work goes on all the same."""
    after = [clean(reader.text(*place)).text for place in reader.after(sighting.hit.offset, SAID_AT_ONCE)]
    return tried_again(sighting, timeline) or any(GOES_ON.search(text) for text in (sighting.hit.text, *after))


def _like_an_error(text: str) -> tuple[bool, bool]:
    """Whether a line clearly tells of an error, and whether it may."""
    strong = bool(STRONG.search(text) or LEVEL.search(text))
    # A line of wrapped prose ends a sentence, or stands in the middle of one.
    return strong, not strong and text[-1:] not in ".,;:" and WEAK.search(text) is not None


def _work_before(*, strong: bool, passed_over: bool) -> int:
    """How many lines of ordinary work have to stand before another error."""
    if passed_over:
        return 1
    return WORK_LINES if strong else MORE_WORK_LINES


def _is_another(sighting: Sighting, root: Sighting) -> bool:
    """Whether a known error is of another failure that the root does not lead to."""
    return (
        sighting.weight == "hard"
        and not sighting.apart
        and not sighting.signature.summary
        and sighting.failure.stand_in != "last"
        and sighting.failure.id not in root.failure.explains
    )


def _itself_and_led_to(choice: Choice) -> set[str]:
    """The ids of the root's failure, of its wrapper's, and of those that it leads to."""
    failures = [choice.root.failure, *([choice.wrapper.failure] if choice.wrapper else [])]
    return {*(str(failure.id) for failure in failures), *choice.root.failure.explains}


def _last_of(known: Sequence[Sighting], failures: set[str], sightings: Sequence[Sighting], closing: int) -> Sighting:
    """The last of some sightings and of those of these failures in the lane of the first, between it and the closing line."""
    root = known[0]
    about = [s for s in sightings if root.line <= s.line < closing and s.lane == root.lane and s.failure.id in failures]
    return max([*known, *about], key=lambda s: s.line)


def _lines_after(last: Sighting, reader: LineReader, closing: int) -> Iterator[tuple[int, str]]:
    """Number and text of the lines of the same lane up to the closing line."""
    count = max(0, min(LINES_LOOKED_AT, closing - last.line - 1))
    for number, place in enumerate(reader.after(last.hit.offset, count), start=last.line + 1):
        line = clean(reader.text(*place))
        if line.lane == last.hit.lane and line.text.strip():
            yield number, line.text


def _tells_nothing_new(text: str, root: str) -> bool:
    """Whether it is a frame, a summary or a closing line, says a part again, or the same tool goes on speaking."""
    if len(text) >= SHORTEST_REPEAT and text.strip() in root:
        return True
    return any(pattern.search(text) for pattern in _OTHER) or _same_speaker(text, root) or closes(text) is not None


def _same_speaker(text: str, root: str) -> bool:
    """Whether a line begins as the root's does, so that one tool prints both: `[ivy:resolve]`, `npm ERR!`, `#`."""
    mine = root.split(maxsplit=1)
    return bool(mine) and text.split(maxsplit=1)[:1] == mine[:1]
