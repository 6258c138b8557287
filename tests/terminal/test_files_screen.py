from __future__ import annotations

from pathlib import Path
from typing import cast

from textual.pilot import Pilot

from logdoctor.terminal.screens.files import FilesScreen
from logdoctor.terminal.screens.verdict import VerdictScreen
from tests.terminal.pilot import SAMPLES, app_on, case_of, drive, text_case, text_of, until, verdict_screen

NAMES = ("berth-deploy-401.log", "berth-ok-warnings.log", "crossings-time-limit.log")


async def all_read(pilot: Pilot[None]) -> FilesScreen:
    await until(pilot, lambda: isinstance(pilot.app.screen, FilesScreen))
    screen = cast("FilesScreen", pilot.app.screen)
    count = len(screen.cases)
    await until(pilot, lambda: f"{count} of {count} logs read" in text_of(pilot.app))
    return screen


def test_each_log_is_listed_with_outcome_and_headline(tmp_path: Path) -> None:
    async def play(pilot: Pilot[None]) -> None:
        await all_read(pilot)
        text = text_of(pilot.app)
        assert "4 of 4 logs read, 1 failed, 1 aborted, 1 succeeded, 1 can't be read" in text
        assert "x failed  berth-deploy-401.log" in text
        assert "Stopped on deploy: the server does not accept the credentials" in text
        assert "! aborted  crossings-time-limit.log" in text
        assert "+ succeeded  berth-ok-warnings.log" in text
        assert "there is no such file" in text

    drive(app_on(*(case_of(SAMPLES / name) for name in NAMES), case_of(tmp_path / "gone.log")), play)


def test_one_is_opened_and_left_as_it_was() -> None:
    async def play(pilot: Pilot[None]) -> None:
        files = await all_read(pilot)
        assert all(c.log is None for c in files.cases)
        await pilot.press("enter")
        screen = await verdict_screen(pilot)
        assert screen.case is files.cases[0]
        assert screen.pane is not None
        await pilot.press("y", "escape")
        await pilot.pause()
        assert pilot.app.screen is files
        await pilot.press("enter")
        await pilot.pause()
        assert pilot.app.screen is screen
        assert screen.case.standing is not None
        assert len(screen.case.standing.given) == 1

    drive(app_on(*(case_of(SAMPLES / name) for name in NAMES)), play)


def test_one_that_cannot_be_read_says_why_and_opens_nothing(tmp_path: Path) -> None:
    async def play(pilot: Pilot[None]) -> None:
        files = await all_read(pilot)
        await pilot.press("enter")
        await pilot.pause()
        assert pilot.app.screen is files
        assert text_of(pilot.app).count("there is no such file") == 2

    drive(app_on(case_of(tmp_path / "gone.log"), case_of(SAMPLES / NAMES[0])), play)


def test_pasted_logs_stay_readable_in_a_list() -> None:
    log = (SAMPLES / NAMES[0]).read_text()

    async def play(pilot: Pilot[None]) -> None:
        await all_read(pilot)
        await pilot.press("down", "enter")
        screen = await verdict_screen(pilot)
        assert screen.case.name == "second"
        assert isinstance(screen, VerdictScreen)

    drive(app_on(text_case(log, "first"), text_case(log, "second")), play)


def test_reading_the_list_can_be_stopped() -> None:
    async def play(pilot: Pilot[None]) -> None:
        await until(pilot, lambda: isinstance(pilot.app.screen, FilesScreen))
        screen = cast("FilesScreen", pilot.app.screen)
        await pilot.press("x")
        await until(
            pilot, lambda: "of 400 logs read" in text_of(pilot.app) and not screen.query_one("#progress").display
        )
        await pilot.pause(0.8)
        read = [c for c in screen.cases if c.stage == "done"]
        assert len(read) < len(screen.cases)
        assert not screen.query_one("#progress").display
        assert f"{len(read)} of 400 logs read" in text_of(pilot.app)

    drive(app_on(*(case_of(SAMPLES / NAMES[n % 3]) for n in range(400))), play)
