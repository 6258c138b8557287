from __future__ import annotations

import time
from pathlib import Path
from typing import cast

from textual import events
from textual.pilot import Pilot
from textual.widgets import Input

from logdoctor.terminal.app import DoctorApp
from logdoctor.terminal.desk import Recent
from logdoctor.terminal.messages import PastedTooMuch
from logdoctor.terminal.screens.start import StartScreen
from logdoctor.terminal.screens.verdict import VerdictScreen
from logdoctor.terminal.widgets.folder import FolderRows, entries_of
from logdoctor.terminal.widgets.paste import PasteBox, PathSuggester
from logdoctor.terminal.widgets.rows import Rows
from tests.terminal.pilot import FORBIDDEN, LARGE, app_on, drive, text_of, until, verdict_screen


def test_a_paste_is_read_at_once_and_kept_when_going_back() -> None:
    async def play(pilot: Pilot[None]) -> None:
        app = cast("DoctorApp", pilot.app)
        await until(pilot, lambda: isinstance(app.screen, StartScreen))
        assert isinstance(app.focused, PasteBox)
        app.post_message(events.Paste(FORBIDDEN.read_text().replace("\n", "\r")))
        screen = await verdict_screen(pilot)
        assert screen.case.verdict is not None
        assert screen.case.verdict.root is not None
        assert screen.case.verdict.root.line == 135
        await pilot.press("n", "2", "escape")
        await pilot.pause()
        assert isinstance(app.screen, StartScreen)
        text = text_of(app)
        assert "x failed  pasted text 1" in text
        app.screen.query_one("#recent").focus()
        await pilot.press("enter")
        await pilot.pause()
        assert app.screen is screen
        assert screen.case.standing is not None
        assert len(screen.case.standing.given) == 1
        assert screen.has_class("answer-causes") or screen.has_class("answer-fix")

    drive(app_on(), play)


def test_five_megabytes_are_taken_in_three_seconds() -> None:
    line = "[INFO] Downloaded from public: https://repo.public.example/maven2/org/a/b.jar (3 kB at 9 kB/s)\n"
    head = FORBIDDEN.read_text()
    text = line * ((5_000_000 - len(head)) // len(line)) + head

    async def play(pilot: Pilot[None]) -> None:
        app = cast("DoctorApp", pilot.app)
        app.desk.diagnoser.book  # noqa: B018 - the catalogue is loaded before the clock starts
        begun = time.monotonic()
        app.post_message(events.Paste(text))
        screen = await verdict_screen(pilot)
        assert time.monotonic() - begun < 3
        assert screen.case.verdict is not None
        assert screen.case.verdict.root is not None

    drive(app_on(), play)


def test_more_than_that_says_how_else() -> None:
    async def play(pilot: Pilot[None]) -> None:
        pilot.app.post_message(PastedTooMuch(9_300_000))
        await pilot.pause()
        text = " ".join(text_of(pilot.app).split())
        assert "9.3 MB" in text
        assert "logdoctor open -" in text
        assert isinstance(pilot.app.screen, StartScreen)

    drive(app_on(), play)


def test_an_empty_paste_opens_nothing_and_a_pasted_path_its_file() -> None:
    async def play(pilot: Pilot[None]) -> None:
        pilot.app.post_message(events.Paste(" \n \n"))
        await pilot.pause()
        assert isinstance(pilot.app.screen, StartScreen)
        pilot.app.post_message(events.Paste(f"'{FORBIDDEN}'\n"))
        screen = await verdict_screen(pilot)
        assert screen.case.path == str(FORBIDDEN)

    drive(app_on(), play)


def test_a_path_is_typed() -> None:
    async def play(pilot: Pilot[None]) -> None:
        await pilot.press("o")
        line = pilot.app.screen.query_one("#path", Input)
        assert line.has_focus
        line.value = str(FORBIDDEN)
        await pilot.press("enter")
        screen = await verdict_screen(pilot)
        assert screen.case.path == str(FORBIDDEN)
        await pilot.press("escape")
        await pilot.pause()
        line.value = str(FORBIDDEN.parent)
        line.focus()
        await pilot.press("enter")
        await pilot.pause()
        assert pilot.app.screen.query_one(FolderRows).has_focus

    drive(app_on(folder=Path(__file__).parent), play)


def test_a_path_that_leads_nowhere_is_told_in_words() -> None:
    async def play(pilot: Pilot[None]) -> None:
        await pilot.press("o")
        pilot.app.screen.query_one("#path", Input).value = "/no/such.log"
        await pilot.press("enter")
        screen = await verdict_screen(pilot)
        assert "/no/such.log: there is no such file" in text_of(pilot.app)
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(pilot.app.screen, StartScreen)
        assert screen.case.stage == "refused"

    drive(app_on(), play)


def test_a_file_is_chosen_from_the_folder(tmp_path: Path) -> None:
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "build.log").write_bytes(FORBIDDEN.read_bytes())
    (tmp_path / ".hidden").write_text("x")

    async def play(pilot: Pilot[None]) -> None:
        rows = pilot.app.screen.query_one(FolderRows)
        rows.focus()
        assert ".hidden" not in text_of(pilot.app)
        await pilot.press("enter")
        await pilot.pause()
        assert rows.folder.name == "inner"
        await pilot.press("enter")
        screen = await verdict_screen(pilot)
        assert screen.case.path == str(tmp_path / "inner" / "build.log")

    drive(app_on(folder=tmp_path), play)


def test_a_folder_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    async def play(pilot: Pilot[None]) -> None:
        rows = pilot.app.screen.query_one(FolderRows)
        rows.show_folder(tmp_path / "gone")
        await pilot.pause()
        assert "No such file or directory" in text_of(pilot.app)
        assert rows.folder == tmp_path

    drive(app_on(folder=tmp_path), play, LARGE)


def test_earlier_verdicts_are_listed_once_there_are_some() -> None:
    recent = [
        Recent(when="2026-03-02 10:15", name="fares", headline="Stopped on deploy.", path=str(FORBIDDEN)),
        Recent(when="2026-03-01 09:00", name="berth", headline="[b]The build[/b] succeeded."),
    ]

    async def play(pilot: Pilot[None]) -> None:
        text = text_of(pilot.app)
        assert "2026-03-02 10:15  fares" in text
        assert "[b]The build[/b] succeeded." in text
        rows = pilot.app.screen.query_one("#recent", Rows)
        rows.focus()
        await pilot.press("down", "enter")
        await pilot.pause()
        assert isinstance(pilot.app.screen, StartScreen)
        await pilot.press("up", "enter")
        screen = await verdict_screen(pilot)
        assert screen.case.path == str(FORBIDDEN)

    drive(app_on(recent=recent), play)


def test_no_list_of_verdicts_where_there_are_none() -> None:
    async def play(pilot: Pilot[None]) -> None:
        assert not pilot.app.screen.query_one("#recent").display

    drive(app_on(), play)


def test_logs_come_before_other_files_and_folders(tmp_path: Path) -> None:
    for name in ("a.py", "b.log", "c.LOG.gz"):
        (tmp_path / name).write_text("x")
    (tmp_path / "d").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    found, left_out = entries_of(tmp_path)
    assert {e.name for e in found[:2]} == {"b.log", "c.LOG.gz"}
    assert [e.name for e in found[2:]] == ["a.py", "d"]
    assert left_out == 0


def test_the_suggester_completes_files_and_folders(tmp_path: Path) -> None:
    import asyncio

    (tmp_path / "sailing").mkdir()
    (tmp_path / "sales.log").write_text("x")
    suggest = PathSuggester().get_suggestion
    assert asyncio.run(suggest(f"{tmp_path}/sai")) == f"{tmp_path}/sailing/"
    assert asyncio.run(suggest(f"{tmp_path}/sal")) == f"{tmp_path}/sales.log"
    assert asyncio.run(suggest(f"{tmp_path}/x")) is None
    assert asyncio.run(suggest(f"{tmp_path}/")) is None
    assert asyncio.run(suggest("/no/such/x")) is None


def test_the_case_is_a_verdict_screen_only_once() -> None:
    async def play(pilot: Pilot[None]) -> None:
        app = cast("DoctorApp", pilot.app)
        app.open_path(str(FORBIDDEN))
        first = await verdict_screen(pilot)
        await pilot.press("escape")
        await pilot.pause()
        app.open_path(str(FORBIDDEN))
        await pilot.pause()
        assert app.screen is first
        assert len([c for c in app.cases if c.path]) == 1
        assert isinstance(first, VerdictScreen)

    drive(app_on(), play)
