"""Private-key blocks: everything between the BEGIN line and the END line, also when the END line never comes.

The armour is that of RFC 7468 (PEM) and RFC 9580, section 6 (OpenPGP).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.masking.model import Secret
from logdoctor.masking.patterns import Pattern

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = [
    "KIND",
    "LONGEST_BLOCK",
    "STRAY",
    "find_blocks",
    "find_stray_bodies",
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
_WHOLE = Pattern(r"[\s\"'`,|>+\\]*+(?:\\n)?[A-Za-z0-9+/=]++[\s\"'`,\\]*+(?:\\n)?[\s\"'`,\\]*+")
_RUN = Pattern(r"(?<![A-Za-z0-9+/=])[A-Za-z0-9+/=]{8,}")
_LAST = Pattern(r"(?<!\S)([A-Za-z0-9+/=]{8,})[\s\"',\\]*+$")
_PLAIN_WORD = Pattern(r"[A-Z]?[a-z]+|[A-Z]+|\d+|(?:[\w]+/)+[a-z]+")
_HEADER = Pattern(r"\s*(?:Proc-Type|DEK-Info|Version|Comment|Hash|Charset):")
_STRAY = Pattern(r"(?:^|\n)[ \t]*([A-Za-z0-9+/]{64}|[A-Za-z0-9+/]{70}|[A-Za-z0-9+/]{76})[ \t\r]*(?=\n|$)")


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
    """Lines that hold nothing but encoded data of the width of a key block (its BEGIN line may be cut off)."""
    for match in _STRAY.finditer(text):
        body = match[1]
        if body.upper() != body != body.lower() and any(char.isdigit() for char in body):
            yield Secret(match.start(1), match.end(1), STRAY)


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
    if _WHOLE.fullmatch(line) and (len(bare) >= (16 if gap else 8) or bare.endswith("=")):
        start = len(line) - len(line.lstrip())
        return [(start, len(line.rstrip()))]
    # A time stamp or a lane's name may stand before the data; ordinary words don't reach this length.
    runs = [match.span() for match in _RUN.finditer(line)]
    if any(end - start >= 40 for start, end in runs):
        return runs
    last = _LAST.search(line)
    if last is None or gap or _PLAIN_WORD.fullmatch(last[1]):
        return []
    return [last.span(1)]


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
