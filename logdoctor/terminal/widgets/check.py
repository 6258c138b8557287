"""The check to ask now, with a button and a key for each answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Button, Static

from logdoctor.terminal.wording import effort_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult

    from logdoctor.terminal.answering import Standing

__all__ = ["CheckPanel"]


class CheckPanel(VerticalScroll, can_focus=False):
    """A question that tells the causes apart."""

    class Answered(Message):
        """Yes, no or can't tell."""

        def __init__(self, *, said: bool | None) -> None:
            super().__init__()
            self.said = said

    class UndoAsked(Message):
        """The last answer is to be taken back."""

    def compose(self) -> ComposeResult:
        """The parts."""
        yield Static(id="ask")
        with Horizontal(id="answers"):
            yield Button("y Yes", id="yes", compact=True)
            yield Button("n No", id="no", compact=True)
            yield Button("? Can't tell", id="cannot-tell", compact=True)
            yield Button("u Undo", id="undo", compact=True)
        yield Static(id="how")

    def fill(self, standing: Standing, show: Callable[[str], str]) -> None:
        """Show the check to ask now, or that there is none left."""
        check = standing.next_check
        self.display = check is not None or bool(standing.given)
        self.border_title = f"Next check ({effort_words(check.check.effort)})" if check else "Next check"
        left = "No check is left that could tell the causes further apart."
        self.query_one("#ask", Static).update(Content.styled(show(check.check.ask) if check else left, "bold"))
        self.query_one("#how", Static).update(Content(f"How: {show(check.check.how)}" if check else ""))
        for name in ("yes", "no", "cannot-tell"):
            self.query_one(f"#{name}", Button).display = check is not None
        self.query_one("#undo", Button).display = bool(standing.given)

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Tell what was pressed."""
        event.stop()
        if event.button.id == "undo":
            self.post_message(self.UndoAsked())
        else:
            said = {"yes": True, "no": False}.get(event.button.id or "")
            self.post_message(self.Answered(said=said))
