"""The lines of a log as they may be shown: cleaned, masked, printable, clipped; a few pages of them are kept."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.errors import InputError
from logdoctor.intake import LineReader, clean, pieces, printable, strip_escapes
from logdoctor.masking import Masker, mask

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from logdoctor.intake import Log
    from logdoctor.terminal.logpane.index import LineIndex

__all__ = ["LONGEST", "LineText", "LineTexts", "beside", "line_parts"]

LONGEST = 4096
"""Characters of a line that are shown; a longer one says how much there is."""
_PAGE = 32
_PAGES_KEPT = 32
_CONTEXT = 64
"""Lines before a page that are looked at for a key block or a name whose value stands on the next line."""
_CONTEXT_LENGTH = 400
_FLUSH = 24
"""More foreign lines than any open block of the page looked at before survives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineText:
    """One line for showing: what stands before its text (time stamp, lane), the text, and its bytes where cut."""

    prefix: str
    text: str
    cut_of: int = 0


class LineTexts:
    """Texts by line number. For one thread."""

    def __init__(self, log: Log, index: LineIndex, secrets: Iterable[int] = ()) -> None:
        self._log = log
        self._index = index
        self._reader = LineReader(log)
        self._masker = Masker()
        self._pages: OrderedDict[int, list[LineText]] = OrderedDict()
        self._to_learn = sorted(set(secrets))
        self._moved: dict[int, int] = {}

    @property
    def size(self) -> int | None:
        """Bytes of the log, once known."""
        return self._log.size

    def learn(self, lines: Iterable[int]) -> None:
        """Know the secrets of these lines, so that their values are masked everywhere."""
        self._to_learn = sorted({*self._to_learn, *lines})

    def line(self, number: int) -> LineText:
        """One line; an empty one when it is not there, the reason when it can't be read."""
        try:
            page = self._page((number - 1) // _PAGE)
        except InputError as error:
            return LineText(prefix="", text=f"({beside(str(error))})")
        except ValueError:  # the log was closed while its last picture stands
            return LineText(prefix="", text="")
        place = (number - 1) % _PAGE
        return page[place] if place < len(page) else LineText(prefix="", text="")

    def look_at(self, number: int, offset: int) -> None:
        """Show an overlong line from about a byte offset on, 0 for its beginning."""
        if self._moved.get(number, 0) != offset:
            self._moved[number] = offset
            self._pages.pop((number - 1) // _PAGE, None)

    def seen_from(self, number: int) -> int:
        """Where the shown part of a line begins."""
        return self._moved.get(number, 0)

    def last(self, count: int) -> list[LineText]:
        """The end of a log whose lines are not counted yet, read backwards."""
        size = self._log.size or 0
        if not size:
            return []
        try:
            spans = [*self._reader.before(size - 1, count - 1), self._reader.line_at(size - 1)]
            return self._masked([self._raw(start, end) for start, end in spans])
        except (InputError, ValueError):
            return []

    def _page(self, page: int) -> list[LineText]:
        self._learn_known()
        kept = self._pages.get(page)
        if kept is not None:
            self._pages.move_to_end(page)
            return kept
        first = page * _PAGE + 1
        before = max(first - _CONTEXT, 1)
        spans = self._index.spans(before, first - before + _PAGE)
        context, own = spans[: first - before], spans[first - before :]
        for _ in range(_FLUSH):
            self._masker.learn("-")
        for start, end in context:
            self._masker.learn(clean(self._reader.text(start, min(end, start + _CONTEXT_LENGTH))).text)
        raw = [
            self._raw(start + self._moved.get(number, 0), end) for number, (start, end) in enumerate(own, start=first)
        ]
        texts = self._masked(raw)
        if self._index.complete or first + _PAGE - 1 <= self._index.ends:
            self._pages[page] = texts
            if len(self._pages) > _PAGES_KEPT:
                self._pages.popitem(last=False)
        return texts

    def _raw(self, start: int, end: int) -> tuple[str, int]:
        """A line's own text, and its bytes in all where that is not the whole of it."""
        text = self._reader.text(start, end)
        longer = end - start > LONGEST
        if longer and "\r" in text.rstrip("\r"):  # of a progress bar the last state is what a screen shows
            text = self._reader.text(max(end - LONGEST, start), end).partition("\r")[2] or text
        return text[:LONGEST], (end - start if longer else 0)

    def _masked(self, raw: Sequence[tuple[str, int]]) -> list[LineText]:
        texts = []
        for own, cut_of in raw:
            prefix, body = line_parts(own)
            text = printable(self._masker.mask(body))
            texts.append(LineText(prefix=beside(prefix), text=text, cut_of=cut_of))
        return texts

    def _learn_known(self) -> None:
        known = self._index.lines
        while self._to_learn and self._to_learn[0] <= known:
            spans = self._index.spans(self._to_learn.pop(0), 1)
            for start, end in spans:
                self._masker.learn(clean(self._reader.text(start, end)).text)
            self._pages.clear()


def line_parts(raw: str) -> tuple[str, str]:
    """What stands before a line's own text, and that text."""
    body = clean(raw).text
    plain = strip_escapes(raw).rstrip()
    if "\r" in plain:
        plain = (pieces(plain) or [""])[-1]
    return (plain[: len(plain) - len(body)], body) if body and plain.endswith(body) else ("", body)


def beside(text: str) -> str:
    """A text that stands beside the lines, as it may be shown."""
    return printable(mask(text)) if text else ""
