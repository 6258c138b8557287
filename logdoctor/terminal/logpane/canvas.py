"""Draws the lines that stand in the window; it reads only what it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.scroll_view import ScrollView
from textual.strip import Strip

from logdoctor.terminal.logpane.drawing import Look, Row, draw, gutter_width
from logdoctor.terminal.logpane.marks import MarkBook, glyph_of
from logdoctor.terminal.logpane.rows import FoldMap
from logdoctor.terminal.logpane.window import Spot, Window

if TYPE_CHECKING:
    from logdoctor.terminal.logpane.finding import Query
    from logdoctor.terminal.logpane.folding import Fold
    from logdoctor.terminal.logpane.index import LineIndex
    from logdoctor.terminal.logpane.texts import LineText, LineTexts

__all__ = ["Canvas"]


class Canvas(ScrollView):
    """What is in sight of a log, as rows of cells."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "logview--number",
        "logview--role",
        "logview--evidence",
        "logview--chosen",
        "logview--cursor",
        "logview--hit",
        "logview--aside",
    }

    def __init__(self, index: LineIndex, texts: LineTexts, marks: MarkBook) -> None:
        super().__init__()
        self.index = index
        self.texts = texts
        self.marks = marks
        self.folds = FoldMap()
        self.sought: Query | None = None
        self.cursor = 1
        self.other_end: int | None = None
        """The other end of the selection."""
        self.left = 0
        self.wrap = False
        self.prefixes = False
        self.tail: list[LineText] | None = None
        """The end of the log, shown while its lines are not counted."""
        self._tail_cursor = 0
        self._sub = 0
        self._spots: dict[tuple[int, int, int, int, int], list[Spot]] = {}
        self._revision = 0
        self._digits = 3

    @property
    def chosen(self) -> tuple[int, int]:
        """First and last selected line; the cursor's line when nothing is selected."""
        other = self.cursor if self.other_end is None else self.other_end
        first, last = min(self.cursor, other), max(self.cursor, other)
        fold = self.folds.closed_at(last)
        return first, (fold.last if fold is not None else last)

    def text_of(self, line: int) -> str:
        """A line as it is shown, without notes of the pane."""
        return self._words(self.texts.line(line))

    @property
    def _cells(self) -> int:
        """The width beside the scroll bar."""
        return self.scrollable_content_region.width

    def render_line(self, y: int) -> Strip:
        """One row."""
        width = self._cells
        row = self._tail_row(y) if self.tail is not None else self._row(y)
        if row is None:
            return Strip.blank(width, self.rich_style)
        left = 0 if row.aside else self.left
        return draw(row, self._look(), digits=self._digits, left=left, width=width)

    def _look(self) -> Look:
        def style(name: str) -> object:
            return self.get_component_rich_style(f"logview--{name}", partial=True)

        names = ("number", "role", "evidence", "chosen", "cursor", "hit", "aside")
        return Look(plain=self.rich_style, **{name: style(name) for name in names})  # type: ignore[arg-type]

    def _row(self, y: int) -> Row | None:
        spots = self._layout()
        if y >= len(spots):
            return None
        spot = spots[y]
        first, last = self.chosen
        chosen = self.other_end is not None and first <= spot.line <= last
        cursor = spot.line == self.cursor
        fold = self.folds.closed_at(spot.line)
        if fold is not None:
            return Row(
                number=str(fold.first), text=self._fold_words(fold), glyph="▸", aside=True, cursor=cursor, chosen=chosen
            )
        return self._line_row(spot, cursor=cursor, chosen=chosen)

    def _line_row(self, spot: Spot, *, cursor: bool, chosen: bool) -> Row:
        line = self.texts.line(spot.line)
        words = self._words(line)
        mark = self.marks.at(spot.line)
        glyph = glyph_of(mark.role) if mark else "┆" if self.folds.fold_at(spot.line) else " "
        lit = self.sought.spans(words) if self.sought else []
        return Row(
            number=str(spot.line) if spot.first else "",
            text=self._full(line)[spot.start : spot.end],
            lit=[(a - spot.start, b - spot.start) for a, b in lit if b > spot.start and a < spot.end]
            if spot.start
            else lit,
            cursor=cursor,
            chosen=chosen,
            glyph=glyph if spot.first else " ",
            evidence=self.marks.is_evidence(spot.line),
        )

    def _tail_row(self, y: int) -> Row | None:
        tail = self.tail or []
        height = self.size.height
        top = max(0, min(self._tail_cursor - height // 2, len(tail) - height))
        if top + y >= len(tail):
            return None
        return Row(number="?", text=self._words(tail[top + y]), cursor=top + y == self._tail_cursor)

    def _words(self, line: LineText) -> str:
        return line.prefix + line.text if self.prefixes else line.text

    def _full(self, line: LineText) -> str:
        """A line's words with what the pane has to say of it."""
        words = self._words(line)
        return f"{words} … {line.cut_of} bytes in this line" if line.cut_of else words

    def _fold_words(self, fold: Fold) -> str:
        if fold.kind == "download":
            return fold.says
        text = self.texts.line(fold.first).text.strip()
        return f"{fold.says}: {text[:200]}" if text else fold.says

    def _layout(self) -> list[Spot]:
        """What stands in the rows of the window."""
        key = (self.scroll_offset.y, self._sub, self._cells, self.size.height, self._revision)
        if key not in self._spots:
            self._spots = {key: self._window().layout(self.scroll_offset.y, self._sub)}
        return self._spots[key]

    def _window(self) -> Window:
        return Window(
            folds=self.folds,
            words=lambda line: self._full(self.texts.line(line)),
            lines=lambda: self.index.lines,
            height=self.size.height,
            width=self._cells - gutter_width(self._digits),
            wrap=self.wrap,
        )

    def _changed(self) -> None:
        self._revision += 1
        self.refresh()
