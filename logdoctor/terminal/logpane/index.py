"""Where the lines of a log begin, without holding them: how many line ends stand before each 64 KiB.

One thread lets it grow; others may ask at any time and get answers for the part that was gone over.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.intake import Log

__all__ = ["LineIndex"]

STEP = 64 * 1024
_READ = 16 * STEP


class LineIndex:
    """Line numbers and byte offsets of one log, as far as it was read."""

    def __init__(self, log: Log) -> None:
        self._log = log
        self._before = array("Q")
        self._last = b"\n"
        self.ends = 0
        """Line ends in the part that was gone over."""
        self.done = 0
        """Bytes gone over."""
        self.complete = False

    @property
    def lines(self) -> int:
        """Lines that can be shown; the unterminated last one counts."""
        return self.ends + (self._last != b"\n")

    def grow(self) -> Iterator[int]:
        """Go over the log; after each read the bytes so far, whether more came or not (a pipe still being read)."""
        while True:
            size = self._log.size
            data = self._log.read_at(self.done, _READ - self.done % STEP)
            if data:
                self._take(data)
            elif size is not None:
                break
            yield self.done
        self.complete = True

    def start_of(self, line: int) -> int:
        """The offset of a line's first byte; of a line beyond the known ones the end of what is known."""
        wanted = line - 1
        if wanted <= 0:
            return 0
        if wanted > self.ends:
            return self.done
        number = bisect_left(self._before, wanted) - 1
        block = self._log.read_at(number * STEP, STEP)
        place = -1
        for _ in range(wanted - self._before[number]):
            place = block.find(b"\n", place + 1)
        return number * STEP + place + 1

    def spans(self, line: int, count: int) -> list[tuple[int, int]]:
        """Start and end, without its line end, of some lines in a row; fewer at the end of what is known."""
        found: list[tuple[int, int]] = []
        count = min(count, self.lines - line + 1)
        start = self.start_of(line) if count > 0 else 0
        data, base = b"", start
        while len(found) < count:
            cut = data.find(b"\n", start - base)
            if cut < 0 and (not data or start > base):
                data, base = self._log.read_at(start, STEP), start
                cut = data.find(b"\n")
            # A line longer than a read: the index knows where the next one begins.
            following = base + cut + 1 if cut >= 0 else self.start_of(line + len(found) + 1)
            end = following - 1 if cut >= 0 or line + len(found) <= self.ends else following
            found.append((start, end))
            start = following
            if start - base > len(data):
                data = b""
        return found

    def line_at(self, offset: int) -> int:
        """The number of the line that holds a byte."""
        number = min(offset // STEP, len(self._before) - 1)
        if number < 0:
            return 1
        return self._before[number] + self._log.read_at(number * STEP, offset - number * STEP).count(b"\n") + 1

    def _take(self, data: bytes) -> None:
        """Count line ends; a step's entry is made with its first byte."""
        place = 0
        while place < len(data):
            within = (self.done + place) % STEP
            if within == 0:
                self._before.append(self.ends)
            length = STEP - within
            self.ends += data.count(b"\n", place, place + length)
            place += length
        self._last = data[-1:]
        self.done += len(data)
