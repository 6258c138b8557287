"""The lines of a log that a draft looks at: its beginning, its end, those around the chosen one, and those with secrets.

One pass in blocks; memory does not grow with the log, and a very long line counts with its first 64 KiB.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.intake import clean

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from logdoctor.intake import Log

__all__ = ["KeptLines", "keep_lines", "numbered"]

HEAD = 200
TAIL = 3000
BEFORE = 400
AFTER = 100
LONGEST = 64 << 10
SEEN = 4096


@dataclass(frozen=True, slots=True)
class KeptLines:
    """Raw texts by line number, in order, and how many lines the log has."""

    raw: Mapping[int, str]
    total: int

    def text(self, number: int) -> str:
        """A line without its prefixes, as patterns see it."""
        return clean(self.raw[number]).text[:SEEN]

    def texts(self) -> Iterator[tuple[int, str]]:
        """All kept lines that hold something, cleaned."""
        for number in self.raw:
            text = self.text(number)
            if text.strip():
                yield number, text


def numbered(log: Log) -> Iterator[tuple[int, bytes]]:
    """The lines of a log with their numbers, each without its line end and cut at 64 KiB."""
    number, rest, ended = 1, b"", True
    for block in log.blocks():
        pieces = block.split(b"\n")
        for piece in pieces[:-1]:
            yield number, (rest + piece[: max(0, LONGEST - len(rest))]).removesuffix(b"\r")
            number, rest = number + 1, b""
        rest += pieces[-1][: max(0, LONGEST - len(rest))]
        ended = block.endswith(b"\n")
    if rest or not ended:
        yield number, rest.removesuffix(b"\r")


def keep_lines(log: Log, line: int, also: Collection[int] = ()) -> KeptLines:
    """Read the log once; `also` are further lines that are kept with their neighbours."""
    wanted = {number + step for number in also for step in (-1, 0, 1)}
    kept: dict[int, bytes] = {}
    tail: deque[tuple[int, bytes]] = deque(maxlen=TAIL)
    total = 0
    for total, raw in numbered(log):
        if total <= HEAD or -AFTER <= line - total <= BEFORE or total in wanted:
            kept[total] = raw
        else:
            tail.append((total, raw))
    kept.update(tail)
    return KeptLines({number: log.decode(kept[number]) for number in sorted(kept)}, total)
