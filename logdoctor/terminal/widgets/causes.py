"""The causes in order with their shares; each opens to its clues."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from logdoctor.terminal.widgets.prose import Para
from logdoctor.terminal.widgets.rows import Rows
from logdoctor.terminal.wording import basis, change, clue_words, share_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult

    from logdoctor.model import RankedCause, SpokenClue
    from logdoctor.terminal.answering import Standing

__all__ = ["CausesPanel"]

ARROWS = {1: "↑", -1: "↓", 0: " "}
NOTICED = 0.005


class CausesPanel(Vertical):
    """What the last answer changed, where the shares come from, and the list."""

    class Chosen(Message):
        """The cause under the cursor is another one now."""

        def __init__(self, cause: str) -> None:
            super().__init__()
            self.cause = cause

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - as all widgets name it
        super().__init__(id=id)
        self._standing: Standing | None = None
        self._show: Callable[[str], str] = str
        self._open: set[str] = set()

    def compose(self) -> ComposeResult:
        """The parts."""
        yield Static(id="change")
        yield Rows(id="causes")

    def on_mount(self) -> None:
        """Name the list."""
        rows = self.query_one(Rows)
        rows.border_title = "Causes in order"
        rows.border_subtitle = "Enter: clues   x: fix"

    def fill(self, standing: Standing, show: Callable[[str], str]) -> None:
        """Show a ranking; after another answer the cursor goes to the first cause."""
        moved = self._standing is None or standing.given != self._standing.given
        self._standing, self._show = standing, show
        told = change(standing, show)
        note = self.query_one("#change", Static)
        note.update(Content(told or (basis(standing.finding) if len(standing.finding.causes) > 1 else "")))
        note.set_class(bool(told), "news")
        note.set_class(len(standing.finding.causes) < 2, "empty")
        self._draw()
        if moved:
            self.query_one(Rows).highlighted = 0

    @property
    def chosen(self) -> str | None:
        """The id of the cause under the cursor."""
        return self.query_one(Rows).cursor_id if self.is_mounted else None

    def on_option_list_option_highlighted(self, event: Rows.OptionHighlighted) -> None:
        """Tell the choice on."""
        event.stop()
        if event.option.id is not None:
            self.post_message(self.Chosen(event.option.id))

    def on_option_list_option_selected(self, event: Rows.OptionSelected) -> None:
        """Open or close the clues."""
        event.stop()
        if event.option.id is not None:
            self._open ^= {event.option.id}
            self._draw()

    def _draw(self) -> None:
        if self._standing is None:
            return
        finding = self._standing.finding
        rows = [(r.cause.id, self._row(number, r)) for number, r in enumerate(finding.causes, start=1)]
        self.query_one(Rows).fill(rows)

    def _row(self, number: int, ranked: RankedCause) -> list[Para]:
        opened = ranked.cause.id in self._open
        lead = Content.assemble(f"{'-' if opened else '+'} {number}. ", *self._share(ranked))
        paras = [Para(self._show(ranked.cause.says), lead)]
        if opened:
            clues = [_clue(clue, self._show) for clue in ranked.clues]
            paras += clues or [Para("no clue speaks for or against it", "     ")]
        return paras

    def _share(self, ranked: RankedCause) -> list[Content]:
        """The share; after an answer with the one before, in columns."""
        if self._standing is None or len(self._standing.finding.causes) < 2:
            return []
        before = self._standing.shares_before.get(ranked.cause.id, ranked.share)
        way = ARROWS[(ranked.share > before + NOTICED) - (ranked.share < before - NOTICED)]
        now = f"{share_words(ranked.share):>4}"
        if not self._standing.moved:
            return [Content.styled(now, "bold"), Content("  ")]
        was = f"{share_words(before):>4} {way} " if way != " " else " " * 7
        return [Content.styled(f"{was}{now}", "bold" if way == " " else "bold $accent"), Content("  ")]


def _clue(clue: SpokenClue, show: Callable[[str], str]) -> Para:
    style = "$success" if clue.speaks in ("for", "strongly-for") else "$warning"
    strength, _, why = clue_words(clue, show).partition(": ")
    return Para(Content.assemble(Content.styled(f"{strength}: ", style), why), "     ", under=7)
