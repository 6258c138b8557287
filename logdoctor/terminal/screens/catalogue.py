"""The catalogue to look through: type to search, filter by phase and tool, read an entry whole.

The screen keeps its state, so an app that wants it kept pushes the same one again.
"""

from __future__ import annotations

import re
import textwrap
from collections import defaultdict
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Footer, Input, OptionList, Select, Static
from textual.widgets.option_list import Option

from logdoctor.catalogue.searching import search
from logdoctor.model import PHASES
from logdoctor.reports.entry import entry_text
from logdoctor.reports.plain import Gate

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.timer import Timer

    from logdoctor.catalogue import Catalogue
    from logdoctor.model import Failure

__all__ = ["CatalogueScreen"]

_HEAD = re.compile(r"(?:Wordings|References)$|(?:Cause|Check) [\w-]+|  (?:Caution:|Fix, by)")
SETTLED = 0.08
"""Seconds without a key after which the list is searched anew."""


class CatalogueScreen(Screen[None]):
    """All known failures; on a narrow screen the list gives way to the entry that is read."""

    CSS_PATH = "../styles/catalogue.tcss"
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012 - the base class declares it without ClassVar
        (0, "-narrow"),
        (130, "-wide"),
        (170, "-very-wide"),
    ]
    AUTO_FOCUS = "#sought"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "Back"),
        Binding("slash", "focus_on('#sought')", "Search"),
        Binding("p", "focus_on('#phase')", "Phase"),
        Binding("t", "focus_on('#tool')", "Tool"),
        Binding("c", "causes", "Causes"),
        Binding("r", "reset", "Show all"),
    ]

    class EntryShown(Message):
        """An entry is on the screen."""

        def __init__(self, failure_id: str) -> None:
            super().__init__()
            self.failure_id = failure_id

    class Searched(Message):
        """The list was made anew: how many entries fit."""

        def __init__(self, fitting: int) -> None:
            super().__init__()
            self.fitting = fitting

    def __init__(self, catalogue: Catalogue, shown: str | None = None) -> None:
        super().__init__()
        self._catalogue = catalogue
        self._tools = _tools_of(catalogue)
        self._timer: Timer | None = None
        self._lines: list[str] = []
        self._causes = 0
        """The row of the entry in which its causes begin."""
        self.shown = shown
        """The id of the entry that is shown."""

    def compose(self) -> ComposeResult:
        """Search and filters on top, then the list and the entry."""
        with Horizontal(id="asked"):
            yield Input(placeholder="Type to search titles, wordings and fixes", compact=True, id="sought")
            yield Select(
                [("every phase", ""), *((phase, phase) for phase in PHASES)],
                allow_blank=False,
                compact=True,
                id="phase",
            )
            tools = sorted({tool for known in self._tools.values() for tool in known})
            yield Select(
                [("every tool", ""), *((tool, tool) for tool in tools)], allow_blank=False, compact=True, id="tool"
            )
        yield Static("", id="fitting", markup=False)
        with Horizontal(id="halves"):
            yield OptionList(id="found", markup=False)
            with VerticalScroll(id="entry"):
                yield Static("", id="words", markup=False)
        yield Footer()

    def on_mount(self) -> None:
        """Everything is listed; an entry asked for is opened."""
        wanted = self.shown
        self._list()
        if wanted is not None:
            self.show_entry(wanted)

    # --- for other screens -------------------------------------------------------------------------

    @property
    def reading(self) -> bool:
        """Whether the entry has taken the list's place."""
        return self.has_class("reading")

    @property
    def listed(self) -> list[str]:
        """The ids in the list, in order."""
        return [str(option.id) for option in self.query_one("#found", OptionList).options]

    def show_entry(self, failure_id: str) -> None:
        """Open an entry, whatever the filters leave of the list; nothing happens when there is none."""
        if failure_id not in self._catalogue:
            return
        if failure_id not in self.listed:
            self.action_reset()
            self._list()
        found = self.query_one("#found", OptionList)
        found.highlighted = found.get_option_index(failure_id)
        self._show(failure_id)
        self._read()

    # --- keys --------------------------------------------------------------------------------------

    def action_back(self) -> None:
        """From the entry to the list where they share a place; else to the screen before."""
        if self.reading and self.has_class("-narrow"):
            self.remove_class("reading")
            self.query_one("#found").focus()
        else:
            self.dismiss(None)

    def action_focus_on(self, selector: str) -> None:
        """Go to the search field or a filter."""
        self.remove_class("reading")
        self.query_one(selector).focus()

    def action_reset(self) -> None:
        """No words, no filters."""
        self.query_one("#sought", Input).value = ""
        self.query_one("#phase", Select).value = ""
        self.query_one("#tool", Select).value = ""

    def action_causes(self) -> None:
        """From the wordings, which may be many, to the causes and what to do."""
        if self.shown is None:
            return
        self._read()
        self.query_one("#entry", VerticalScroll).scroll_to(y=self._causes, animate=False)

    def on_resize(self) -> None:
        """The entry is broken to the new width."""
        self.call_after_refresh(self._draw)

    def key_down(self) -> None:
        """From the search field into the list, whose first entry is chosen already: the list takes this key too."""
        if self.focused is self.query_one("#sought"):
            self.query_one("#found").focus()

    # --- messages ----------------------------------------------------------------------------------

    def on_input_changed(self, event: Input.Changed) -> None:
        """Search once the typing pauses."""
        event.stop()
        if self._timer is not None:
            self._timer.stop()
        self._timer = self.set_timer(SETTLED, self._list)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter opens the best fit."""
        event.stop()
        self._list()
        if self.listed:
            self._show(self.listed[0])
            self._read()

    def on_select_changed(self, event: Select.Changed) -> None:
        """Another filter."""
        event.stop()
        self._list()

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """The entry follows the list."""
        event.stop()
        if event.option.id:
            self._show(event.option.id)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Read it."""
        event.stop()
        if event.option.id:
            self._show(event.option.id)
            self._read()

    # --- inside ------------------------------------------------------------------------------------

    def _list(self) -> None:
        """Make the list anew; the entry that is shown stays, if it still fits."""
        if self._timer is not None:
            self._timer.stop()
            self._timer = None
        fitting = self._fitting()
        found = self.query_one("#found", OptionList)
        found.clear_options()
        found.add_options([Option(_row(failure), id=failure.id) for failure in fitting])
        ids = [str(failure.id) for failure in fitting]
        if ids:
            sought = bool(self.query_one("#sought", Input).value.strip())
            keep = self.shown in ids and not sought
            found.highlighted = ids.index(self.shown) if keep and self.shown else 0
            self._show(ids[found.highlighted or 0])
        else:
            self._show(None)
        self._say(len(ids))
        self.post_message(self.Searched(len(ids)))

    def _fitting(self) -> list[Failure]:
        words = self.query_one("#sought", Input).value.strip()
        phase, tool = self.query_one("#phase", Select).value, self.query_one("#tool", Select).value
        if words:
            ordered = [failure for failure, _ in search(self._catalogue, words)]
        else:
            ordered = sorted(self._catalogue, key=lambda failure: (PHASES.index(failure.phase), failure.title))
        return [f for f in ordered if phase in ("", f.phase) and (not tool or tool in self._tools[f.id])]

    def _show(self, failure_id: str | None) -> None:
        if failure_id is None:
            text = "Nothing in the catalogue fits. Try fewer words, or press r to show all."
            self._lines = [text]
        elif failure_id == self.shown and self._lines:
            return
        else:
            gate = Gate()
            self._lines = [gate.text(line) for line in entry_text(self._catalogue.failure(failure_id)).splitlines()]
        self.shown = failure_id
        self._draw()
        self.query_one("#entry", VerticalScroll).scroll_home(animate=False)
        if failure_id is not None:
            self.post_message(self.EntryShown(failure_id))

    def _draw(self) -> None:
        """Break the entry's lines to the width there is, what goes on set in."""
        width = self.query_one("#entry", VerticalScroll).scrollable_content_region.width or self.size.width or 80
        self._causes = 0
        rows: list[Content] = []
        for number, line in enumerate(self._lines):
            if not self._causes and line.startswith("Cause "):
                self._causes = len(rows)
            style = "bold" if number == 0 or _HEAD.match(line) else ""
            rows += [Content.styled(part, style) for part in _broken(line, width)]
        self.query_one("#words", Static).update(Content("\n").join(rows))

    def _read(self) -> None:
        self.add_class("reading")
        self.call_after_refresh(self._draw)
        self.query_one("#entry").focus()

    def _say(self, fitting: int) -> None:
        total = len(self._catalogue)
        words = f"{fitting} of {total} failures" if fitting != total else f"{total} failures"
        filters = [str(self.query_one(one, Select).value) for one in ("#phase", "#tool")]
        said = [f"{name} {value}" for name, value in zip(("phase", "tool"), filters, strict=True) if value]
        self.query_one("#fitting", Static).update(" | ".join([words, *said, "Enter reads, Esc goes back"]))


def _broken(line: str, width: int) -> list[str]:
    if len(line) <= width:
        return [line]
    lead = line[: len(line) - len(line.lstrip())]
    return textwrap.wrap(line, width, subsequent_indent=f"{lead}    ", break_on_hyphens=False, drop_whitespace=True)


def _row(failure: Failure) -> Content:
    gate = Gate()
    return Content(f"{failure.phase:<9}{gate.text(failure.title)}")


def _tools_of(catalogue: Catalogue) -> dict[str, set[str]]:
    """Tools by failure; a wording that counts as another failure in another phase counts for both."""
    tools: dict[str, set[str]] = defaultdict(set)
    for failure in catalogue:
        for failure_id in (failure.id, *failure.becomes.values()):
            tools[failure_id].update(signature.tool for signature in failure.signatures)
    return tools
