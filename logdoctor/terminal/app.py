"""The app: it owns the desk and the cases, puts screens on top of each other, and ends without a traceback."""

from __future__ import annotations

import asyncio
import contextlib
import signal
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.worker import WorkerFailed

from logdoctor.intake import printable
from logdoctor.masking import mask
from logdoctor.terminal.desk import Case, Desk
from logdoctor.terminal.screens.files import FilesScreen
from logdoctor.terminal.screens.help import HelpScreen
from logdoctor.terminal.screens.start import StartScreen
from logdoctor.terminal.screens.verdict import VerdictScreen
from logdoctor.terminal.themes import DARK, MONOCHROME, THEMES

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from textual import events
    from textual.driver import Driver
    from textual.screen import Screen

    from logdoctor.terminal.messages import PastedTooMuch

__all__ = ["DoctorApp", "with_line_ends"]

TERMINATED = 143  # 128 + SIGTERM, as a shell tells it (POSIX, 2.8.2)
INTERRUPTED = 130
CATALOGUE = "catalogue"


class DoctorApp(App[None]):
    """Opens on the start screen, or on the cases it is given."""

    TITLE = "logdoctor"
    CSS_PATH = "styles/app.tcss"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f1", "help", "Help", priority=True),
        Binding("f2", "next_theme", "Colours", show=False, priority=True),
        Binding("ctrl+c", "interrupt", "Quit", show=False),
        Binding("ctrl+q", "quit", "Quit", show=False, priority=True),
    ]

    def __init__(self, desk: Desk | None = None, cases: Sequence[Case] = (), folder: Path | None = None) -> None:
        super().__init__(driver_class=_driver())
        self.desk = desk or Desk()
        self.cases: list[Case] = list(cases)
        self.fault: BaseException | None = None
        self._leaving = False
        self._folder = folder or Path()
        self._given = tuple(cases)
        self._screens: dict[Case, VerdictScreen] = {}
        self._pasted = 0

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Our own colours, for themes that don't set them."""
        return {"chosen-ink": "#000000", "chosen-paper": "#ffffff"}

    def on_mount(self) -> None:
        """Put on the looks and the first screen."""
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = MONOCHROME if self.no_color else DARK
        self._listen()
        self.run_worker(self._warm, thread=True, name="catalogue")
        if len(self._given) == 1:
            self.show_case(self._given[0])
        elif self._given:
            self.push_screen(FilesScreen(self.desk, self._given))
        else:
            self.push_screen(self._start_screen())

    def _warm(self) -> None:
        """Load the catalogue before somebody waits for it; say when parts of it were left out."""
        left_out = len(self.desk.catalogue.problems)
        if left_out:
            told = f"{left_out} problems in the catalogue: those entries are left out. logdoctor catalogue --vet lists them."
            self.call_from_thread(self.notify, told, severity="warning")

    def on_unmount(self) -> None:
        """Stop what is being read, so that no worker keeps the program from ending."""
        for case in self.cases:
            case.stop.set()
            if case.log is not None:
                case.log.close()

    # --- cases ---

    def show_case(self, case: Case) -> None:
        """Show the verdict screen of a case, the same one as before if there is one."""
        if case not in self.cases:
            self.cases.append(case)
        if case not in self._screens:
            self._screens[case] = VerdictScreen(self.desk, case)
            self.install_screen(self._screens[case], name=f"case-{len(self._screens)}")
        self.push_screen(self._screens[case])

    def open_path(self, path: str) -> None:
        """Open a file; one that is open already is shown as it was left."""
        known = next((c for c in self.cases if c.path == path and c in self._screens), None)
        if known is not None and known.stage != "refused":
            self.show_case(known)
        else:
            self.show_case(Case(source=path, name=mask(printable(path))))

    def on_paste(self, event: events.Paste) -> None:
        """A paste of several lines is a log, wherever it is made; on the start screen any paste is."""
        text = with_line_ends(event.text)
        lines = text.strip().splitlines()
        if not lines:
            self.notify("There was nothing in the paste.", severity="warning")
        elif len(lines) == 1 and Path(path := lines[0].strip("'\"")).is_file():
            self.open_path(path)  # terminals paste the path of a file that is dropped on them
        elif len(lines) > 1 or isinstance(self.screen, StartScreen):
            self._pasted += 1
            name = f"pasted text {self._pasted}"
            self.show_case(Case(source=text.encode("utf-8", "surrogatepass"), name=name))

    def on_pasted_too_much(self, event: PastedTooMuch) -> None:
        """Say how to bring in a log that is too long to paste."""
        self.notify(
            f"That was {event.size / 1e6:.1f} MB; up to 5 MB are taken from a paste. Save the log and open its file, "
            "or pipe it: some-command 2>&1 | logdoctor open -",
            severity="warning",
            timeout=20,
            markup=False,
        )

    def on_start_screen_path_chosen(self, event: StartScreen.PathChosen) -> None:
        """Open it."""
        self.open_path(event.path)

    def on_start_screen_case_chosen(self, event: StartScreen.CaseChosen) -> None:
        """Show it again."""
        self.show_case(event.case)

    def on_files_screen_chosen(self, event: FilesScreen.Chosen) -> None:
        """Show it."""
        self.show_case(event.case)

    def _start_screen(self) -> StartScreen:
        return StartScreen(self._folder, lambda: (self.cases, self.desk.recent()))

    # --- other screens ---

    def action_help(self) -> None:
        """Show the help, or close it."""
        if isinstance(self.screen, HelpScreen):
            self.screen.dismiss()
        else:
            self.push_screen(HelpScreen())

    def action_catalogue(self) -> None:
        """Show the catalogue."""
        self._show_catalogue(None)

    def on_verdict_screen_entry_asked(self, event: VerdictScreen.EntryAsked) -> None:
        """Show one entry."""
        self._show_catalogue(event.failure_id)

    def _show_catalogue(self, failure_id: str | None) -> None:
        from logdoctor.terminal.screens.catalogue import CatalogueScreen

        if failure_id is not None:
            self.push_screen(CatalogueScreen(self.desk.catalogue, failure_id))
            return
        if not self.is_screen_installed(CATALOGUE):  # kept, so that it is found again as it was left
            self.install_screen(CatalogueScreen(self.desk.catalogue), name=CATALOGUE)
        if self.screen is not self.get_screen(CATALOGUE):
            self.push_screen(CATALOGUE)

    # --- looks and leaving ---

    def action_next_theme(self) -> None:
        """Put on the next look."""
        names = [theme.name for theme in THEMES]
        at = names.index(self.theme) if self.theme in names else -1
        self._wear(names[(at + 1) % len(names)])

    def _wear(self, name: str) -> None:
        self.theme = name
        self.notify(f"Colours: {name}", timeout=2)

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """What the command palette offers besides the keys of the screen."""
        yield SystemCommand("Help", "Keys and words", self.action_help)
        yield SystemCommand("Catalogue", "Search and read the known failures", self.action_catalogue)
        yield SystemCommand("Start screen", "Paste or open another log", self._to_start)
        if isinstance(screen, VerdictScreen):
            yield SystemCommand("Text for a ticket", "Copy or save the verdict, secrets masked", screen.action_ticket)
            yield SystemCommand("Evidence", "Go to the line that shows the failure", screen.action_evidence)
        for theme in THEMES:
            yield SystemCommand(f"Colours: {theme.name}", "Change the look", partial(self._wear, theme.name))
        yield SystemCommand("Quit", "Leave the program", self.action_quit)

    def _to_start(self) -> None:
        if not isinstance(self.screen, StartScreen):
            self.push_screen(self._start_screen())

    def action_interrupt(self) -> None:
        """Leave as an interrupted program does."""
        self.exit(return_code=INTERRUPTED)

    def _listen(self) -> None:
        """Being told to end by a signal also restores the terminal."""
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
            code = INTERRUPTED if number == signal.SIGINT else TERMINATED
            with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):
                loop.add_signal_handler(number, self.exit, None, code)

    def _fatal_error(self) -> None:
        """A fault ends the app; the command that started it tells it, without a traceback on the terminal."""
        self._keep(sys.exception() or self._exception)
        self._close_messages_no_wait()

    def _keep(self, fault: BaseException | None) -> None:
        """The first fault is the one to tell; what breaks while all is being taken down is none."""
        if self.fault is None and not self._leaving:
            self.fault = fault.error if isinstance(fault, WorkerFailed) else fault

    def exit(self, result: None = None, return_code: int = 0, message: Any | None = None) -> None:
        """Leave."""
        self._leaving = True
        super().exit(result, return_code, message)

    def panic(self, *renderables: object) -> None:  # noqa: ARG002 - a traceback, which is not shown
        """A fault outside of the message loop: likewise."""
        self._keep(sys.exception() or self._exception or RuntimeError("the terminal could not be read"))
        self._close_messages_no_wait()


def with_line_ends(text: str) -> str:
    """Terminals send the end of a pasted line as CR; beside LF a lone CR is the log's own."""
    text = text.replace("\r\n", "\n")
    return text if "\n" in text else text.replace("\r", "\n")


def _driver() -> type[Driver] | None:
    """The driver with quick pastes where there is one for this system."""
    if sys.platform == "win32":
        return None
    from logdoctor.terminal.driver import PasteDriver

    return PasteDriver
