"""The start screen: paste a log, open a file, look at an earlier verdict, read the catalogue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.containers import Horizontal
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Footer, Label, Static

from logdoctor.intake import printable
from logdoctor.masking import mask
from logdoctor.terminal.screens.leaving import go_back
from logdoctor.terminal.widgets.folder import FolderRows
from logdoctor.terminal.widgets.paste import PasteBox, PathInput, PathSuggester
from logdoctor.terminal.widgets.prose import Para
from logdoctor.terminal.widgets.rows import Rows
from logdoctor.terminal.wording import OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from logdoctor.terminal.desk import Case, Recent

__all__ = ["StartScreen"]


class StartScreen(Screen[None]):
    """All ways in."""

    CSS_PATH = "../styles/start.tcss"
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]  # noqa: RUF012 - declared without ClassVar by the base
    BINDINGS: ClassVar[list[BindingType]] = [
        ("c", "app.catalogue", "Catalogue"),
        ("o", "focus_on('path')", "Open a path"),
        Binding("escape", "back", "Back", show=False),
        ("q", "app.quit", "Quit"),
    ]

    class PathChosen(Message):
        """A log is to be opened."""

        def __init__(self, path: str) -> None:
            super().__init__()
            self.path = path

    class CaseChosen(Message):
        """A log that was opened before is to be shown again."""

        def __init__(self, case: Case) -> None:
            super().__init__()
            self.case = case

    def __init__(self, folder: Path, known: Callable[[], tuple[Sequence[Case], Sequence[Recent]]]) -> None:
        super().__init__()
        self._folder = folder
        self._known = known
        self._cases: Sequence[Case] = ()
        self._recent: Sequence[Recent] = ()

    def compose(self) -> ComposeResult:
        """The parts."""
        yield Static(Content("logdoctor   what stopped the build, why, and what to change"), classes="bar")
        yield PasteBox(id="paste")
        with Horizontal(id="open"):
            yield Label("Open a log: ")
            yield PathInput(
                placeholder="its path; Tab or → completes, Enter opens",
                suggester=PathSuggester(),
                id="path",
                compact=True,
            )
        with Horizontal(id="lists"):
            yield FolderRows(self._folder, id="folder")
            yield Rows(id="recent")
        yield Footer()

    def on_mount(self) -> None:
        """Start in the paste box."""
        self.query_one("#recent").border_title = "Verdicts"
        self.query_one(PasteBox).focus()

    def on_screen_resume(self) -> None:
        """The logs opened since the start and earlier ones, as they are by now."""
        self._cases, self._recent = self._known()
        self._fill_recent()

    def action_back(self) -> None:
        """Back to where this screen was opened from."""
        go_back(self)

    def action_focus_on(self, name: str) -> None:
        """Go to a part of the screen."""
        self.query_one(f"#{name}").focus()

    def on_input_submitted(self, event: PathInput.Submitted) -> None:
        """Open the path; a folder is listed instead."""
        typed = event.value.strip()
        if not typed:
            return
        path = Path(typed).expanduser()
        if path.is_dir():
            self.query_one(FolderRows).show_folder(path)
            self.query_one(FolderRows).focus()
        else:
            self.post_message(self.PathChosen(str(path)))

    def on_folder_rows_file_chosen(self, event: FolderRows.FileChosen) -> None:
        """Open the file."""
        self.post_message(self.PathChosen(event.path))

    def on_option_list_option_selected(self, event: Rows.OptionSelected) -> None:
        """Show a verdict again, or open its log."""
        kind, _, number = (event.option.id or "").partition("-")
        if kind == "case":
            self.post_message(self.CaseChosen(self._cases[int(number)]))
        elif kind == "recent" and (path := self._recent[int(number)].path):
            self.post_message(self.PathChosen(path))

    def _fill_recent(self) -> None:
        rows = [(f"case-{n}", _case_row(case)) for n, case in enumerate(self._cases)]
        rows.reverse()
        rows += [(f"recent-{n}", _recent_row(recent)) for n, recent in enumerate(self._recent)]
        listed = self.query_one("#recent", Rows)
        listed.display = bool(rows)
        listed.fill(rows)


def _case_row(case: Case) -> list[Para]:
    outcome = OUTCOMES[case.verdict.outcome] if case.verdict else case.stage
    told = case.show(case.verdict.headline if case.verdict else case.problem)
    return [Para(f"{outcome}  {case.show(case.name)}", style="bold"), Para(told, "  ")]


def _recent_row(recent: Recent) -> list[Para]:
    head = mask(printable(f"{recent.when}  {recent.name}"))
    return [Para(head, style="bold"), Para(mask(printable(recent.headline)), "  ")]
