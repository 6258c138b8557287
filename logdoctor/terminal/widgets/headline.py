"""What stands on top of a verdict: the sentence, how sure, rerun; while the log is read, how far."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Button, ProgressBar, Static

from logdoctor.terminal.wording import OUTCOMES, rerun_words, size_words, sureness

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from logdoctor.terminal.desk import Case

__all__ = ["Headline"]

MB = 1_000_000
STAGES = {
    "waiting": "Not read yet.",
    "reading": "Reading the log…",
    "stopped": "Reading was stopped. r reads it again, Escape goes back.",
}


class Headline(Vertical):
    """Filled from a case at each of its stages."""

    class StopAsked(Message):
        """Reading is to be stopped."""

    def compose(self) -> ComposeResult:
        """The parts."""
        yield Static(id="bar", classes="bar")
        yield Static(id="sentence")
        yield Static(id="sure")
        with Horizontal(id="progress"):
            yield Static("loading the catalogue", id="so-far")
            yield ProgressBar(show_eta=False)
            yield Button("Esc Stop", id="stop", compact=True)

    def fill(self, case: Case) -> None:
        """Show a case as far as it is known."""
        verdict = case.verdict
        bar = case.show(case.name)
        if verdict is not None:
            bar = f"{OUTCOMES[verdict.outcome]}   {bar}   {size_words(verdict)}"
        self.query_one("#bar", Static).update(Content(bar))
        sentence = verdict.headline if verdict is not None else case.problem or STAGES.get(case.stage, "")
        self.query_one("#sentence", Static).update(Content.styled(case.show(sentence), "bold"))
        self.query_one("#progress").display = case.stage == "reading"
        sure = self.query_one("#sure", Static)
        finding = case.standing.finding if case.standing else None
        sure.set_class(finding is None, "empty")
        if finding is not None:
            sure.update(Content("\n").join([Content(t) for t in (sureness(finding), rerun_words(finding)) if t]))

    def show_progress(self, done: int, total: int | None) -> None:
        """How far the pass is; without a known size only how much came in."""
        told = f"{done / MB:.1f} MB" if total is None else f"{done / MB:.1f} of {total / MB:.1f} MB"
        self.query_one("#so-far", Static).update(told)
        self.query_one(ProgressBar).update(total=total, progress=done)

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Tell that reading is to be stopped."""
        event.stop()
        self.post_message(self.StopAsked())
