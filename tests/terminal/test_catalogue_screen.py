from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING

import pytest
from textual.app import App
from textual.widgets import Input, OptionList, Select, Static

from logdoctor.model import PHASES
from logdoctor.terminal.screens.catalogue import SETTLED, CatalogueScreen
from tests.support import catalogue

if TYPE_CHECKING:
    from textual.message import Message
    from textual.pilot import Pilot

NARROW, WIDE, VERY_WIDE = (80, 24), (132, 40), (200, 60)


class ShelfApp(App[None]):
    """An app with the catalogue on top of an empty screen."""

    def __init__(self, shown: str | None = None) -> None:
        super().__init__()
        self.shelf = CatalogueScreen(catalogue(), shown)
        self.heard: list[Message] = []

    def on_mount(self) -> None:
        """Open it."""
        self.push_screen(self.shelf)

    def on_catalogue_screen_entry_shown(self, event: CatalogueScreen.EntryShown) -> None:
        """Keep it."""
        self.heard.append(event)

    def on_catalogue_screen_searched(self, event: CatalogueScreen.Searched) -> None:
        """Keep it."""
        self.heard.append(event)

    def entries(self) -> list[str]:
        """The ids that were shown, in order."""
        return [event.failure_id for event in self.heard if isinstance(event, CatalogueScreen.EntryShown)]

    def text(self, selector: str) -> str:
        """What a part says."""
        return str(self.shelf.query_one(selector, Static).content)


Script = Callable[["Pilot[None]", ShelfApp], Awaitable[None]]


def play(script: Script, *, size: tuple[int, int] = NARROW, shown: str | None = None) -> None:
    async def run() -> None:
        app = ShelfApp(shown)
        async with app.run_test(size=size) as pilot:
            await pilot.pause(SETTLED * 2)
            await script(pilot, app)

    asyncio.run(run())


def _reading(shelf: CatalogueScreen) -> bool:
    """Asked anew each time, which a type checker would not do."""
    return shelf.reading


async def type_words(pilot: Pilot[None], words: str) -> None:
    await pilot.press(*(("space" if letter == " " else letter) for letter in words))
    await pilot.pause(SETTLED * 3)


def test_everything_is_listed_in_the_order_of_a_build() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        assert len(app.shelf.listed) == len(catalogue())
        phases = [catalogue().failure(one).phase for one in app.shelf.listed]
        assert phases == sorted(phases, key=PHASES.index)
        assert app.text("#fitting").startswith(f"{len(catalogue())} failures")

    play(script)


@pytest.mark.parametrize("size", [NARROW, VERY_WIDE], ids=str)
def test_typing_searches_at_once_also_with_a_slip(size: tuple[int, int]) -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        await type_words(pilot, "upload forbiden")
        assert app.shelf.listed[0] == "deploy-forbidden"
        assert app.shelf.shown == "deploy-forbidden"
        assert f"{len(app.shelf.listed)} of {len(catalogue())} failures" in app.text("#fitting")

    play(script, size=size)


def test_words_of_a_wording_and_of_a_fix_are_found() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        await type_words(pilot, "ReasonPhrase")
        assert "deploy-forbidden" in app.shelf.listed
        app.shelf.query_one("#sought", Input).value = "scoped tokens"
        await pilot.pause(SETTLED * 3)
        assert "deploy-forbidden" in app.shelf.listed

    play(script)


def test_phase_and_tool_narrow_the_list_and_reset_widens_it() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        shelf = app.shelf
        shelf.query_one("#phase", Select).value = "deploy"
        await pilot.pause()
        assert {catalogue().failure(one).phase for one in shelf.listed} == {"deploy"}
        shelf.query_one("#tool", Select).value = "maven"
        await pilot.pause()
        both = set(shelf.listed)
        assert "deploy-forbidden" in both
        assert "deploy-image-push-denied" not in both
        assert "phase deploy | tool maven" in app.text("#fitting")
        shelf.query_one("#found").focus()
        await pilot.press("r")
        await pilot.pause(SETTLED * 3)
        assert len(shelf.listed) == len(catalogue())

    play(script)


def test_filters_are_chosen_by_keys_alone() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        await pilot.press("down", "p", "enter", "down", "enter")
        await pilot.pause()
        assert app.shelf.query_one("#phase", Select).value == PHASES[0]
        assert {catalogue().failure(one).phase for one in app.shelf.listed} == {PHASES[0]}

    play(script)


def test_a_narrow_screen_shows_the_list_or_the_entry() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        shelf = app.shelf
        assert shelf.query_one("#found").display
        assert not shelf.query_one("#entry").display
        await type_words(pilot, "deploy-forbidden")
        await pilot.press("enter")
        await pilot.pause()
        assert shelf.reading
        assert not shelf.query_one("#found").display
        assert shelf.query_one("#entry").size.width == 80
        await pilot.press("escape")
        assert not _reading(shelf)
        assert app.screen is shelf
        assert shelf.query_one("#sought", Input).value == "deploy-forbidden"
        await pilot.press("escape")
        assert app.screen is not shelf

    play(script)


def test_a_wide_screen_shows_both_and_escape_leaves_at_once() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        shelf = app.shelf
        assert shelf.query_one("#found").display
        assert shelf.query_one("#entry").display
        await pilot.press("down", "down", "down")
        assert app.focused is shelf.query_one("#found")
        assert shelf.shown == shelf.listed[3]
        assert app.entries()[-1] == shelf.listed[3]
        await pilot.press("escape")
        assert app.screen is not shelf

    play(script, size=WIDE)


def test_an_entry_is_read_whole_with_its_examples_causes_and_checks() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        shown = app.text("#words")
        failure = catalogue().failure("deploy-forbidden")
        plain = " ".join(shown.split())
        assert all(" ".join(cause.proof.split()) in plain for cause in failure.causes)
        assert all(" ".join(check.ask.split()) in plain for check in failure.checks)
        assert all(reference in plain for reference in failure.references)
        bare = "".join(shown.split())
        examples = [line for s in failure.signatures for e in s.examples for line in e.text.splitlines()]
        assert all("".join(line.split()) in bare for line in examples)
        width = app.shelf.query_one("#entry").size.width
        assert max(map(len, shown.splitlines())) <= width
        await pilot.press("pagedown", "pagedown")
        assert app.shelf.query_one("#entry").scroll_offset.y > 0

    play(script, shown="deploy-forbidden")


def test_a_key_leads_past_the_wordings_to_the_causes() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        await pilot.press("c")
        await pilot.pause()
        top = app.shelf.query_one("#entry").scroll_offset.y
        assert app.text("#words").splitlines()[top].startswith("Cause 1")

    play(script, shown="deploy-forbidden")


def test_an_entry_asked_for_opens_even_when_filters_hide_it() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        app.shelf.query_one("#phase", Select).value = "agent"
        await pilot.pause()
        app.shelf.show_entry("deploy-forbidden")
        await pilot.pause(SETTLED * 3)
        assert app.shelf.shown == "deploy-forbidden"
        assert app.shelf.reading
        app.shelf.show_entry("no-such-entry")
        assert app.shelf.shown == "deploy-forbidden"

    play(script)


def test_a_click_reads_an_entry() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        await pilot.click(OptionList, offset=(12, 4))
        await pilot.pause()
        assert app.shelf.reading
        assert app.shelf.shown == app.shelf.listed[3]

    play(script)


def test_nothing_that_fits_is_said_in_words() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        await type_words(pilot, "qqqqzzzz")
        assert app.shelf.listed == []
        assert app.shelf.shown is None
        assert "Try fewer words" in app.text("#words")
        await pilot.press("enter", "down", "enter")

    play(script, size=VERY_WIDE)


def test_the_state_is_kept_when_the_same_screen_comes_back() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        await type_words(pilot, "checksum")
        await pilot.press("down", "down")
        listed, shown = app.shelf.listed, app.shelf.shown
        app.install_screen(app.shelf, "shelf")
        await pilot.press("escape")
        assert app.screen is not app.shelf
        app.push_screen("shelf")
        await pilot.pause(SETTLED * 3)
        assert (app.shelf.listed, app.shelf.shown) == (listed, shown)
        assert app.shelf.query_one("#sought", Input).value == "checksum"

    play(script, size=WIDE)


def test_a_resize_breaks_the_entry_anew() -> None:
    async def script(pilot: Pilot[None], app: ShelfApp) -> None:
        await pilot.resize_terminal(*VERY_WIDE)
        await pilot.pause(0.1)
        wide = len(app.text("#words").splitlines())
        await pilot.resize_terminal(60, 20)
        await pilot.pause(0.1)
        assert len(app.text("#words").splitlines()) > wide
        assert max(map(len, app.text("#words").splitlines())) <= 60

    play(script, shown="deploy-forbidden")
