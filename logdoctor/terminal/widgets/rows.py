"""A list of rows that wrap, with a visible cursor; the base of all lists."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.strip import Strip
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from logdoctor.terminal.widgets.prose import Para, laid_out

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["Row", "Rows"]

CURSOR = ">"
Row = tuple[str | None, "Sequence[Para]"]


class Rows(OptionList):
    """Rows with ids; filling it again keeps the cursor on the row it was on, where that is still there."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - as all widgets name it
        super().__init__(id=id)
        self._given: tuple[Row, ...] = ()
        self._laid_for = 0

    def fill(self, rows: Iterable[Row]) -> None:
        """Replace the rows; one without an id is a heading that can't be chosen."""
        was, top = self.cursor_id, self.scroll_offset.y
        self._given = tuple(rows)
        self._lay_out()
        keys = [key for key, _ in self._given]
        if was is not None and was in keys:
            self.highlighted = keys.index(was)
            self.scroll_to(y=top, animate=False)
        else:
            self.highlighted = next((n for n, key in enumerate(keys) if key is not None), None)

    @property
    def cursor_id(self) -> str | None:
        """The id of the row under the cursor."""
        if self.highlighted is None or self.highlighted >= self.option_count:
            return None
        return self.get_option_at_index(self.highlighted).id

    def render_line(self, y: int) -> Strip:
        """A line; before those of the row under the cursor stands a sign, as colours may be missing."""
        strip = super().render_line(y)
        first = next(iter(strip), None)
        style = first.style if first is not None else None
        if style is None or self.highlighted is None or style.meta.get("option") != self.highlighted:
            return strip
        return Strip.join([Strip([Segment(CURSOR, style)]), strip.crop(1, strip.cell_length)])

    def on_resize(self) -> None:
        """Lay the rows out for another width."""
        if self._given and self._width() != self._laid_for:
            at = self.highlighted
            self._lay_out()
            self.highlighted = at

    def _width(self) -> int:
        padding = self.get_component_styles("option-list--option").padding.width
        return self.scrollable_content_region.width - int(padding)

    def _lay_out(self) -> None:
        width = self._laid_for = self._width()
        self.clear_options()
        self.add_options([Option(laid_out(paras, width), id=key, disabled=key is None) for key, paras in self._given])
