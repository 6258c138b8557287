"""Private-key blocks: everything between the BEGIN line and the END line, also when the END line never comes.

The armour is that of RFC 7468 (PEM) and RFC 9580, section 6 (OpenPGP).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.masking.model import Secret
from logdoctor.masking.patterns import Pattern
from logdoctor.masking.values import is_random, is_scrambled

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "KIND",
    "LONGEST_BLOCK",
    "STRAY",
    "closes",
    "find_blocks",
    "find_stray_bodies",
    "last_of_body",
    "opens",
    "rest_of_block",
]

KIND = "private key block"
STRAY = "whole line of encoded data, as in a key block"
MOST_FOREIGN = 20
"""Foreign lines in a row after which a block counts as closed."""
LONGEST_BLOCK = 4000
"""Lines after which a block that was never closed is given up."""

_BEGIN = Pattern(r"-----BEGIN (?:[A-Z0-9]{1,20} ){0,4}PRIVATE KEY(?: BLOCK)?-----")
_END = Pattern(r"-----END (?:[A-Z0-9]{1,20} ){0,4}PRIVATE KEY(?: BLOCK)?-----")
_WHOLE = Pattern(r"[\s\"'`,|>+\\]*+[A-Za-z0-9+/=]++(?:\\[nr])*+[\s\"'`,;+\\]*+")
_RUN = Pattern(r"(?<![A-Za-z0-9+/=])[A-Za-z0-9+/=]{8,}")
_LAST = Pattern(r"(?<!\S)([A-Za-z0-9+/=]{8,})[\s\"',\\]*+$")
_PLAIN_WORD = Pattern(r"[A-Z]?[a-z]+|[A-Z]+|\d+|(?:[\w]+/)+[a-z]+")
_HEADER = Pattern(r"\s*(?:Proc-Type|DEK-Info|Version|Comment|Hash|Charset):")
_WIDTHS = frozenset([64, 70, 76])
"""Of the lines of key blocks."""
_ENCODED = Pattern(r"[A-Za-z0-9+/]+={0,2}")
_WORD = Pattern(r"[\w+/-]+={0,2}", re.ASCII)
_LEAST_ALONE, _LONGEST_ALONE = 8, 4096
_LONGEST_LEAD = 60
"""Characters that may stand before: a time stamp, a lane's name."""
_BEHIND = " \t\"'`,;\\"
_AROUND = " \t\r\"'`,;|>+\\"


def find_blocks(text: str) -> Iterator[Secret]:
    """Every private-key body in the text; one that has no END line runs as far as lines look like a body."""
    place = 0
    while begin := _BEGIN.search(text, place):
        end = _END.search(text, begin.end())
        if end is None:
            yield from _open_blocks(text, begin.end())
            return
        if text[begin.end() : end.start()].strip(" \t\r\n\\nr.*•…"):
            yield _trimmed(text, begin.end(), end.start())
        place = end.end()


def find_stray_bodies(text: str) -> Iterator[Secret]:
    """Lines that end with encoded data of the width of a key block (its BEGIN line may be cut off), or that hold nothing else."""
    if "\n" not in text:
        if span := _stray_in(text):
            yield Secret(*span, STRAY)
        return
    start = 0
    in_body = False
    for line in text.split("\n"):
        span = _stray_in(line) or (last_of_body(line) if in_body else None)
        in_body = span is not None and span[1] - span[0] in _WIDTHS
        if span:
            yield Secret(start + span[0], start + span[1], STRAY)
        start += len(line) + 1


def _stray_in(line: str) -> tuple[int, int] | None:
    """The word that ends a line, where it is the line of a key block, or random and all that the line holds."""
    bare = line.rstrip().removesuffix(" +").rstrip(_BEHIND)
    if len(bare) < _LEAST_ALONE:
        return None
    bare = bare.removesuffix("\\n")
    start = bare.rfind(" ") + 1
    if len(bare) - start > _LONGEST_ALONE:
        return None
    start = max(start, bare.rfind("\t") + 1, bare.rfind('"') + 1, bare.rfind("'") + 1, bare.rfind("`") + 1)
    size = len(bare) - start
    if start > _LONGEST_LEAD or size < _LEAST_ALONE or (size not in _WIDTHS and line[:start].strip(_AROUND)):
        return None
    word = bare[start:]
    if not _is_mixed(word):
        return None
    if size in _WIDTHS or (size % 4 == 0 and word.endswith("=")):
        known = _ENCODED.fullmatch(word) is not None
    else:
        known = _WORD.fullmatch(word) is not None and is_random(word, 10) and is_scrambled(word)
    return (start, start + size) if known else None


def _is_mixed(word: str) -> bool:
    return word.upper() != word != word.lower() and any(map(str.isdigit, word))


def last_of_body(line: str) -> tuple[int, int] | None:
    """Where a line holds a short piece of encoded data and little else, as the last line of a key block does."""
    if _WHOLE.fullmatch(line):
        run = _RUN.search(line)
        return run.span() if run and not _PLAIN_WORD.fullmatch(run[0]) else None
    last = _LAST.search(line)
    return last.span(1) if last and last.start(1) <= 60 and _is_encoded(last[1]) else None


def closes(text: str) -> bool:
    """Whether the text is the END line of a block."""
    return "PRIVATE KEY" in text and _END.search(text, 0, 120) is not None and _BEGIN.search(text) is None


def opens(text: str) -> bool:
    """Whether a block is still open at the end of the text."""
    ends = [match.end() for match in _BEGIN.finditer(text)] if "PRIVATE KEY" in text else []
    return bool(ends) and _END.search(text, ends[-1]) is None


def rest_of_block(line: str, gap: int) -> tuple[list[tuple[int, int]], int | None]:
    """For a line inside an open block: the spans to mask, and the new count of foreign lines (None: closed).

    Lines of another lane may stand between those of a block, so a few foreign lines don't close it.
    """
    end = _END.search(line)
    if end is not None:
        return _body_spans(line[: end.start()], gap), None
    if not line.strip() or _HEADER.match(line):
        return [], gap
    spans = _body_spans(line, gap)
    if spans:
        return spans, 0
    return spans, gap + 1 if gap < MOST_FOREIGN else None


def _body_spans(line: str, gap: int) -> list[tuple[int, int]]:
    """Where a line of a block's body holds encoded data; nothing when the line is no such line."""
    bare = line.strip()
    if _WHOLE.fullmatch(line) and (len(bare) >= (16 if gap else 8) or _is_encoded(bare)):
        start = len(line) - len(line.lstrip())
        return [(start, len(line.rstrip()))]
    # A time stamp or a lane's name may stand before the data; ordinary words don't reach this length.
    runs = [match.span() for match in _RUN.finditer(line)]
    if any(end - start >= 40 for start, end in runs):
        return runs
    last = _LAST.search(line)
    if last is None or _PLAIN_WORD.fullmatch(last[1]) or (gap and not _is_encoded(last[1])):
        return []
    return [last.span(1)]


def _is_encoded(word: str) -> bool:
    """Whether a short run looks encoded by itself: padding at its end, or all three classes of signs."""
    return word.endswith("=") or (len(word) >= 8 and _is_mixed(word))


def _open_blocks(text: str, place: int) -> Iterator[Secret]:
    start = place
    gap: int | None = 0
    for count, line in enumerate(text[place:].splitlines(keepends=True)):
        spans, gap = rest_of_block(line, gap or 0) if count else (_first_line(line), 0)
        for left, right in spans:
            yield Secret(start + left, start + right, KIND)
        start += len(line)
        if gap is None or count > LONGEST_BLOCK:
            break
    begin = _BEGIN.search(text, start)
    if begin is not None:
        yield from _open_again(text, begin.end())


def _open_again(text: str, place: int) -> Iterator[Secret]:
    """A later BEGIN line, still without an END line anywhere: the rest of the text is treated as one body."""
    for match in re.finditer(r"[A-Za-z0-9+/=]{16,}", text[place:]):
        yield Secret(place + match.start(), place + match.end(), KIND)


def _first_line(line: str) -> list[tuple[int, int]]:
    r"""What stands right behind BEGIN on the same line: a key whose line ends were written as `\\n`."""
    runs = [match.span() for match in re.finditer(r"[A-Za-z0-9+/=]{8,}", line)]
    return [(runs[0][0], runs[-1][1])] if runs else []


def _trimmed(text: str, start: int, end: int) -> Secret:
    while start < end and text[start] in " \t\r\n":
        start += 1
    while end > start and text[end - 1] in " \t\r\n":
        end -= 1
    return Secret(start, end, KIND)
