"""The form over a draft: made, written on, looked at, saved, left."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import yaml
from textual.widgets import Select, TextArea

from logdoctor.drafting import examine_text
from logdoctor.intake import open_log
from logdoctor.terminal.screens.draft import DraftScreen
from tests.support import catalogue
from tests.terminal.pilot import app_on, drive, text_case, text_of, until, verdict_screen

if TYPE_CHECKING:
    from textual.pilot import Pilot

LOG = (
    "+ ./tide-tables --publish --token=hV7kQ2mZ9wX4tR8sLpQd\nreading 31 tables\n"
    "tidepress: fatal: the tide table of March is upside down\n"
    "tidepress: error: key hV7kQ2mZ9wX4tR8sLpQd publishes as before\nBuild step failed\nFinished: FAILURE\n"
)
ENTRY = """
id: deploy-tide-table-upside-down
phase: deploy
title: The tide table is upside down
meaning: The table was read from its end.
signatures:
  - id: tidepress
    tool: tidepress
    line: 'the tide table of \\w+ is upside down'
    literal: 'is upside down'
    examples: [{text: 'tidepress: fatal: the tide table of March is upside down', seen: lab}]
    lookalikes: ['tidepress: the tide table of March is upside up']
causes:
  - id: scanned-from-its-end
    says: The scanner read the sheet from its end.
    usual: common
    rerun: useless
    owner: build-owner
    fix: [Turn the sheet and scan it again.]
    caution: null
    proof: The next log says how many rows were read.
"""


async def form(pilot: Pilot[None]) -> DraftScreen:
    """The form, once its draft was looked at."""
    await verdict_screen(pilot)
    await pilot.press("d")
    await until(pilot, lambda: isinstance(pilot.app.screen, DraftScreen) and pilot.app.screen.written is not None)
    screen = pilot.app.screen
    assert isinstance(screen, DraftScreen)
    return screen


def put(screen: DraftScreen, text: str) -> None:
    area = screen.query_one(TextArea)
    screen.written = None
    area.replace(text, (0, 0), area.document.end)


def test_a_draft_is_made_written_on_saved_and_left(tmp_path: Path) -> None:
    async def play(pilot: Pilot[None]) -> None:
        screen = await form(pilot)
        area = screen.query_one(TextArea)
        assert yaml.safe_load(area.text)["signatures"][0]["tool"]
        assert "hV7kQ2mZ" not in area.text
        assert area.selected_text.startswith("TODO")
        assert "matches line 3 of this log" in text_of(pilot.app)
        assert "still to be written" in text_of(pilot.app)
        put(screen, area.text.replace("is upside down", "is downside up"))
        await until(pilot, lambda: screen.written is not None)
        assert "matches no line of this log" in text_of(pilot.app)
        await pilot.press("escape")
        assert pilot.app.screen is screen
        await pilot.press("ctrl+z")
        await until(pilot, lambda: screen.written is not None and bool(screen.written.lines))
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert screen.saved is not None
        assert screen.saved.read_text() == area.text
        assert screen.saved.is_relative_to(tmp_path)
        await pilot.press("escape")
        await pilot.pause()
        assert pilot.app.screen is not screen

    drive(app_on(text_case(LOG), layer=lambda: tmp_path), play)


def test_an_entry_that_is_there_is_not_replaced(tmp_path: Path) -> None:
    there = tmp_path / "deploy" / "tide-table-upside-down.yaml"
    there.parent.mkdir()
    there.write_text("written by somebody")

    async def play(pilot: Pilot[None]) -> None:
        screen = await form(pilot)
        put(screen, ENTRY)
        await until(pilot, lambda: screen.written is not None)
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert screen.saved is None
        assert there.read_text() == "written by somebody"
        put(screen, "id: [")
        await until(pilot, lambda: screen.written is not None)
        assert screen.written is not None
        assert "not YAML" in screen.written.problems[0]
        await pilot.press("ctrl+s", "escape", "escape")
        await pilot.pause()
        assert pilot.app.screen is not screen

    drive(app_on(text_case(LOG), layer=lambda: tmp_path), play)


def test_another_line_gives_another_draft(tmp_path: Path) -> None:
    async def play(pilot: Pilot[None]) -> None:
        screen = await form(pilot)
        before = screen.query_one(TextArea).text
        screen.query_one(Select).value = 4
        await until(pilot, lambda: screen.query_one(TextArea).text != before)
        assert "publishes as before" in screen.query_one(TextArea).text
        assert "hV7kQ2mZ" not in screen.query_one(TextArea).text

    drive(app_on(text_case(LOG), layer=lambda: tmp_path), play)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "mapping"),
        ("- a\n- b", "mapping"),
        ("id: 'a", "not YAML"),
        ("a: &x [1]\nb: *x", "by reference"),
        ("id: [1, {2: 3}]\nphase: 7\nsignatures: 4\ncauses: {a: b}", "$."),
        (ENTRY.replace("the tide table of \\w+ is upside down", "(unclosed"), "$.signatures"),
        (ENTRY.replace("line: 'the tide table of \\w+ is upside down'", "line: '(a+)+$'"), "$.signatures"),
    ],
)
def test_whatever_is_typed_gives_problems_and_no_fault(text: str, problem: str) -> None:
    with open_log(LOG.encode()) as log:
        written = examine_text(text, log, catalogue())
    assert any(problem in told for told in written.problems)


def test_a_pattern_that_matches_others_is_told() -> None:
    text = ENTRY.replace("the tide table of \\w+ is upside down", "Could not find artifact").replace(
        "literal: 'is upside down'", "literal: 'Could not find artifact'"
    )
    with open_log(LOG.encode()) as log:
        assert any("also matches an example of" in told for told in examine_text(text, log, catalogue()).problems)


@pytest.mark.parametrize("name", ["../../etc/x", "Deploy X", "", "a/b"])
def test_an_id_that_is_no_plain_name_names_no_file(name: str) -> None:
    with open_log(LOG.encode()) as log:
        assert not examine_text(
            ENTRY.replace("deploy-tide-table-upside-down", repr(name)), log, catalogue()
        ).can_be_saved
