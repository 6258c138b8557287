"""Several logs: a list with outcome and headline, filled as they are read."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.containers import Horizontal
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Button, Footer, ProgressBar, Static
from textual.worker import get_current_worker

from logdoctor.terminal.messages import CaseMoved
from logdoctor.terminal.screens.leaving import go_back
from logdoctor.terminal.widgets.prose import Para
from logdoctor.terminal.widgets.rows import Rows
from logdoctor.terminal.wording import OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from logdoctor.terminal.desk import Case, Desk

__all__ = ["FilesScreen"]

OFTEN = 0.25
STAGES = {"waiting": ". waiting", "reading": "~ being read", "refused": "! can't be read", "stopped": ". not read"}


class FilesScreen(Screen[None]):
    """One row a log; ids are `file-N`."""

    CSS_PATH = "../styles/files.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        ("escape", "back", "Back"),
        ("x", "stop", "Stop reading"),
        ("c", "app.catalogue", "Catalogue"),
        ("q", "app.quit", "Quit"),
    ]

    class Chosen(Message):
        """A log of the list is to be shown."""

        def __init__(self, case: Case) -> None:
            super().__init__()
            self.case = case

    def __init__(self, desk: Desk, cases: Sequence[Case]) -> None:
        super().__init__()
        self._desk = desk
        self.cases = tuple(cases)
        self._stopping = False
        self._stale = False

    def compose(self) -> ComposeResult:
        """The parts."""
        yield Static(id="told", classes="bar")
        with Horizontal(id="progress"):
            yield ProgressBar(total=len(self.cases), show_eta=False)
            yield Button("x Stop", id="stop", compact=True)
        yield Rows(id="files")
        yield Footer()

    def on_mount(self) -> None:
        """Begin reading."""
        rows = self.query_one(Rows)
        rows.border_title, rows.border_subtitle = "Logs", "Enter: look at one"
        self._draw()
        rows.focus()
        self.set_interval(OFTEN, self._draw_if_stale)
        self.run_worker(self._read_all, thread=True, name="read all")

    def action_stop(self) -> None:
        """Stop reading; what was read stays."""
        self._stopping = True
        for case in self.cases:
            if case.stage == "reading":
                case.stop.set()
        self._draw()

    def action_back(self) -> None:
        """Back to where the list was opened from, where that was the start screen."""
        go_back(self)

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Stop."""
        event.stop()
        self.action_stop()

    def on_case_moved(self, _: CaseMoved) -> None:
        """Show the stage that a log has reached, soon: a list may change faster than it can be drawn."""
        self._stale = True

    def _draw_if_stale(self) -> None:
        if self._stale:
            self._draw()

    def on_option_list_option_selected(self, event: Rows.OptionSelected) -> None:
        """Show one log, once it was read."""
        case = self.cases[int((event.option.id or "file-0").removeprefix("file-"))]
        if case.stage == "done":
            self.post_message(self.Chosen(case))
        elif case.stage == "refused":
            self.notify(case.show(case.problem), severity="error", markup=False)
        elif case.stage == "stopped" or self._stopping:
            self.post_message(self.Chosen(case))
        else:
            self.notify("This log is still to be read; a moment.")

    def _read_all(self) -> None:
        worker = get_current_worker()
        for case in self.cases:
            if self._stopping or worker.is_cancelled:
                break
            if case.stage in ("waiting", "stopped"):
                self._desk.examine(case, partial(self._tell, case), lambda *_: None)
                self._let_go(case)

    def _tell(self, case: Case) -> None:
        self.post_message(CaseMoved(case))

    def _let_go(self, case: Case) -> None:
        """A file is closed until somebody looks at it: a list may be longer than the system lets files be open."""
        if case.path is not None and case.log is not None:
            case.log.close()
            case.log = None

    def _draw(self) -> None:
        self._stale = False
        read = [c for c in self.cases if c.stage in ("done", "refused")]
        counts = {outcome: sum(c.verdict.outcome == outcome for c in read if c.verdict) for outcome in OUTCOMES}
        told = [f"{len(read)} of {len(self.cases)} logs read"]
        told += [f"{count} {outcome}" for outcome, count in counts.items() if count]
        unreadable = sum(c.stage == "refused" for c in read)
        told += [f"{unreadable} can't be read"] if unreadable else []
        self.query_one("#told", Static).update(Content(", ".join(told)))
        self.query_one(ProgressBar).update(progress=len(read))
        self.query_one("#progress").display = len(read) < len(self.cases) and not self._stopping
        self.query_one(Rows).fill([(f"file-{n}", _row(case)) for n, case in enumerate(self.cases)])


def _row(case: Case) -> list[Para]:
    if case.verdict is None:
        head = Para(f"{STAGES.get(case.stage, case.stage)}  {case.show(case.name)}")
        return [head, Para(case.show(case.problem), "  ")] if case.problem else [head]
    head = Para(f"{OUTCOMES[case.verdict.outcome]}  {case.show(case.name)}", style="bold")
    return [head, Para(case.show(case.verdict.headline), "  ")]
