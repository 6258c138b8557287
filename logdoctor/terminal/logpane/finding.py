"""Looking for a text or a pattern in a log of any size, line by line as the lines read on a screen.

A text in small letters finds capitals too. A pattern has a time limit on each line.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import regex

from logdoctor.intake import strip_escapes
from logdoctor.terminal.logpane.passes import passes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from logdoctor.intake import Log
    from logdoctor.terminal.logpane.passes import Piece

__all__ = ["MOST_HITS", "BadPatternError", "Hits", "Query", "run_search"]

MOST_HITS = 1_000_000
SECONDS_A_LINE = 0.25
_GLANCE = 0.02
_WINDOW = 64 * 1024
_MAY_HOLD_CODES = re.compile(rb"[\x1b\x80-\xff]|\[[\d;]*[mK]")
_ESCAPES = re.compile(rb"\x1b\[[0-?]*[ -/]*[@-~]?|\x1b\][^\x07\x1b\n]*(?:\x07|\x1b\\)?|\x1b[ -/]*[0-~]?")


class BadPatternError(ValueError):
    """A pattern that can't be used; its text is one clear line."""


class Query:
    """What is looked for."""

    def __init__(self, pattern: str, *, is_regex: bool) -> None:
        if not pattern:
            raise BadPatternError("there is nothing to look for; type a text")
        self.pattern = pattern
        self.is_regex = is_regex
        flags = regex.V0 if pattern != pattern.lower() else regex.V0 | regex.IGNORECASE
        if is_regex:
            # In a pattern a capital may be a class such as \S, which says nothing about letters.
            letters = regex.sub(r"\\.", "", pattern)
            flags = regex.V0 if letters != letters.lower() else regex.V0 | regex.IGNORECASE
        try:
            self.compiled = regex.compile(pattern if is_regex else regex.escape(pattern), flags)
        except (regex.error, OverflowError, RecursionError, ValueError) as error:
            raise BadPatternError(f"the pattern can't be read: {str(error).splitlines()[0]}") from error
        self.ignores_case = bool(flags & regex.IGNORECASE)

    def search(self, line: str) -> bool:
        """Whether a line holds it; raises BadPatternError where that takes too long."""
        return self.place(line) is not None

    def place(self, line: str) -> int | None:
        """Where in the line it begins."""
        try:
            found = self.compiled.search(line, timeout=SECONDS_A_LINE)
        except TimeoutError as error:
            raise BadPatternError("the pattern takes too long on one line; make it simpler") from error
        return found.start() if found else None

    def spans(self, text: str) -> list[tuple[int, int]]:
        """Where a shown text holds it, for highlighting."""
        try:
            return [
                found.span() for found in self.compiled.finditer(text, timeout=_GLANCE) if found.end() > found.start()
            ]
        except TimeoutError:
            return []


@dataclass(slots=True)
class Hits:
    """The lines found so far, in order; the searching thread adds to them."""

    lines: array[int] = field(default_factory=lambda: array("Q"))
    far: dict[int, int] = field(default_factory=dict)
    """Of hits deep inside overlong lines: how many bytes into the line."""
    full: bool = False

    def add(self, line: int, deep: int) -> None:
        """Note a line once."""
        if self.lines and self.lines[-1] == line:
            return
        self.lines.append(line)
        if deep:
            self.far[line] = deep
        self.full = len(self.lines) >= MOST_HITS

    def beside(self, line: int, step: int) -> int | None:
        """The next (or with -1 the previous) hit, around the end when there is none."""
        if not self.lines:
            return None
        place = bisect_right(self.lines, line) if step > 0 else bisect_left(self.lines, line) - 1
        return self.lines[place % len(self.lines)]

    def from_line(self, line: int) -> int | None:
        """The first hit on or after a line."""
        place = bisect_left(self.lines, line)
        return self.lines[place] if place < len(self.lines) else None

    def rank(self, line: int) -> int | None:
        """Which hit a line is, counted from 1."""
        place = bisect_left(self.lines, line)
        return place + 1 if place < len(self.lines) and self.lines[place] == line else None


def run_search(log: Log, query: Query, hits: Hits, tell: Callable[[int], bool]) -> None:
    """Fill `hits`; `tell` gets the bytes gone over and answers whether to go on. Raises BadPatternError."""
    begins: tuple[int, int] = (0, 0)
    for piece in passes(log):
        if begins[0] != piece.line:
            begins = (piece.line, piece.offset)
        for line, deep in _found(log, query, piece, begins[1]):
            hits.add(line, deep)
            if hits.full:
                return
        if not tell(piece.end):
            return


def _found(log: Log, query: Query, piece: Piece, begin: int) -> Iterator[tuple[int, int]]:
    by_line = query.is_regex or not query.pattern.isascii()
    if piece.part:
        if by_line or any(True for _ in _plain(query, piece)):
            yield from _in_part(log, query, piece, begin)
    elif by_line:
        yield from _by_line(log, query, piece)
    else:
        yield from _plain(query, piece)


def _by_line(log: Log, query: Query, piece: Piece) -> Iterator[tuple[int, int]]:
    lines = piece.data.split(b"\n")
    if not lines[-1]:
        lines.pop()
    bare = not _MAY_HOLD_CODES.search(piece.data)
    for number, raw in enumerate(lines, start=piece.line):
        if len(raw) > LONG:
            yield from _in_part(log, query, replace(piece, line=number, offset=0, data=raw), 0)
        elif query.search(log.decode(raw).rstrip("\r") if bare else _as_read(log, raw)):
            yield number, 0


def _plain(query: Query, piece: Piece) -> Iterator[tuple[int, int]]:
    """A text of ASCII letters is found in all lines at once."""
    data = _ESCAPES.sub(b"", piece.data) if b"\x1b" in piece.data else piece.data
    wanted = query.pattern.encode()
    if query.ignores_case:
        data, wanted = data.lower(), wanted.lower()
    line, counted = piece.line, 0
    place = data.find(wanted)
    while place >= 0:
        line += data.count(b"\n", counted, place)
        start = data.rfind(b"\n", 0, place) + 1
        yield line, place - start if place - start > LONG else 0
        counted = place
        following = data.find(b"\n", place)
        if following < 0:
            return
        place = data.find(wanted, following)


LONG = 3000
"""A hit further into a line than this would lie beyond what is shown of it."""


def _in_part(log: Log, query: Query, piece: Piece, begin: int) -> Iterator[tuple[int, int]]:
    """Windows of an overlong line, each with some of the one before it."""
    shift = piece.offset - begin
    for low in range(0, len(piece.data), _WINDOW):
        raw = piece.data[max(low - 4096, 0) : low + _WINDOW]
        place = query.place(_as_read(log, raw))
        if place is not None:
            deep = shift + max(low - 4096, 0) + place
            yield piece.line, deep if deep > LONG else 0
            return


def _as_read(log: Log, raw: bytes) -> str:
    return strip_escapes(log.decode(raw)).rstrip("\r\n")
