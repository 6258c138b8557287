"""The pane as a whole: the lines, a line of words below them, and a prompt; what other screens use."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Self

from textual.binding import Binding
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Static
from textual.worker import get_current_worker

from logdoctor.errors import InputError
from logdoctor.terminal.logpane.finding import BadPatternError
from logdoctor.terminal.logpane.index import LineIndex
from logdoctor.terminal.logpane.marks import LogMark, MarkBook, gated
from logdoctor.terminal.logpane.prompt import Prompt
from logdoctor.terminal.logpane.reading import Counted, Folded, per_cent, read_through
from logdoctor.terminal.logpane.rows import FoldMap, without_marked
from logdoctor.terminal.logpane.seeking import Searched, Seeking
from logdoctor.terminal.logpane.status import Standing, status_words
from logdoctor.terminal.logpane.style import STYLE
from logdoctor.terminal.logpane.texts import LineTexts, beside
from logdoctor.terminal.logpane.view import LogView

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from logdoctor.intake import Log
    from logdoctor.terminal.logpane.finding import Hits
    from logdoctor.terminal.logpane.folding import Fold

__all__ = ["MOST_COPIED", "LogPane"]

MOST_COPIED = 5000
"""Lines that are copied at once; more belong into a file."""


class LogPane(Vertical):
    """A log to look through.

    A log whose size is not known yet is shown as far as another pass has come; the pane never drives that pass.
    `secrets` are lines known to show a secret: their values are masked wherever they stand.
    While `gives_way` holds, say during a pass that somebody waits for, the look for folds rests.
    """

    DEFAULT_CSS = STYLE
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("slash", "ask('text')", "Find"),
        Binding("n", "hit(1)", "Next hit"),
        Binding("N", "hit(-1)", "Previous hit", show=False),
        Binding("g", "ask('line')", "Go to line"),
        Binding("m", "mark(1)", "Next finding"),
        Binding("M", "mark(-1)", "Previous finding", show=False),
        Binding("f", "fold", "Folds"),
        Binding("w", "wrap", "Wrap"),
        Binding("t", "prefixes", "Time stamps", show=False),
        Binding("c", "copy", "Copy"),
        Binding("escape", "stop", "Stop", show=False),
    ]

    class LineChosen(Message):
        """A line was chosen by Enter or click."""

        def __init__(self, line: int) -> None:
            super().__init__()
            self.line = line

    class SearchDone(Message):
        """A search ended: how many lines were found, and the one that is shown."""

        def __init__(self, found: int, line: int | None) -> None:
            super().__init__()
            self.found = found
            self.line = line

    class Copied(Message):
        """Lines went to the clipboard, masked."""

        def __init__(self, lines: int) -> None:
            super().__init__()
            self.lines = lines

    def __init__(
        self,
        log: Log,
        *,
        findings: Sequence[LogMark] = (),
        secrets: Iterable[int] = (),
        gives_way: Callable[[], bool] | None = None,
        id: str | None = None,  # noqa: A002 - the name that all widgets use
    ) -> None:
        super().__init__(id=id)
        self.log_shown = log
        self._marks = MarkBook(gated(findings))
        self._index = LineIndex(log)
        self._texts = LineTexts(log, self._index, secrets)
        self._found_folds: list[Fold] = []
        self._folding = True
        self._seeking = Seeking(self, log)
        self._gives_way = gives_way or bool
        self._wanted: tuple[int, bool] | None = None
        """A line to go to as soon as it is counted."""
        self._notice, self._noticed_at = "", 0
        self._busy = ""

    def compose(self) -> ComposeResult:
        """Lines, words, prompt."""
        yield LogView(self._index, self._texts, self._marks)
        yield Static("", id="words", markup=False)
        yield Prompt()

    def on_mount(self) -> None:
        """Show the beginning at once and count the rest in the background."""
        try:
            next(self._index.grow(), None)
        except InputError as error:
            self._notice = beside(str(error))
        self._view.grown()
        self._say()
        self.run_worker(self._read, thread=True, group="reading", exit_on_error=False)

    def _read(self) -> None:
        worker, seeking = get_current_worker(), self._seeking
        gone, waits = lambda: worker.is_cancelled, lambda: seeking.running or self._gives_way()
        read_through(self, self.log_shown, self._index, stopped=gone, waits=waits)

    # --- for other screens -------------------------------------------------------------------------

    @property
    def cursor_line(self) -> int:
        """The line the cursor is on."""
        return self._view.cursor

    @property
    def line_count(self) -> int:
        """The lines counted so far."""
        return self._index.lines

    @property
    def counted(self) -> bool:
        """Whether all lines are counted."""
        return self._index.complete

    def focus(self, scroll_visible: bool = True) -> Self:  # noqa: FBT001, FBT002 - as the base class has it
        """The lines take the keys."""
        self._view.focus(scroll_visible)
        return self

    def set_findings(self, findings: Sequence[LogMark], *, secrets: Iterable[int] = ()) -> None:
        """Other marks, as soon as they are known."""
        self._marks = self._view.marks = MarkBook(gated(findings))
        self._texts.learn(secrets)
        self._fold_anew()

    def go_to(self, line: int, *, select: bool = True) -> None:
        """Show a line, with the cursor on it unless `select` is off; waits for a line that is not counted yet."""
        if line > self._index.lines and not self._index.complete:
            self._wanted = (line, select)
            self._say(f"line {line} is shown once the count is there")
            return
        self._wanted = None
        cursor = self._view.cursor
        self._view.go(line, centre=True)
        if not select:
            self._view.cursor = min(cursor, max(self._index.lines, 1))
            self._view.refresh()
        self._say("" if line <= self._index.lines else f"the log has no line {line}; this is its last")

    def next_mark(self, step: int) -> bool:
        """Go to the next (or with -1 the previous) finding; False when there is none."""
        line = self._marks.beside(self._view.cursor, step)
        if line is None:
            where = "after this line" if step > 0 else "before this line"
            self._say(f"no finding {where}" if self._marks.lines else "no findings are marked")
            return False
        self.go_to(line)
        return True

    def toggle_fold(self) -> None:
        """Fold runs of lines, or show every line."""
        self._folding = not self._folding
        self._fold_anew()
        folds = len(self._view.folds.folds)
        self._say(f"{folds} run{'' if folds == 1 else 's'} of lines folded" if self._folding else "every line is shown")

    def toggle_wrap(self) -> None:
        """Break long lines, or let them run out of sight."""
        self._view.set_wrap(wrap=not self._view.wrap)
        self._say("long lines are broken" if self._view.wrap else "long lines run on; arrows move sideways")

    def search(self, pattern: str, *, regex: bool) -> None:
        """Look for a text or a pattern in a worker; the first line found from the cursor on is shown."""
        try:
            self._seeking.start(pattern, is_regex=regex, origin=self._view.cursor)
            problem = ""
        except BadPatternError as error:
            problem = beside(str(error))
        self._view.sought = self._seeking.query
        self._view.refresh()
        self._say(problem)
        self.refresh_bindings()

    def stop_search(self) -> bool:
        """Give up a running search; what it found stays. False when none runs."""
        if not self._seeking.stop():
            return False
        self._say("search stopped")
        self.refresh_bindings()
        self.post_message(self.SearchDone(len(self._hits.lines) if self._hits else 0, None))
        return True

    def selected_text(self) -> str:
        """The selected lines, or the cursor's, masked; at most `MOST_COPIED` of them."""
        first, last = self._view.chosen
        last = min(last, first + MOST_COPIED - 1, self._index.lines)
        return "\n".join(self._view.text_of(line) for line in range(first, last + 1))

    # --- keys --------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """A key that has nothing to do here is left to the screen around."""
        if action == "hit":
            return self._hits is not None and bool(self._hits.lines)
        if action == "mark":
            return bool(self._marks.lines)
        if action == "stop":
            return bool(self._seeking.running or self._view.other_end is not None or self._hits is not None)
        return True

    def action_ask(self, what: str) -> None:
        """Ask for a line or a text."""
        self.query_one(Prompt).ask("line" if what == "line" else "text")

    def action_hit(self, step: int) -> None:
        """The next or previous line found."""
        hits = self._hits
        line = hits.beside(self._view.cursor, step) if hits else None
        if hits is None or line is None:
            return
        around = (line <= self._view.cursor) if step > 0 else (line >= self._view.cursor)
        self._show_hit(hits, line)
        if around and len(hits.lines) > 1:
            self._say("on from the top" if step > 0 else "on from the end")

    def action_mark(self, step: int) -> None:
        """The next or previous finding."""
        self.next_mark(step)

    def action_fold(self) -> None:
        """Folds on or off."""
        self.toggle_fold()

    def action_wrap(self) -> None:
        """Wrap on or off."""
        self.toggle_wrap()

    def action_prefixes(self) -> None:
        """Time stamps and the like before the lines, on or off."""
        self._view.prefixes = not self._view.prefixes
        self._view.grown()
        self._say("time stamps and lanes are shown" if self._view.prefixes else "time stamps and lanes are hidden")

    def action_copy(self) -> None:
        """The selected lines, masked, to the clipboard."""
        if not self._index.lines or self._view.tail is not None:
            self._say("nothing to copy yet")
            return
        first, last = self._view.chosen
        text = self.selected_text()
        self.app.copy_to_clipboard(text)
        copied = min(last - first + 1, MOST_COPIED)
        rest = f"; more than {MOST_COPIED} are not copied at once" if last - first + 1 > MOST_COPIED else ""
        self._say(f"{copied} line{'' if copied == 1 else 's'} copied, secrets masked{rest}")
        self.post_message(self.Copied(copied))

    def action_stop(self) -> None:
        """Stop a search; else let go of the selection; else forget what was found."""
        if self.stop_search():
            return
        if self._view.other_end is not None:
            self._view.other_end = None
        else:
            self._seeking.forget()
            self._view.sought = None
        self._view.refresh()
        self._say()
        self.refresh_bindings()

    # --- messages ----------------------------------------------------------------------------------

    def on_log_view_moved(self, event: LogView.Moved) -> None:
        """Tell where the cursor is; what was said of its line stays as long as it is there."""
        event.stop()
        self._say(None if self._view.cursor == self._noticed_at else "")

    def on_log_view_chosen(self, event: LogView.Chosen) -> None:
        """Hand it on."""
        event.stop()
        self.post_message(self.LineChosen(event.line))

    def on_prompt_answered(self, event: Prompt.Answered) -> None:
        """Go there, or look for it."""
        event.stop()
        self.screen.set_focus(self._view)
        if event.asks == "text":
            if event.text:
                self.search(event.text, regex=event.is_regex)
            return
        digits = event.text.replace(",", "").replace(" ", "")
        if digits.isdecimal() and int(digits[:18]) > 0:
            self.go_to(int(digits[:18]))
        elif event.text:
            self._say("a line number is a whole number from 1 on")

    def on_prompt_left(self, event: Prompt.Left) -> None:
        """Back to the lines."""
        event.stop()
        self.screen.set_focus(self._view)

    def on_counted(self, event: Counted) -> None:
        """Show more lines; go where somebody waits to go."""
        event.stop()
        self._busy = "" if event.ended else f"counting lines, {per_cent(self._index.done, self.log_shown.size)}"
        self._view.grown()
        if self._wanted is not None and (event.ended or self._wanted[0] <= self._index.lines):
            line, select = self._wanted
            self._wanted = None
            self.go_to(line, select=select)
        else:
            self._say(event.problem or None)

    def on_folded(self, event: Folded) -> None:
        """Fold what was found."""
        event.stop()
        self._busy = "" if event.folds is not None else f"folding, {per_cent(event.done, self.log_shown.size)}"
        if event.folds is not None:
            self._found_folds = event.folds
            self._fold_anew()
        self._say(None)

    def on_searched(self, event: Searched) -> None:
        """Show the first line found from where the search began, as soon as it is known."""
        event.stop()
        if event.hits is not self._hits or not self._seeking.running:
            return
        line = self._seeking.take(event)
        if line is not None:
            self._show_hit(event.hits, line)
        self._say(event.problem or None)
        self.refresh_bindings()
        if event.ended:
            shown = self._view.cursor if event.hits.rank(self._view.cursor) else None
            self.post_message(self.SearchDone(len(event.hits.lines), shown))

    # --- inside ------------------------------------------------------------------------------------

    @property
    def _hits(self) -> Hits | None:
        return self._seeking.hits

    @property
    def _view(self) -> LogView:
        return self.query_one(LogView)

    def _fold_anew(self) -> None:
        folds = without_marked(self._found_folds, self._marks)
        self._view.set_folds(FoldMap(folds, self._view.folds.opened, active=self._folding))

    def _show_hit(self, hits: Hits, line: int) -> None:
        self._texts.look_at(line, max(hits.far.get(line, 0) - 40, 0))
        self.go_to(line)
        self._view.bring_hit()

    def _say(self, notice: str | None = "") -> None:
        """Tell how things stand, with something new to say; None keeps what was said last."""
        view, hits = self._view, self._hits
        if notice is not None:
            self._notice, self._noticed_at = notice, view.cursor
        first, last = view.chosen
        words = status_words(
            Standing(
                line=view.cursor,
                lines=self._index.lines,
                complete=self._index.complete,
                mark=self._marks.at(view.cursor),
                selected=last - first + 1 if view.anchor is not None else 0,
                column=view.left,
                notice=self._notice,
                hits=None if hits is None or (self._seeking.running and not hits.lines) else len(hits.lines),
                rank=hits.rank(view.cursor) if hits else None,
                more_hits=hits is not None and hits.full,
                busy=self._seeking.progress or self._busy,
                at_end=view.tail is not None,
            )
        )
        self.query_one("#words", Static).update(words)
