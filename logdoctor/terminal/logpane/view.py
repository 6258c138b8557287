"""The lines on the screen: moves the cursor and the window, selects, takes keys and mouse."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.cells import cell_len
from textual.binding import Binding
from textual.geometry import Size
from textual.message import Message

from logdoctor.terminal.logpane.canvas import Canvas
from logdoctor.terminal.logpane.drawing import gutter_width

if TYPE_CHECKING:
    from textual import events
    from textual.binding import BindingType

    from logdoctor.terminal.logpane.folding import Fold
    from logdoctor.terminal.logpane.index import LineIndex
    from logdoctor.terminal.logpane.marks import MarkBook
    from logdoctor.terminal.logpane.rows import FoldMap
    from logdoctor.terminal.logpane.texts import LineTexts

__all__ = ["LogView"]

SIDEWAYS = 8
WHEEL = 3
_TAIL = 500


class LogView(Canvas, can_focus=True):
    """A window on the lines of a log."""

    ALLOW_SELECT = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "Up", show=False),
        Binding("down", "move(1)", "Down", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown,space", "page(1)", "Page down", show=False),
        Binding("home", "edge(-1)", "First line", show=False),
        Binding("end", "edge(1)", "Last line", show=False),
        Binding("left", "sideways(-1)", "Left", show=False),
        Binding("right", "sideways(1)", "Right", show=False),
        Binding("shift+up", "move(-1, True)", "Select up", show=False),
        Binding("shift+down", "move(1, True)", "Select down", show=False),
        Binding("shift+pageup", "page(-1, True)", "Select a page up", show=False),
        Binding("shift+pagedown", "page(1, True)", "Select a page down", show=False),
        Binding("shift+home", "edge(-1, True)", "Select to the first line", show=False),
        Binding("shift+end", "edge(1, True)", "Select to the last line", show=False),
        Binding("enter", "choose", "Open fold, choose line", show=False),
    ]

    class Moved(Message):
        """The cursor, the selection or the window moved."""

    class Chosen(Message):
        """A line was chosen by Enter or click."""

        def __init__(self, line: int) -> None:
            super().__init__()
            self.line = line

    def __init__(self, index: LineIndex, texts: LineTexts, marks: MarkBook) -> None:
        super().__init__(index, texts, marks)
        self._dragging = False
        self._followed = True
        """Whether the window shows the cursor, as it does until somebody scrolls away."""

    # --- what is asked of it -----------------------------------------------------------------------

    def go(self, line: int, *, select: bool = False, centre: bool = False) -> None:
        """Put the cursor on a line and show it; with `centre` in the middle, when it was not in sight."""
        self.leave_tail()
        line = max(1, min(line, self.index.lines))
        fold = self.folds.closed_at(line)
        if fold is not None and line != fold.first:
            self.folds.flip(fold)
            self._changed()
        if select and self.other_end is None:
            self.other_end = self.cursor
        elif not select:
            self.other_end = None
        self.cursor, self._followed = line, True
        self._show(self.folds.place_of(line), centre=centre)
        self.refresh()
        self.post_message(self.Moved())

    def bring_hit(self) -> None:
        """Move sideways as far as shows the first hit of the cursor's line."""
        words = self.text_of(self.cursor)
        spans = self.sought.spans(words) if self.sought and not self.wrap else []
        if not spans:
            return
        start, end = (cell_len(words[:place]) for place in spans[0])
        room = self._cells - gutter_width(self._digits) - 2
        if end <= room:
            self.left = 0
        elif start < self.left or end > self.left + room:
            self.left = max(start - room // 2, 0)
        self.refresh()
        self.post_message(self.Moved())

    def grown(self) -> None:
        """The index grew, or folds, marks or width changed: sizes are to be taken again."""
        lines = self.index.lines
        if self.index.done and not self.index.complete and self.texts.size:
            lines = max(lines, lines * self.texts.size // self.index.done)
        self._digits = max(self._digits, len(str(lines)))
        extra = max(self.size.height - 1, 0) if self.wrap else 0
        self.virtual_size = Size(self._cells, self.folds.places(self.index.lines) + extra)
        if self.index.complete and self.tail is not None:
            line = self.index.lines - (len(self.tail) - 1 - self._tail_cursor)
            self.tail = None
            self._changed()
            self.go(line)
        self._changed()

    def set_folds(self, folds: FoldMap) -> None:
        """Fold anew; the line on top stays where it is."""
        top = self.folds.line_of(self.scroll_offset.y)
        self.folds = folds
        self._sub = 0
        self.grown()
        self._scroll(self.folds.place_of(top))
        self._show(self.folds.place_of(self.cursor)) if self._in_sight(self.cursor) else None
        self.refresh()

    def set_wrap(self, *, wrap: bool) -> None:
        """Break long lines into rows, or let them run out of sight."""
        self.wrap, self.left, self._sub = wrap, 0, 0
        self.grown()
        self._show(self.folds.place_of(self.cursor))
        self.refresh()

    def leave_tail(self) -> None:
        """Back to the numbered lines."""
        if self.tail is not None:
            self.tail = None
            self._changed()

    # --- moving ------------------------------------------------------------------------------------

    def _scroll(self, place: int, sub: int = 0) -> None:
        self.scroll_to(y=place, animate=False, force=True)
        self._sub = sub
        self._changed()

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        """The window moved by whole lines."""
        super().watch_scroll_y(old_value, new_value)
        if round(old_value) != round(new_value):
            self._sub = 0
            self._followed = self._in_sight(self.cursor)
            self.post_message(self.Moved())

    def _in_sight(self, line: int) -> bool:
        return any(spot.line == line for spot in self._layout())

    def _show(self, place: int, *, centre: bool = False) -> None:
        """Scroll as little as shows all of a place."""
        height, window = self.size.height, self._window()
        if not height:
            return
        own = len(window.spots_of(place))
        rows = sum(spot.place == place for spot in self._layout())
        if rows == min(own, height):
            return
        if centre and not rows:
            self._scroll(*window.back(place, height // 3))
        elif own >= height or place <= self.scroll_offset.y:
            self._scroll(place)
        else:
            self._scroll(*window.back(place, height - own))

    def _roll(self, rows: int) -> None:
        """Move the window by rows; the cursor stays."""
        self.leave_tail()
        self._scroll(*self._window().rolled(self.scroll_offset.y, self._sub, rows))

    def action_move(self, step: int, select: bool = False) -> None:  # noqa: FBT001, FBT002 - given by the binding
        """The next or previous line."""
        self._step(step, select=select)

    def action_page(self, step: int, select: bool = False) -> None:  # noqa: FBT001, FBT002 - given by the binding
        """A window further."""
        self._step(step * max(self.size.height - 1, 1), select=select)

    def action_edge(self, step: int, select: bool = False) -> None:  # noqa: FBT001, FBT002 - given by the binding
        """The first or the last line; the end of a log still being counted is read backwards."""
        if step < 0:
            self.go(1, select=select)
        elif self.index.complete:
            self.go(self.index.lines, select=select)
        else:
            self.tail = self.texts.last(_TAIL) or None
            self._tail_cursor = len(self.tail or ()) - 1
            self._changed()
            self.post_message(self.Moved())

    def _step(self, step: int, *, select: bool) -> None:
        if self.tail is not None:
            self._tail_cursor = max(0, min(self._tail_cursor + step, len(self.tail) - 1))
            self._changed()
            return
        if not self.index.lines:
            return
        if self.wrap and abs(step) == 1 and self._scrolls_inside(step):
            return
        places = self.folds.places(self.index.lines)
        place = max(0, min(self.folds.place_of(self.cursor) + step, places - 1))
        self.go(self.folds.line_of(place), select=select)

    def _scrolls_inside(self, step: int) -> bool:
        """A line taller than the window is read row by row before the cursor leaves it."""
        spots = self._layout()
        edge = spots[-1 if step > 0 else 0] if spots else None
        if edge is None or edge.line != self.cursor:
            return False
        own = self._window().spots_of(edge.place)
        if len(own) < self.size.height or edge == own[-1 if step > 0 else 0]:
            return False
        self._roll(step)
        return True

    def action_sideways(self, step: int) -> None:
        """Move the window to the right or left over long lines."""
        if self.wrap:
            return
        longest = max((len(self._full(self.texts.line(s.line))) for s in self._layout()), default=0)
        self.left = max(0, min(self.left + step * SIDEWAYS, max(longest - SIDEWAYS, 0)))
        self.refresh()
        self.post_message(self.Moved())

    def action_choose(self) -> None:
        """Open or close the fold at the cursor; else choose its line."""
        if self.tail is not None:
            return
        fold = self.folds.fold_at(self.cursor)
        if fold is None:
            self.post_message(self.Chosen(self.cursor))
        else:
            self._flip(fold)

    def _flip(self, fold: Fold) -> None:
        self.folds.flip(fold)
        self.other_end = None
        self.grown()
        self.go(fold.first)

    # --- the mouse ---------------------------------------------------------------------------------

    def _line_under(self, event: events.MouseEvent) -> int | None:
        spots = self._layout()
        return spots[event.y].line if self.tail is None and 0 <= event.y < len(spots) else None

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """The cursor goes where the button went down."""
        line = self._line_under(event)
        if line is None or event.button != 1:
            return
        event.stop()
        self.go(line, select=event.shift)
        self.capture_mouse()
        self._dragging = True

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """Lines are selected while the button is down; beyond the edge the window follows."""
        if not self._dragging:
            return
        if event.y < 0 or event.y >= self.size.height:
            self._step(-1 if event.y < 0 else 1, select=True)
            return
        line = self._line_under(event)
        if line is not None and line != self.cursor:
            self.go(line, select=True)

    def on_mouse_up(self, event: events.MouseUp) -> None:
        """A click without a move opens a fold or chooses the line."""
        if not self._dragging:
            return
        self._dragging = False
        self.release_mouse()
        if self.other_end is not None or self._line_under(event) != self.cursor:
            return
        fold = self.folds.closed_at(self.cursor)
        if fold is not None:
            self._flip(fold)
        else:
            self.post_message(self.Chosen(self.cursor))

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Three rows down, or to the right with shift."""
        self._wheel(event, 1)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Three rows up, or to the left with shift."""
        self._wheel(event, -1)

    def _wheel(self, event: events.MouseEvent, step: int) -> None:
        event.stop()
        event.prevent_default()
        if event.shift or event.ctrl:
            self.action_sideways(step)
        else:
            self._roll(step * WHEEL)

    def on_resize(self) -> None:
        """The window has another size: what stood on top and the cursor stay."""
        self.grown()
        if self._followed and self.index.lines:
            self._show(self.folds.place_of(self.cursor))
