"""The fix of the chosen cause: steps, owner, caution, proof."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import VerticalScroll
from textual.content import Content

from logdoctor.reports.text import RERUN_WORDS
from logdoctor.terminal.widgets.prose import Para, Prose
from logdoctor.terminal.wording import layer_words, owner_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from textual.app import ComposeResult

    from logdoctor.model import Finding, RankedCause

__all__ = ["FixPanel"]


class FixPanel(VerticalScroll):
    """What to change, who can, what to mind, and how the next log shows that it worked."""

    def compose(self) -> ComposeResult:
        """The text."""
        yield Prose(id="fix")

    def fill(self, finding: Finding, cause: str | None, show: Callable[[str], str]) -> None:
        """Show the fix of one cause, by default of the first."""
        if not finding.causes:
            return
        number, ranked = next(
            ((n, r) for n, r in enumerate(finding.causes, start=1) if r.cause.id == cause), (1, finding.causes[0])
        )
        self.border_title = f"Fix for cause {number}" if len(finding.causes) > 1 else "Fix"
        self.border_subtitle = "s: text for a ticket"
        self.query_one(Prose).fill(*_rows(finding, ranked, show))
        self.scroll_home(animate=False)


def _rows(finding: Finding, ranked: RankedCause, show: Callable[[str], str]) -> Iterator[Para]:
    cause = ranked.cause
    yield Para(show(cause.says), style="italic")
    layer = layer_words(finding.failure.layer)
    yield Para(f"{owner_words(cause.owner)}{f'; this fix comes {layer}' if layer else ''}", _label("Who: "))
    yield from (Para(show(step), f"{number}. ") for number, step in enumerate(cause.fix, start=1))
    if cause.caution:
        yield Para(show(cause.caution), _label("Caution: ", "bold $warning"), under=3)
    yield Para(show(cause.proof), _label("Fixed when: ", "bold $success"), under=3)
    yield Para(RERUN_WORDS[cause.rerun], _label("Rerun: "), under=3)
    yield Para("")
    yield Para(show(finding.failure.meaning), _label("The failure: "), under=3)


def _label(text: str, style: str = "bold") -> Content:
    return Content.styled(text, style)
