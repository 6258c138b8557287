"""What to show when no entry explains a failed log: the few lines worth reading, and the nearest known failures.

Lines are ranked by words of failure, by rarity against ordinary lines of the same log, and by closeness to the closing lines;
repeats are folded.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.diagnosis.closing import closes
from logdoctor.diagnosis.vocabulary import CODE, FRAME, FURNITURE, GOES_ON, LEVEL, SHOUTED, SOFT, STRONG, SUMMARY, WEAK
from logdoctor.diagnosis.wording import normalized
from logdoctor.intake import LineReader, clean
from logdoctor.model import Nearest, WorthReading

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.catalogue import Catalogue

__all__ = ["nearest_failures", "worth_reading"]

TAIL_LINES = 3000
HEAD_LINES = 200
AROUND_CLOSING = 200
SHOWN = 5
SHAPE = 8
ENOUGH_WORDS = 3
FIRST_FROM = 1.5
FIRST_BONUS = 3
SHOUTED_BONUS = 2.0
RARELY_SHOUTED = 0.15
SAID_AGAIN_BONUS = 1.0
CLOSING_COST = 3.0
LOOKED_AT_AGAIN = 60
SHORTEST_REASON = 15
ONE_MESSAGE = 3
LINES_OF_A_MESSAGE = 25
MAX_NEAREST = 5
CLOSE = 55.0


@dataclass(slots=True)
class _Line:
    number: int
    text: str
    key: str
    score: float
    why: str


def worth_reading(
    reader: LineReader, lines: int, size: int, closing: tuple[int, int] | None, begin: int
) -> tuple[WorthReading, ...]:
    """At most five lines, in order of their number.

    `lines` and `size` are of the whole log; `closing` is line number and offset of the line that told the outcome; `begin` is the
    first line of the step that failed.
    """
    window = list(_window(reader, lines, size, closing))
    common = Counter(key for _, _, key in window)
    end = closing[0] if closing else lines + 1
    shapes = Counter(key[:SHAPE] for _, _, key in window)
    ranked = [_scored(number, text, (common[key], shapes[key[:SHAPE]]), (begin, end)) for number, text, key in window]
    _lift_first(ranked, begin, end)
    _lift_shouted(ranked)
    _look_again(ranked)
    best: dict[str, _Line] = {}
    for line in ranked:
        if line.score > 0 and (line.key not in best or best[line.key].score < line.score):
            best[line.key] = line
    speakers = Counter(_speaker(text) for _, text, _ in window)
    top = _one_of_each_message(sorted(best.values(), key=lambda x: -x.score), speakers)
    return tuple(WorthReading(line=x.number, text=x.text, why=x.why) for x in sorted(top, key=lambda x: x.number))


def _lift_first(ranked: list[_Line], begin: int, end: int) -> None:
    """What follows the first error of the step that failed mostly only tells of it."""
    inside = [line for line in ranked if begin < line.number < end and line.score >= FIRST_FROM]
    if inside:
        min(inside, key=lambda line: line.number).score += FIRST_BONUS


def _lift_shouted(ranked: list[_Line]) -> None:
    """A verdict in capitals stands out where few lines have one."""
    shouted = [line for line in ranked if SHOUTED.search(line.text)]
    if len(shouted) <= max(1.0, RARELY_SHOUTED * len(ranked)):
        for line in shouted:
            line.score += SHOUTED_BONUS
            line.why = "says that something failed"


def _look_again(ranked: list[_Line]) -> None:
    """Of the best lines: what later ones say again within other words is their reason, and what closes a job gives none."""
    best = sorted(ranked, key=lambda line: -line.score)[:LOOKED_AT_AGAIN]
    for line in best:
        if closes(line.text.strip()) is not None:
            line.score -= CLOSING_COST
        reason = line.text.split(maxsplit=1)[-1].strip(" .:")
        if len(reason) >= SHORTEST_REASON and any(x.number > line.number and reason in x.text for x in best):
            line.score += SAID_AGAIN_BONUS


def _one_of_each_message(ranked: Sequence[_Line], speakers: Counter[str]) -> list[_Line]:
    """The best lines; of one message that runs over several lines only one, the others where there is room.

    Lines of one message begin alike; where most lines of a log do, that tells nothing.
    """
    taken: list[_Line] = []
    spare: list[_Line] = []
    for line in ranked:
        speaker = _speaker(line.text)
        near = [x for x in taken if abs(x.number - line.number) <= ONE_MESSAGE and _speaker(x.text) == speaker]
        (spare if near and speakers[speaker] <= LINES_OF_A_MESSAGE else taken).append(line)
        if len(taken) == SHOWN:
            break
    return [*taken, *spare][:SHOWN]


def _speaker(text: str) -> str:
    return text.split(maxsplit=1)[0]


def _window(
    reader: LineReader, lines: int, size: int, closing: tuple[int, int] | None
) -> Iterator[tuple[int, str, str]]:
    seen: set[int] = set()
    spans: list[tuple[int, list[tuple[int, int]]]] = []
    if size:
        tail = [*reader.before(size - 1, TAIL_LINES), reader.line_at(size - 1)]
        spans.append((lines - len(tail) + 1, tail))
        head = [reader.line_at(0), *reader.after(0, HEAD_LINES)]
        spans.append((1, head))
    if closing is not None:
        around = [*reader.before(closing[1], AROUND_CLOSING), reader.line_at(closing[1])]
        spans.append((closing[0] - len(around) + 1, around))
    for first, places in spans:
        for number, (start, end) in enumerate(places, start=first):
            if number not in seen and number >= 1:
                seen.add(number)
                text = clean(reader.text(start, end)).text
                if text.strip():
                    yield number, text, normalized(text)


def _scored(number: int, text: str, seen: tuple[int, int], step: tuple[int, int]) -> _Line:
    """Score one line; `seen` is how often the same line, and one that begins alike, stands in the log."""
    repeats, alike = seen
    words = len({w.lower() for w in STRONG.findall(text)})
    score = (
        2.0 * min(words, 3)
        + (0.0 if words else min(1.5, 0.8 * len(WEAK.findall(text))))
        + (3.0 if LEVEL.search(text) else 0.0)
        + (1.5 if CODE.search(text) else 0.0)
    )
    why = "says that something failed" if score else "stands in the step that failed"
    if score and repeats > 1:
        score -= min(2.0, 0.5 * (repeats - 1))
    begin, end = step
    inside = begin < number < end
    if inside:
        score += 1.0 + _closeness(end - number) + (0.8 if alike == 1 and len(text.split()) >= ENOUGH_WORDS else 0.0)
    elif score:
        score -= 2.0 if number < begin else 1.0
    for pattern, cost in ((FRAME, 4.0), (SUMMARY, 4.5), (FURNITURE, 3.0), (SOFT, 2.5), (GOES_ON, 2.0)):
        if pattern.search(text):
            score -= cost
    return _Line(number, text, normalized(text), score, why)


def _closeness(distance: int) -> float:
    """The nearer to the end of the failed step, the likelier: from 2 at its last line down to 0, half after 15 lines."""
    return 2.0 / (1.0 + distance / 15.0)


def nearest_failures(catalogue: Catalogue, lines: Sequence[WorthReading]) -> tuple[Nearest, ...]:
    """The known failures whose examples come nearest to the lines worth reading."""
    from rapidfuzz import fuzz, process  # only when a failure is unknown

    examples: dict[str, str] = {}
    for failure in catalogue:
        if failure.stand_in == "last":
            continue
        for signature in failure.signatures:
            for example in signature.examples:
                examples.setdefault(normalized(clean(example.text.splitlines()[0]).text), failure.id)
    closeness: dict[str, float] = {}
    choices = list(examples)
    for line in lines:
        for text, score, _ in process.extract(
            normalized(line.text), choices, scorer=fuzz.token_sort_ratio, limit=5, score_cutoff=CLOSE
        ):
            failure_id = examples[text]
            closeness[failure_id] = max(closeness.get(failure_id, 0.0), score / 100)
    best = sorted(closeness.items(), key=lambda pair: -pair[1])[:MAX_NEAREST]
    return tuple(
        Nearest(failure=catalogue.failure(f).id, title=catalogue.failure(f).title, closeness=round(c, 3))
        for f, c in best
    )
