"""The verdict screen: the sentence on top, the phase track, the log and what explains it.

Narrow terminals show one view at a time, wide ones the log beside the others. All keys work in every view.
"""

from __future__ import annotations

import time
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Container, Horizontal, Vertical
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Footer

from logdoctor.terminal.logpane import LogPane
from logdoctor.terminal.marks import marks_of
from logdoctor.terminal.messages import CaseMoved, CaseProgress
from logdoctor.terminal.phases import stops_of
from logdoctor.terminal.screens.leaving import go_back
from logdoctor.terminal.screens.ticket import TicketScreen
from logdoctor.terminal.ticket import ticket_text
from logdoctor.terminal.views import ANSWERS, first_line, first_view, place_pattern, views_of
from logdoctor.terminal.widgets.causes import CausesPanel
from logdoctor.terminal.widgets.check import CheckPanel
from logdoctor.terminal.widgets.fix import FixPanel
from logdoctor.terminal.widgets.headline import Headline
from logdoctor.terminal.widgets.lists import ItemRows, MoreRows, ReadingRows
from logdoctor.terminal.widgets.rows import Rows
from logdoctor.terminal.widgets.track import PhaseTrack
from logdoctor.terminal.widgets.viewbar import ViewBar

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from logdoctor.terminal.desk import Case, Desk

__all__ = ["VerdictScreen"]

OFTEN, SOON = 0.1, 0.02
WIDE, TALL = 130, 40


class VerdictScreen(Screen[None]):
    """One case; going back and coming again finds it as it was left."""

    CSS_PATH = "../styles/verdict.tcss"
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (WIDE, "-wide")]  # noqa: RUF012 - declared without ClassVar by the base
    VERTICAL_BREAKPOINTS = [(0, "-tiny"), (20, "-short"), (TALL, "-tall")]  # noqa: RUF012 - likewise
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer('yes')", "Yes", show=False),
        Binding("n", "answer('no')", "No", show=False),
        Binding("question_mark", "answer('cannot-tell')", "Can't tell", show=False),
        Binding("u", "undo", "Undo", show=False),
        *(Binding(str(n), f"view({n})", f"View {n}", show=False) for n in range(1, 7)),
        Binding("x", "open('fix')", "Fix"),
        Binding("l", "open('log')", "Log"),
        Binding("v", "evidence", "Evidence"),
        Binding("s", "ticket", "Share"),
        Binding("e", "entry", "Entry"),
        Binding("d", "draft", "Make a catalogue entry"),
        Binding("p", "focus_track", "Phases", show=False),
        Binding("r", "read_again", "Read again", show=False),
        Binding("escape", "back", "Back"),
        Binding("q", "app.quit", "Quit", show=False),
    ]

    class EntryAsked(Message):
        """A catalogue entry is to be shown."""

        def __init__(self, failure_id: str) -> None:
            super().__init__()
            self.failure_id = failure_id

    def __init__(self, desk: Desk, case: Case) -> None:
        super().__init__()
        self._desk = desk
        self.case = case
        self.pane: LogPane | None = None
        self._view = ""
        self._turned = False
        self._fallback = ""
        self._line: int | None = None
        self._told_at = 0.0

    def compose(self) -> ComposeResult:
        """The parts."""
        yield Headline(id="headline")
        yield PhaseTrack(id="track")
        yield ViewBar(id="views")
        with Horizontal(id="body"):
            yield Container(id="log-side")
            with Container(id="answer-side"):
                yield ReadingRows(id="panel-reading")
                with Vertical(id="panel-causes"):
                    yield CausesPanel(id="ranking")
                    yield CheckPanel(id="check")
                yield FixPanel(id="panel-fix")
                yield ItemRows(id="panel-items")
                yield MoreRows(id="panel-more")
        yield Footer()

    async def on_mount(self) -> None:
        """Begin reading, or show what is known already."""
        if self.case.stage == "done" and self.case.readable:
            await self._show_pane()
        self._fill()
        self.action_read_again()

    def action_read_again(self) -> None:
        """Read the log, unless that is being done or was done."""
        if self.case.stage != "reading" and not (self.case.stage == "done" and self.case.readable):
            self.run_worker(self._examine, thread=True, exclusive=True, name="examine")

    def _examine(self) -> None:
        self._desk.examine(self.case, self._moved, self._tell)

    def _moved(self) -> None:
        self.post_message(CaseMoved(self.case))

    def _tell(self, done: int, total: int | None) -> None:
        now = time.monotonic()
        if now - self._told_at >= OFTEN:
            self._told_at = now
            self.post_message(CaseProgress(self.case, done, total))

    def on_case_progress(self, event: CaseProgress) -> None:
        """Show how far the pass is."""
        self.query_one(Headline).show_progress(event.done, event.total)

    async def on_case_moved(self, _: CaseMoved) -> None:
        """Show a further stage."""
        if self.case.readable:
            await self._show_pane()
        self._fill()

    async def _show_pane(self) -> None:
        """The log pane, as soon as lines can be read; with its marks once they are known."""
        if self.case.log is None:
            return
        verdict = self.case.verdict
        marks = marks_of(verdict, self.case.show) if verdict else []
        secrets = [s.line for s in verdict.exposed_secrets] if verdict else []
        if self.pane is None:
            self.pane = LogPane(self.case.log, findings=marks, secrets=secrets)
            await self.query_one("#log-side").mount(self.pane)
        elif verdict is not None:
            self.pane.set_findings(marks, secrets=secrets)
        if verdict is not None and not self._turned:
            self._show_line(first_line(verdict))

    def _show_line(self, line: int) -> None:
        """Show a line once the pane has its place: without, it could not put the line in the middle. The last call counts."""
        self._line = line
        self._settle(50)

    def _settle(self, tries: int) -> None:
        if self.pane is not None and not self.pane.size.height and tries:
            self.set_timer(SOON, partial(self._settle, tries - 1))
        else:
            self.call_after_refresh(self._arrive)

    def _arrive(self) -> None:
        if self.pane is not None and self._line is not None:
            self.pane.go_to(self._line)
            self._line = None

    def _fill(self) -> None:
        case = self.case
        self.query_one(Headline).fill(case)
        verdict, known = case.verdict, case.verdict is not None
        self.query_one(PhaseTrack).set_class(not known, "empty")
        if verdict is not None:
            self.query_one(PhaseTrack).fill(stops_of(verdict.segments), case.show)
            self.query_one(ReadingRows).show_reading(verdict, case.show)
            self.query_one(MoreRows).show_more(verdict, case.show)
        if case.standing is not None:
            self.query_one(ItemRows).show_items(case.standing.diagnosed, case.show)
            self._fill_ranking()
        if not self._turned or self._view not in dict(views_of(case)):
            self._open(first_view(case), focus=True)
        else:
            self._open(self._view, focus=False)
        self.refresh_bindings()

    def _fill_ranking(self) -> None:
        standing, show = self.case.standing, self.case.show
        if standing is None:
            return
        self.query_one(CausesPanel).fill(standing, show)
        self.query_one(CheckPanel).fill(standing, show)
        self.query_one(FixPanel).fill(standing.finding, self.query_one(CausesPanel).chosen, show)
        self.query_one(Headline).fill(self.case)

    # --- views ---

    def _open(self, view: str, *, focus: bool) -> None:
        self._view = view
        views = views_of(self.case)
        answers = [name for name, _ in views if name in ANSWERS]
        answer = view if view in answers else self._answer if self._answer in answers else next(iter(answers), "")
        self.set_class(view == "log" or not answers, "on-log")
        self.set_class(not answers, "only-log")
        for name in ANSWERS:
            self.set_class(name == answer, f"answer-{name}")
        self._bar()
        if focus:
            self._focus(view)

    @property
    def _answer(self) -> str:
        return next((name for name in ANSWERS if self.has_class(f"answer-{name}")), "")

    def _bar(self) -> None:
        wide, tall, answer = self.size.width >= WIDE, self.size.height >= TALL, self._answer
        shown = [self._view] if self._view == "log" and not wide else [answer]
        shown += ["log"] if wide else []
        shown += ["causes", "fix"] if tall and answer in ("causes", "fix") and shown[0] == answer else []
        self.query_one(ViewBar).fill(views_of(self.case), shown)

    def on_resize(self) -> None:
        """Other views may fit now."""
        self._bar()

    def _focus(self, view: str) -> None:
        if view == "log":
            (self.pane or self.query_one(PhaseTrack)).focus()
        elif view == "causes":
            self.query_one("#causes").focus()
        else:
            self.query_one(f"#panel-{view}").focus()

    def action_view(self, number: int) -> None:
        """Open a view by its number."""
        views = views_of(self.case)
        if number <= len(views):
            self._turn_to(views[number - 1][0])

    def action_open(self, view: str) -> None:
        """Open a view by its name."""
        if view in dict(views_of(self.case)):
            self._turn_to(view)

    def on_view_bar_chosen(self, event: ViewBar.Chosen) -> None:
        """Open the view that was clicked."""
        self._turn_to(event.view)

    def _turn_to(self, view: str) -> None:
        """A view that somebody chose stays, whatever becomes known."""
        self._turned = True
        self._open(view, focus=True)

    def action_focus_track(self) -> None:
        """Go to the phase track."""
        self.query_one(PhaseTrack).focus()

    # --- answers ---

    def action_answer(self, word: str) -> None:
        """Answer the check to ask now."""
        self._answered(said={"yes": True, "no": False}.get(word))

    def on_check_panel_answered(self, event: CheckPanel.Answered) -> None:
        """A button was pressed."""
        self._answered(said=event.said)

    def on_check_panel_undo_asked(self) -> None:
        """The button was pressed."""
        self.action_undo()

    def _answered(self, *, said: bool | None) -> None:
        standing = self.case.standing
        if standing is None or standing.next_check is None:
            self.notify("There is no check to answer here.")
            return
        self.case.standing = standing.answered(said)
        self._after_answer()

    def action_undo(self) -> None:
        """Take the last answer back."""
        if self.case.standing is None or not self.case.standing.given:
            self.notify("No answer to take back.")
            return
        self.case.standing = self.case.standing.undone()
        self._after_answer()

    def _after_answer(self) -> None:
        self._fill_ranking()
        self._open("causes", focus=True)

    def on_causes_panel_chosen(self, event: CausesPanel.Chosen) -> None:
        """Show the fix of the cause under the cursor."""
        if self.case.standing is not None:
            self.query_one(FixPanel).fill(self.case.standing.finding, event.cause, self.case.show)

    # --- jumps ---

    def on_phase_track_chosen(self, event: PhaseTrack.Chosen) -> None:
        """Jump to the first line of a phase."""
        self._go_to(event.segment.start, focus=False)

    def on_option_list_option_selected(self, event: Rows.OptionSelected) -> None:
        """A row of a list: its line, its item, or its entry."""
        kind, _, what = (event.option.id or "").partition("-")
        if kind == "line":
            self._go_to(int(what.partition("-")[0]))
        elif kind == "item":
            self._find_item(int(what))
        elif kind == "entry":
            self.post_message(self.EntryAsked(what))

    def action_evidence(self) -> None:
        """Jump to the line that shows the failure."""
        verdict = self.case.verdict
        if verdict is not None and verdict.root is not None:
            self._go_to(verdict.root.line)
        elif verdict is not None and verdict.worth_reading:
            self._go_to(verdict.worth_reading[0].line)
        else:
            self.notify("No line of this log shows a failure.")

    def _go_to(self, line: int, *, focus: bool = True) -> None:
        if self.pane is None:
            return
        self._open("log", focus=focus)
        self._show_line(line)

    def _find_item(self, number: int) -> None:
        """Look for an item from the root on: by its place in the sources where it has one, else by its text."""
        root = self.case.verdict.root if self.case.verdict else None
        if root is None or self.pane is None:
            return
        item = root.items[number]
        self._open("log", focus=True)
        self._line = None
        self.pane.go_to(root.line)
        self._fallback = item.text
        if item.file and item.line:
            self.pane.search(place_pattern(item.file, item.line), regex=True)
        else:
            self.on_log_pane_search_done(LogPane.SearchDone(0, None))

    def on_log_pane_search_done(self, event: LogPane.SearchDone) -> None:
        """An item that was not found by its place is looked for by its text."""
        text, self._fallback = self._fallback, ""
        if text and not event.found and self.pane is not None:
            self.pane.search(text, regex=False)

    # --- the rest ---

    def action_ticket(self) -> None:
        """Show the text for a ticket."""
        case = self.case
        if case.verdict is None:
            self.notify("The log has no verdict yet.")
            return
        text = ticket_text(case.verdict, case.show, case.standing, self.query_one(CausesPanel).chosen)
        self.app.push_screen(TicketScreen(text, f"ticket-{case.verdict.fingerprint}.txt"))

    def action_entry(self) -> None:
        """Open the catalogue entry of the row under the cursor, else of the root."""
        focused = self.focused
        key = focused.cursor_id if isinstance(focused, Rows) else None
        kind, _, what = (key or "").partition("-")
        if kind == "entry":
            self.post_message(self.EntryAsked(what))
        elif kind == "line" and what.count("-") >= 2 and not what.endswith("-secret"):
            self.post_message(self.EntryAsked(what.split("-", 2)[2]))
        elif self.case.standing is not None:
            self.post_message(self.EntryAsked(str(self.case.standing.diagnosed.failure.id)))

    def action_draft(self) -> None:
        """Open the form for a new entry."""
        from logdoctor.terminal.screens.draft import DraftScreen

        if self.case.verdict is not None and self.case.log is not None:
            self.app.push_screen(DraftScreen(self._desk, self.case, self._desk.layer()))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keys that lead nowhere are not shown."""
        verdict = self.case.verdict
        if action == "draft":
            return verdict is not None and bool(verdict.worth_reading) and self.case.log is not None
        if action in ("entry", "evidence"):
            return verdict is not None and (verdict.root is not None or bool(verdict.worth_reading))
        if action == "open":
            return parameters[0] in dict(views_of(self.case))
        return True

    def on_headline_stop_asked(self) -> None:
        """Stop reading."""
        self.case.stop.set()

    def action_back(self) -> None:
        """Stop reading, or go back to the screen before."""
        if self.case.stage == "reading" and not self.case.stop.is_set():
            self.case.stop.set()
        else:
            go_back(self)
