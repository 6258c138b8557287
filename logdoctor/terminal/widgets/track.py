"""The phase track: how far the build got; choosing a phase jumps to its lines, again to its next stretch."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widget import Widget

from logdoctor.terminal.phases import Stop, detail, time_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual import events
    from textual.geometry import Size

    from logdoctor.model import Segment, State

__all__ = ["PhaseTrack"]

STYLES: dict[State, str] = {"passed": "$success", "failed": "bold $error", "unfinished": "$warning"}


class PhaseTrack(Widget, can_focus=True):
    """Phases in order with glyph, state, time and lines where the width allows, else with glyphs and one phase told in full."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "step(-1)", "Phase before", show=False),
        Binding("right", "step(1)", "Phase after", show=False),
        Binding("enter,space", "choose", "Jump to the phase", show=False),
    ]

    class Chosen(Message):
        """A stretch of the log was chosen."""

        def __init__(self, segment: Segment) -> None:
            super().__init__()
            self.segment = segment

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - as all widgets name it
        super().__init__(id=id)
        self._stops: tuple[Stop, ...] = ()
        self._show: Callable[[str], str] = str
        self._cursor = 0
        self._stretch = 0
        self._visited = False
        self._places: list[tuple[int, int]] = []

    def fill(self, stops: Sequence[Stop], show: Callable[[str], str]) -> None:
        """Show these phases, the cursor on the one that failed, else on one that did not finish, else on the last."""
        self._stops = tuple(stops)
        self._show = show
        failed = [n for n, stop in enumerate(stops) if stop.state == "failed"]
        failed = failed or [n for n, stop in enumerate(stops) if stop.state == "unfinished" and stop.phase != "post"]
        self._cursor = failed[-1] if failed else max(len(stops) - 1, 0)
        self._stretch, self._visited = 0, False
        self.refresh(layout=True)

    @property
    def cursor(self) -> Stop | None:
        """The phase under the cursor."""
        return self._stops[self._cursor] if self._stops else None

    def action_step(self, way: int) -> None:
        """Move the cursor."""
        if self._stops:
            self._move(min(max(self._cursor + way, 0), len(self._stops) - 1))

    def action_choose(self) -> None:
        """Tell the stretch; when it was told before, the next one."""
        stop = self.cursor
        if stop is None:
            return
        if self._visited:
            self._stretch = (self._stretch + 1) % len(stop.stretches)
        self._visited = True
        self.refresh()
        self.post_message(self.Chosen(stop.stretches[self._stretch]))

    def _move(self, number: int) -> None:
        if number != self._cursor:
            self._cursor, self._stretch, self._visited = number, 0, False
            self.refresh()

    def on_click(self, event: events.Click) -> None:
        """A click on a phase chooses it."""
        for number, (start, end) in enumerate(self._places):
            if start <= event.x < end:
                self._move(number)
                self.action_choose()
                return

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - as Textual calls it
        """Three rows where each phase is told in full, else two."""
        return 3 if self._roomy(width) else 2

    def _roomy(self, width: int) -> bool:
        return sum(max(map(len, _told(stop))) + 3 for stop in self._stops) <= width + 3

    def render(self) -> Content:
        """The rows."""
        if self.cursor is None:
            return Content("The log shows no phases.")
        return self._full() if self._roomy(self.size.width) else self._short()

    def _full(self) -> Content:
        cells = [_told(stop) for stop in self._stops]
        widths = [max(map(len, cell)) for cell in cells]
        self._mark_places(widths, gap=3)
        first = [self._label(n, cells[n][0].ljust(width)) for n, width in enumerate(widths)]
        second = [Content.styled(cells[n][1].ljust(width), "$foreground 80%") for n, width in enumerate(widths)]
        rows = [Content("   ").join(first), Content("   ").join(second), self._detail()]
        return Content("\n").join(rows)

    def _short(self) -> Content:
        names = [f"{s.glyph}{s.phase}" for s in self._stops]
        gap = 2 if sum(map(len, names)) + 2 * (len(names) - 1) <= self.size.width else 1
        self._mark_places(list(map(len, names)), gap=gap)
        row = Content(" " * gap).join([self._label(n, name) for n, name in enumerate(names)])
        return Content("\n").join([row, self._detail()])

    def _detail(self) -> Content:
        stop = self._stops[self._cursor]
        return Content(f"> {self._show(detail(stop, self._stretch))}")

    def _label(self, number: int, text: str) -> Content:
        style = STYLES[self._stops[number].state]
        if number == self._cursor:
            style += " reverse" if self.has_focus else " underline"
        return Content.styled(text, style)

    def _mark_places(self, widths: Sequence[int], gap: int) -> None:
        self._places, at = [], 0
        for width in widths:
            self._places.append((at, at + width))
            at += width + gap


def _told(stop: Stop) -> tuple[str, str]:
    """A phase in two short rows: state, then lines and the time of its stretch when there is only one."""
    seconds = stop.stretches[0].seconds if len(stop.stretches) == 1 else None
    time = f", {time_words(seconds)}" if seconds is not None else ""
    return f"{stop.glyph} {stop.phase} {stop.state}", f"{stop.lines}{time}"
