"""The line to type into: a line number to go to, a text or a pattern to look for."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Literal

from textual.binding import Binding
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import Input, Static

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

__all__ = ["Prompt"]

Asks = Literal["line", "text"]


class Prompt(Horizontal):
    """Shown only while it asks."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Leave", show=False),
        Binding("ctrl+r", "flip", "Text or pattern", show=False),
    ]

    class Answered(Message):
        """Something was typed and confirmed."""

        def __init__(self, asks: Asks, text: str, *, is_regex: bool) -> None:
            super().__init__()
            self.asks = asks
            self.text = text
            self.is_regex = is_regex

    class Left(Message):
        """Nothing is wanted after all."""

    def __init__(self) -> None:
        super().__init__()
        self.asks: Asks = "text"
        self.is_regex = False
        self.display = False
        self._last = ""

    def compose(self) -> ComposeResult:
        """A word before the field says what is asked."""
        yield Static("", id="asked", markup=False)
        yield Input(compact=True, id="typed", select_on_focus=True)

    def ask(self, asks: Asks) -> None:
        """Show and take the focus."""
        self.asks = asks
        self.display = True
        field = self.query_one("#typed", Input)
        field.value = self._last if asks == "text" else ""
        self._say()
        # At once, so that quick typing goes into the field.
        self.screen.set_focus(field)

    def action_leave(self) -> None:
        """Close without an answer."""
        self.display = False
        self.post_message(self.Left())

    def action_flip(self) -> None:
        """Look for a text, or for a pattern."""
        if self.asks == "text":
            self.is_regex = not self.is_regex
            self._say()

    def on_click(self) -> None:
        """A click on the word in front does the same as the key."""
        self.action_flip()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Hand the answer on."""
        event.stop()
        self.display = False
        if self.asks == "text":
            self._last = event.value
        self.post_message(
            self.Answered(
                self.asks, event.value.strip() if self.asks == "line" else event.value, is_regex=self.is_regex
            )
        )

    def on_input_changed(self, event: Input.Changed) -> None:
        """Only the answer is of interest outside."""
        event.stop()

    def _say(self) -> None:
        words = "Go to line" if self.asks == "line" else "Find pattern" if self.is_regex else "Find text"
        self.query_one("#asked", Static).update(words)
        self.query_one("#typed", Input).placeholder = (
            "a number"
            if self.asks == "line"
            else f"Enter finds, Ctrl+R: {'text' if self.is_regex else 'pattern'}, Esc leaves"
        )
