"""A pass over a log in pieces of whole lines, for searching and folding; a line of any length stays within bounds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.intake import Log

__all__ = ["OVERLAP", "Piece", "passes"]

OVERLAP = 4 * 1024
"""Bytes at the cut of an overlong line that both pieces hold, so that a text across the cut is seen."""
_READ = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Some lines, or a part of one overlong line."""

    line: int
    """The number of its first line."""
    offset: int
    data: bytes
    part: bool
    """Whether it holds only a part of its line."""

    @property
    def end(self) -> int:
        """The offset behind it."""
        return self.offset + len(self.data)


def passes(log: Log, size: int = _READ) -> Iterator[Piece]:
    """The log's lines in order, as far as they came in; a piece ends behind a line end, at the log's end, or inside an overlong line."""
    line, offset, start = 1, 0, 0
    held = b""
    inside = False
    while data := log.read_at(offset, size):
        offset += len(data)
        held += data
        cut = held.rfind(b"\n") + 1
        if inside or not cut:
            # The end of an overlong line stands alone, so that the lines behind it are whole.
            cut = held.find(b"\n") + 1
        if cut:
            yield Piece(line=line, offset=start, data=held[:cut], part=inside)
            line += 1 if inside else held.count(b"\n", 0, cut)
            held, start, inside = held[cut:], start + cut, False
            if held.rfind(b"\n") < 0:
                continue
            cut = held.rfind(b"\n") + 1
            yield Piece(line=line, offset=start, data=held[:cut], part=False)
            line += held.count(b"\n", 0, cut)
            held, start = held[cut:], start + cut
        elif len(held) >= size:
            yield Piece(line=line, offset=start, data=held, part=True)
            start += len(held) - OVERLAP
            held, inside = held[-OVERLAP:], True
    if held and not (inside and len(held) <= OVERLAP):
        yield Piece(line=line, offset=start, data=held, part=inside)
