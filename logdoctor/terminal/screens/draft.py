"""A form over a draft: a new catalogue entry from an unknown failure, with what it matches and what vetting says while it is written."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Footer, Select, Static, TextArea

from logdoctor.drafting import DraftError, Written, draft_entry, examine_text, place_in_layer, write_new
from logdoctor.drafting.proposing import choose_line
from logdoctor.intake import printable
from logdoctor.masking import mask

if TYPE_CHECKING:
    from pathlib import Path

    from textual.app import ComposeResult
    from textual.timer import Timer

    from logdoctor.terminal.desk import Case, Desk

__all__ = ["DraftScreen"]

SETTLED = 0.3
"""Seconds without a key after which the text is looked at anew."""
SHOWN_PROBLEMS = 3
SHOWN_LINES = 6
LINE_WIDTH = 100


class DraftScreen(Screen[None]):
    """One draft: choose the line it is made from, go on writing, save it in the user's layer."""

    CSS_PATH = "../styles/draft.tcss"
    AUTO_FOCUS = "#text"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "save", "Save", priority=True),
        Binding("ctrl+o", "copy", "Copy", priority=True),
        Binding("ctrl+l", "choose_line", "Line", priority=True),
        Binding("f3", "next_todo", "Next to write", priority=True),
        Binding("ctrl+z", "undo", "Undo", show=False),
        Binding("escape", "back", "Back", priority=True),
    ]

    def __init__(self, desk: Desk, case: Case, folder: Path | None) -> None:
        super().__init__()
        self._desk = desk
        self.case = case
        self._folder = folder
        self._timer: Timer | None = None
        self._made = ""
        self._kept: str | None = None
        self._asked = False
        self._line = choose_line(case.verdict) if case.verdict else None
        self.written: Written | None = None
        self.saved: Path | None = None

    def compose(self) -> ComposeResult:
        """The line it is made from, the text, and what is to be said of it."""
        lines = self._lines()
        best = self._line if any(line == self._line for _, line in lines) else lines[0][1]
        yield Select(lines, value=best, allow_blank=False, compact=True, id="line")
        yield TextArea("", id="text", show_line_numbers=True, soft_wrap=True, tab_behavior="indent")
        with Vertical(id="said"):
            yield Static("Drafting …", id="match", markup=False)
            yield Static("", id="problems", markup=False)
            yield Static("", id="todo", markup=False)
        yield Footer()

    def _lines(self) -> list[tuple[str, int]]:
        verdict = self.case.verdict
        worth = verdict.worth_reading if verdict else ()
        say = verdict.source.says if verdict else str
        return [(f"{say(one.line)}: {self.case.show(one.text.strip())[:LINE_WIDTH]}", one.line) for one in worth]

    def on_mount(self) -> None:
        """Draft from the line that most likely tells the failure."""
        self.query_one("#text").border_title = "A new catalogue entry"
        self._draft(self._line)

    # --- drafting ---

    def on_select_changed(self, event: Select.Changed) -> None:
        """Draft from another line; the text before stays within reach of Undo."""
        if isinstance(event.value, int) and event.value != self._line:
            self._draft(event.value)

    def _draft(self, line: int | None) -> None:
        self._line = line
        self.run_worker(lambda: self._drafting(line), thread=True, exclusive=True, group="draft")

    def _drafting(self, line: int | None) -> None:
        log, verdict = self.case.log, self.case.verdict
        if log is None or verdict is None:
            return
        try:
            draft = draft_entry(log, verdict, line, self._desk.catalogue)
        except (DraftError, ValueError) as error:
            self.app.call_from_thread(self._refused, str(error))
            return
        self.app.call_from_thread(self._drafted, draft.yaml, draft.line)

    def _refused(self, problem: str) -> None:
        self.query_one("#match", Static).update(Content(self.case.show(problem)))

    def _drafted(self, text: str, line: int) -> None:
        self._line = line
        area, choice = self.query_one(TextArea), self.query_one(Select)
        if any(value == line for _, value in self._lines()):
            choice.value = line
        self._made = self.case.show(text) if mask(text) != text else text
        area.replace(self._made, (0, 0), area.document.end)
        area.move_cursor((0, 0))
        self.action_next_todo()

    # --- looking at it ---

    def on_text_area_changed(self) -> None:
        """Look at the text once the keys rest."""
        self._asked = False
        if self._timer is not None:
            self._timer.stop()
        self._timer = self.set_timer(SETTLED, self._look)

    def _look(self) -> None:
        text = self.query_one(TextArea).text
        self.run_worker(lambda: self._looking(text), thread=True, exclusive=True, group="look")

    def _looking(self, text: str) -> None:
        if self.case.log is not None and text.strip():
            written = examine_text(text, self.case.log, self._desk.catalogue)
            self.app.call_from_thread(self._say, written)

    def _say(self, written: Written) -> None:
        self.written = written
        self._tell("match", _match_words(written, self.case))
        self._tell("problems", _problem_words(written))
        self._tell("todo", f"still to be written: {len(written.todo)} (F3 goes there)" if written.todo else "")

    def _tell(self, part: str, text: str) -> None:
        found = self.query_one(f"#{part}", Static)
        found.update(Content(self.case.show(text)))
        found.display = bool(text)

    # --- keys ---

    def action_next_todo(self) -> None:
        """Go to the next part that a person has to write, and select it."""
        area = self.query_one(TextArea)
        rows = area.text.split("\n")
        row, column = area.cursor_location
        places = [(r, c) for r, text in enumerate(rows) if (c := text.find("TODO")) >= 0]
        later = [place for place in places if place > (row, column)] or places
        if later:
            end = rows[later[0][0]].rstrip().removesuffix("'")
            area.selection = type(area.selection)(later[0], (later[0][0], len(end)))
            area.scroll_cursor_visible()
        area.focus()

    def action_choose_line(self) -> None:
        """Choose the line that the draft is made from."""
        choice = self.query_one(Select)
        choice.focus()
        choice.expanded = True

    def action_undo(self) -> None:
        """Take the last change of the text back."""
        self.query_one(TextArea).undo()

    def action_copy(self) -> None:
        """Hand the text to the terminal's clipboard."""
        self.app.copy_to_clipboard(self.query_one(TextArea).text)
        self.notify("Handed to the terminal's clipboard. If pasting brings nothing, your terminal refuses it: save it.")

    def action_save(self) -> None:
        """Save the text as a file of the user's layer, never over one that somebody else wrote."""
        text, written = self.query_one(TextArea).text, self.written
        if self._folder is None:
            self._complain("there is no home folder to keep entries in; copy the text instead")
        elif written is None or not written.can_be_saved or written.id is None or written.phase is None:
            self._complain("without a valid id and phase there is no name for the file")
        else:
            self._write(place_in_layer(self._folder, written.id, written.phase), text)

    def _write(self, target: Path, text: str) -> None:
        text = text if text.endswith("\n") else text + "\n"
        try:
            if target == self.saved:
                target.write_text(text, encoding="utf-8")
            else:
                write_new(target, text)
        except FileExistsError:
            self._complain(f"{target} is there already; give the entry another id")
        except OSError as error:
            self._complain(f"{target}: can't be written ({error.strerror})")
        else:
            self.saved, self._kept = target, self.query_one(TextArea).text
            self.notify(mask(printable(f"Saved in {target}. It is used from the next start on.")), markup=False)

    def _complain(self, text: str) -> None:
        self.notify(mask(printable(text)), severity="error", markup=False)

    def action_back(self) -> None:
        """Go back; a text that was changed and not saved asks for a second Escape."""
        choice = self.query_one(Select)
        if choice.expanded:
            choice.expanded = False
            self.query_one(TextArea).focus()
            return
        text = self.query_one(TextArea).text
        if text in (self._kept, self._made) or self._asked:
            self.dismiss()
            return
        self._asked = True
        self.notify("Not saved. Ctrl+S saves; Escape once more leaves without.", severity="warning")


def _match_words(written: Written, case: Case) -> str:
    """How the signatures fare on this log."""
    if not written.lines:
        return "matches no line of this log"
    say = case.verdict.source.says if case.verdict else str
    shown = ", ".join(say(line) for line in written.lines[:SHOWN_LINES])
    more = f" and {len(written.lines) - SHOWN_LINES} more" if len(written.lines) > SHOWN_LINES else ""
    return f"matches {shown}{more} of this log"


def _problem_words(written: Written) -> str:
    if not written.problems:
        return "vetting finds nothing wrong" if not written.todo else ""
    more = len(written.problems) - SHOWN_PROBLEMS
    rows = [f"to be mended: {problem}" for problem in written.problems[:SHOWN_PROBLEMS]]
    return "\n".join([*rows, f"and {more} more"] if more > 0 else rows)
