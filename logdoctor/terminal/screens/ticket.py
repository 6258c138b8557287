"""The verdict as text for a ticket: to read, to copy, to save."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Button, Input, Static

from logdoctor.intake import printable

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

__all__ = ["TicketScreen"]


class TicketScreen(ModalScreen[None]):
    """Closes with Escape."""

    CSS_PATH = "../styles/dialogs.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        ("c", "copy", "Copy"),
        ("s", "save", "Save"),
        ("escape,q", "dismiss", "Close"),
    ]

    def __init__(self, text: str, file_name: str) -> None:
        super().__init__()
        self.text = text
        self._file_name = file_name

    def compose(self) -> ComposeResult:
        """The parts."""
        with Vertical(classes="dialog"):
            with VerticalScroll(id="page"):
                yield Static(Content(self.text), id="text")
            with Horizontal(classes="buttons"):
                yield Button("c Copy", id="copy", compact=True)
                yield Button("s Save to a file", id="save", compact=True)
                yield Button("Esc Close", id="close", compact=True)
            yield Input(value=self._file_name, id="file", compact=True)

    def on_mount(self) -> None:
        """Hide the file name until it is asked for."""
        self.query_one(".dialog").border_title = "Text for a ticket (secrets masked)"
        self.query_one("#file").display = False
        self.query_one("#page").focus()

    def action_copy(self) -> None:
        """Hand the text to the terminal's clipboard."""
        self.app.copy_to_clipboard(self.text)
        self.notify(
            "Handed to the terminal's clipboard. If pasting brings nothing, your terminal refuses it: save instead."
        )

    def action_save(self) -> None:
        """Ask for the file's name."""
        name = self.query_one("#file", Input)
        name.display = True
        name.border_title = "Save as (Enter saves)"
        name.focus()

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Do what the button says."""
        event.stop()
        if event.button.id == "copy":
            self.action_copy()
        elif event.button.id == "save":
            self.action_save()
        else:
            self.dismiss()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Save, but never over a file that is there."""
        path = Path(event.value.strip()).expanduser()
        try:
            with path.open("x", encoding="utf-8") as out:
                out.write(self.text)
        except FileExistsError:
            self._complain(f"{path} is there already; choose another name")
        except (OSError, ValueError) as error:
            self._complain(f"{path}: can't be written ({getattr(error, 'strerror', None) or error})")
        else:
            self.notify(printable(f"Saved in {path}"), markup=False)
            self.query_one("#file").display = False
            self.query_one("#page").focus()

    def _complain(self, text: str) -> None:
        self.notify(printable(text), severity="error", markup=False)
