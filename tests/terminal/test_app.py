from __future__ import annotations

import asyncio
import re
import subprocess
import sys
from typing import Any

import pytest
from textual.command import CommandPalette
from textual.pilot import Pilot

from logdoctor.terminal.screens.catalogue import CatalogueScreen
from logdoctor.terminal.screens.help import HELP, HelpScreen
from logdoctor.terminal.screens.start import StartScreen
from logdoctor.terminal.screens.verdict import VerdictScreen
from logdoctor.terminal.themes import MONOCHROME, THEMES
from tests.support import ROOT
from tests.terminal.pilot import FORBIDDEN, LARGE, app_on, case_of, drive, text_of, until, verdict_screen


def test_help_opens_everywhere_and_closes_again() -> None:
    async def play(pilot: Pilot[None]) -> None:
        screen = await verdict_screen(pilot)
        await pilot.press("f1")
        await pilot.pause()
        assert isinstance(pilot.app.screen, HelpScreen)
        assert "take the last answer back" in text_of(pilot.app)
        await pilot.press("f1")
        await pilot.pause()
        assert pilot.app.screen is screen

    drive(app_on(case_of(FORBIDDEN)), play, LARGE)


def test_the_help_names_every_key_of_the_verdict_screen() -> None:
    told = {word for _, keys in HELP for key, _ in keys for word in re.findall(r"[a-z?/]|Esc|Enter", key)}
    names = {"question_mark": "?", "escape": "Esc"}
    for binding in VerdictScreen.BINDINGS:
        key = binding.key if not isinstance(binding, tuple) else binding[0]
        if not key.isdigit() and key != "d":  # d has a meaning only where the entry form is there
            assert names.get(key, key) in told, key


def test_every_look_can_be_put_on() -> None:
    async def play(pilot: Pilot[None]) -> None:
        seen = [pilot.app.theme]
        for _ in THEMES:
            await pilot.press("f2")
            await pilot.pause()
            seen.append(pilot.app.theme)
        assert set(seen) == {theme.name for theme in THEMES}
        assert seen[0] == seen[-1]

    drive(app_on(case_of(FORBIDDEN)), play)


def test_no_color_puts_on_the_look_without_hues(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")

    async def play(pilot: Pilot[None]) -> None:
        await verdict_screen(pilot)
        assert pilot.app.theme == MONOCHROME
        strips = pilot.app.screen._compositor.render_strips()  # noqa: SLF001 - what is painted
        hues = {
            tuple(color.triplet)
            for strip in strips
            for segment in strip
            if segment.style
            for color in (segment.style.color, segment.style.bgcolor)
            if color is not None and color.triplet is not None
        }
        assert hues
        assert all(max(hue) - min(hue) <= 1 for hue in hues)

    drive(app_on(case_of(FORBIDDEN)), play)


def test_the_command_palette_finds_our_commands() -> None:
    async def play(pilot: Pilot[None]) -> None:
        await verdict_screen(pilot)
        await pilot.press("ctrl+p")
        await until(pilot, lambda: isinstance(pilot.app.screen, CommandPalette))
        await pilot.press(*"ticket")
        await until(pilot, lambda: "Text for a ticket" in text_of(pilot.app))
        titles = [c.title for c in pilot.app.get_system_commands(pilot.app.screen_stack[-2])]
        assert {"Help", "Catalogue", "Quit", "Colours: light"} <= set(titles)

    drive(app_on(case_of(FORBIDDEN)), play)


def test_the_catalogue_opens_and_comes_back() -> None:
    async def play(pilot: Pilot[None]) -> None:
        await pilot.press("c")
        await until(pilot, lambda: isinstance(pilot.app.screen, CatalogueScreen))
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(pilot.app.screen, StartScreen))

    drive(app_on(), play)


def test_a_verdict_leads_to_its_entry_and_back() -> None:
    async def play(pilot: Pilot[None]) -> None:
        screen = await verdict_screen(pilot)
        await pilot.press("e")
        await until(pilot, lambda: isinstance(pilot.app.screen, CatalogueScreen))
        await until(pilot, lambda: "The repository refused the upload" in text_of(pilot.app))
        await pilot.press("escape")
        await until(pilot, lambda: pilot.app.screen is screen)

    drive(app_on(case_of(FORBIDDEN)), play, LARGE)


@pytest.mark.parametrize(("key", "code"), [("q", 0), ("ctrl+q", 0), ("ctrl+c", 130)])
def test_leaving(key: str, code: int) -> None:
    app = app_on(case_of(FORBIDDEN))

    async def play(pilot: Pilot[None]) -> None:
        await verdict_screen(pilot)
        await pilot.press(key)

    drive(app, play)
    assert app.return_code == code
    assert all(c.stop.is_set() for c in app.cases)


class BrokenError(Exception):
    """A fault of our own."""


def test_a_fault_ends_the_app_and_is_kept_for_the_command() -> None:
    app = app_on()

    async def play(pilot: Pilot[None]) -> None:
        def breaks() -> None:
            raise BrokenError

        pilot.app.call_later(breaks)
        await pilot.pause()

    with pytest.raises(BrokenError):
        drive(app, play)
    assert isinstance(app.fault, BrokenError)
    assert app._exit_renderables == []  # noqa: SLF001 - what would be printed


def test_a_fault_in_the_diagnosis_is_one_too(monkeypatch: pytest.MonkeyPatch) -> None:
    app = app_on(case_of(FORBIDDEN))

    def breaks(*_: Any, **__: Any) -> None:
        raise BrokenError

    monkeypatch.setattr("logdoctor.diagnosis.Diagnoser.diagnose", breaks)

    async def play(pilot: Pilot[None]) -> None:
        await asyncio.sleep(2)
        await pilot.pause()

    with pytest.raises(Exception, match="BrokenError"):
        drive(app, play)
    assert isinstance(app.fault, BrokenError)


def test_textual_is_imported_only_when_the_app_starts() -> None:
    code = "import sys; import logdoctor.cli.open, logdoctor.cli.main; print([m for m in sys.modules if m.startswith('textual')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"


def test_a_start_screen_can_be_reached_from_a_verdict() -> None:
    async def play(pilot: Pilot[None]) -> None:
        screen = await verdict_screen(pilot)
        palette = {c.title: c.callback for c in pilot.app.get_system_commands(screen)}
        palette["Start screen"]()
        await until(pilot, lambda: isinstance(pilot.app.screen, StartScreen))
        assert "fares-deploy-403.log" in text_of(pilot.app)
        await pilot.press("escape")
        await until(pilot, lambda: pilot.app.screen is screen)

    drive(app_on(case_of(FORBIDDEN)), play)
