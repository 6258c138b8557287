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
    # Compilers and test runners go on to the other files and tests.
    goes_on = root.signature.items or root.failure.phase == "compile" or root.failure.id == "test-failed"
    if goes_on or {root.failure.phase, root.step.phase} == {"test"} or root.failure.stand_in != "no":
        return False
    again = [
        s
        for s in sightings
        if s.failure.id == root.failure.id and s.lane == root.lane and root.line <= s.line < closing
    ]
    last = max([root, *again], key=lambda s: s.line)
    led_to = _last_of_it(choice, sightings, closing)
    passed_over = _passed_over(last, timeline, reader) and not 0 < led_to.line - last.line <= LEADS_TO_AT_ONCE
    last = last if passed_over else led_to
    cleaning = [s.start for s in timeline.steps if s.phase == "post" and s.start > last.line and s.lane == last.lane]
    closing = min([closing, *cleaning])
    told = {m.line for m in timeline.of("conclude", "elsewhere", "skip", "repair") if m.line > last.line}
    met = {s.line: _is_another(s, root) for s in sightings if s.line > last.line}
    lines = [(n, t) for n, t in _lines_after(last, reader, closing) if n not in told]
    work = 0
    for number, text in lines:
        if number in met or _tells_nothing_new(text, root.hit.text):
            if met.get(number) and work >= WORK_LINES:
                return True
            continue
        error = _like_an_error(text)
        if error and work >= (1 if passed_over else error):
            return True
        if error != WORK_LINES and (passed_over or not text.startswith((" ", "\t"))):
            work += 1
    return passed_over and work >= WORK_AFTER_PASSING_OVER


def _passed_over(sighting: Sighting, timeline: Timeline, reader: LineReader) -> bool:
    """Whether the line itself or what was said at once tells that the work goes on all the same."""
    after = [clean(reader.text(*place)).text for place in reader.after(sighting.hit.offset, SAID_AT_ONCE)]
    return tried_again(sighting, timeline) or any(GOES_ON.search(text) for text in (sighting.hit.text, *after))


def _like_an_error(text: str) -> int:
    """How many lines of ordinary work have to stand before this line for it to count as another error; 0 where it is none."""
    if STRONG.search(text) or LEVEL.search(text):
        return WORK_LINES
    # A line of wrapped prose ends a sentence, or stands in the middle of one.
    return MORE_WORK_LINES if text[-1:] not in ".,;:" and WEAK.search(text) else 0


def _is_another(sighting: Sighting, root: Sighting) -> bool:
    """Whether a known error is of another failure that the root does not lead to."""
    return (
        sighting.weight == "hard"
        and not sighting.apart
        and not sighting.signature.summary
        and sighting.failure.stand_in != "last"
        and sighting.failure.id not in root.failure.explains
    )


def _last_of_it(choice: Choice, sightings: Sequence[Sighting], closing: int) -> Sighting:
    """The last sighting of the root's failure, or of one that it leads to, before the closing line."""
    root = choice.root
    same = {root.failure.id, *root.failure.explains, *([choice.wrapper.failure.id] if choice.wrapper else [])}
    about = [s for s in sightings if root.line <= s.line < closing and s.lane == root.lane and s.failure.id in same]
    return max([root, choice.named_by, *about], key=lambda s: s.line)


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
