"""The help screen: keys and words, for all screens."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen

from logdoctor.terminal.widgets.prose import Para, Prose

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.app import ComposeResult
    from textual.binding import BindingType

__all__ = ["HELP", "HelpScreen"]

HELP: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "Everywhere",
        (
            ("F1", "this help"),
            ("F2", "next colours: dark, light, high contrast (two), monochrome"),
            ("Ctrl+P", "all commands, by name"),
            ("Tab, Shift+Tab", "next and previous part of the screen; the one with keys has the heavy border"),
            ("Esc", "back; stops reading while a log is read"),
            ("q, Ctrl+Q, Ctrl+C", "quit (Ctrl+C copies where text is selected)"),
        ),
    ),
    (
        "Ways in",
        (
            ("paste", "several lines, on any screen: a log that is read at once, up to 5 MB"),
            ("o, or the list", "a file: plain, .gz, .xz, .zst"),
            ("logdoctor open A B", "several logs: a list with outcome and headline"),
            ("… | logdoctor open -", "the log from the pipe, the keys from the terminal"),
        ),
    ),
    (
        "A verdict",
        (
            ("1 to 6", "the views; a terminal of 130 columns shows the log beside them"),
            ("y  n  ?", "answer the next check: yes, no, can't tell; the order of the causes moves at once"),
            ("u", "take the last answer back"),
            ("Enter on a cause", "its clues in words"),
            ("x", "the fix of the cause under the cursor"),
            ("v", "the line that shows the failure"),
            ("l", "the log"),
            ("p, then ← → Enter", "phases: jump to one; Enter again: its next stretch"),
            ("s", "share: text for a ticket, to copy or to save, secrets masked"),
            ("e", "the catalogue entry"),
        ),
    ),
    (
        "The log",
        (
            ("/", "find a text, Ctrl+R a pattern; n and N: next and previous hit"),
            ("m  M", "next and previous finding"),
            ("g", "go to a line by its number"),
            ("Shift+↑ ↓, c", "select lines, copy them (secrets masked)"),
            ("f  w  t", "folds, wrap, time stamps: on or off; Enter opens one fold"),
        ),
    ),
    (
        "Signs",
        (
            ("+ x ?", "a phase passed, failed, did not finish"),
            ("+ x ! ?", "a build succeeded, failed, was aborted, unknown how it ended"),
            ("40% ↑ 60%", "the share of a cause before and after your answer"),
            ("share", "a cause's part of 100 % by the authors' weights and what is known; not a measured frequency"),
        ),
    ),
)


class HelpScreen(ModalScreen[None]):
    """Closes with Escape, F1 or q."""

    CSS_PATH = "../styles/dialogs.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [("escape,f1,q", "dismiss", "Close")]

    def compose(self) -> ComposeResult:
        """The page."""
        with Vertical(classes="dialog"), VerticalScroll(id="page"):
            yield Prose(id="help")

    def on_mount(self) -> None:
        """Name it."""
        dialog = self.query_one(".dialog")
        dialog.border_title = "Help"
        self.query_one(Prose).fill(*_rows())
        dialog.border_subtitle = "↑ ↓ scroll   Esc closes"
        self.query_one("#page").focus()


def _rows() -> Iterator[Para]:
    for title, keys in HELP:
        yield Para(title, style="bold $accent")
        for key, what in keys:
            yield Para(what, Content.styled(f"  {key:<22}", "bold"))
        yield Para("")
