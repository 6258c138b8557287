"""Random access to the lines of a log by byte offset, for evidence and its neighbours.

LF ends a line, the CR of a CRLF is dropped, an unterminated last line counts. A line longer than the reach is
seen through a window of 64 KiB either way.
"""

from __future__ import annotations

from collections import OrderedDict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from logdoctor.intake.log import Log

__all__ = ["LineReader"]

_PAGE = 64 * 1024
_REACH = 64 * 1024
_PAGES_KEPT = 16
_LONGEST_TEXT = 8 * 1024


class LineReader:
    """Finds lines around byte offsets; reads pages of 64 KiB and keeps the last few."""

    def __init__(self, log: Log) -> None:
        self._log = log
        self._pages: OrderedDict[int, bytes] = OrderedDict()

    def line_at(self, offset: int) -> tuple[int, int]:
        """Start and end, without its line end, of the line that holds the byte at `offset`."""
        start, end, _ = self._span(self._clamped(offset))
        return start, end

    def before(self, offset: int, count: int) -> list[tuple[int, int]]:
        """Up to `count` lines before the line that holds `offset`, the nearest last."""
        found: list[tuple[int, int]] = []
        start = self._span(self._clamped(offset))[0]
        while len(found) < count and start > 0 and self._read(start - 1, 1) == b"\n":
            start, end, _ = self._span(start - 1)
            found.append((start, end))
        found.reverse()
        return found

    def after(self, offset: int, count: int) -> list[tuple[int, int]]:
        """Up to `count` lines after the line that holds `offset`, in order."""
        found: list[tuple[int, int]] = []
        following = self._span(self._clamped(offset))[2]
        while len(found) < count and following is not None and self._read(following, 1):
            start, end, following = self._span(following)
            found.append((start, end))
        return found

    def text(self, start: int, end: int) -> str:
        """The decoded text between two offsets, at most 8 KiB of it."""
        length = min(max(end - start, 0), _LONGEST_TEXT)
        decoded = self._log.decode(self._read(start, length))
        # A cut inside a character leaves a replacement that the log does not hold.
        return decoded.rstrip("\N{REPLACEMENT CHARACTER}") if length < end - start else decoded

    def _clamped(self, offset: int) -> int:
        offset = max(offset, 0)
        size = self._log.size
        return offset if size is None else min(offset, max(size - 1, 0))

    def _span(self, offset: int) -> tuple[int, int, int | None]:
        """Start, end without line end, and the next line's start where it is within reach."""
        low = max(offset - _REACH, 0)
        start = low + self._read(low, offset - low).rfind(b"\n") + 1
        ahead = self._read(offset, _REACH)
        cut = ahead.find(b"\n")
        if cut < 0:
            return start, offset + len(ahead), None
        end = offset + cut
        if end > start and self._read(end - 1, 1) == b"\r":
            end -= 1
        return start, end, offset + cut + 1

    def _read(self, offset: int, length: int) -> bytes:
        parts = []
        while length > 0:
            number, skip = divmod(offset, _PAGE)
            part = self._page(number)[skip : skip + length]
            if not part:
                break
            parts.append(part)
            offset += len(part)
            length -= len(part)
        return parts[0] if len(parts) == 1 else b"".join(parts)

    def _page(self, number: int) -> bytes:
        page = self._pages.get(number)
        if page is not None:
            self._pages.move_to_end(number)
            return page
        page = self._log.read_at(number * _PAGE, _PAGE)
        if len(page) == _PAGE or self._log.size is not None:  # a page that still grows is not kept
            self._pages[number] = page
            if len(self._pages) > _PAGES_KEPT:
                self._pages.popitem(last=False)
        return page
