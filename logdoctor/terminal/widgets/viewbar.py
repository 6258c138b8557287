"""The bar that names the views of a screen, one key each; a click chooses one, too."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.message import Message
from textual.widget import Widget

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual import events

__all__ = ["ViewBar"]


class ViewBar(Widget):
    """One row; the view that is open stands in brackets."""

    class Chosen(Message):
        """A view was chosen by its name."""

        def __init__(self, view: str) -> None:
            super().__init__()
            self.view = view

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - as all widgets name it
        super().__init__(id=id)
        self._views: tuple[tuple[str, str], ...] = ()
        self._open: tuple[str, ...] = ()
        self._places: list[tuple[int, int]] = []

    def fill(self, views: Sequence[tuple[str, str]], opened: Sequence[str]) -> None:
        """The views by name and label, and those on screen now."""
        self._views, self._open = tuple(views), tuple(opened)
        self.refresh()

    def render(self) -> Content:
        """The row."""
        parts, self._places, at = [], [], 0
        for number, (view, label) in enumerate(self._views, start=1):
            shown = view in self._open
            text = f"[{number} {label}]" if shown else f" {number} {label} "
            parts.append(Content.styled(text, "bold $accent" if shown else "$foreground"))
            self._places.append((at, at + len(text)))
            at += len(text) + 1
        return Content(" ").join(parts)

    def on_click(self, event: events.Click) -> None:
        """A click on a label chooses its view."""
        for (view, _), (start, end) in zip(self._views, self._places, strict=True):
            if start <= event.x < end:
                self.post_message(self.Chosen(view))
