"""One picture of each screen in both sizes, as text: what a person reads without any colour.

Pictures are text and not SVG, as the SVG of a screen changes with each version of Textual and says nothing in a review.
`LOGDOCTOR_DRAW=1` draws them anew; look at each difference before it is kept.
"""

from __future__ import annotations

import os
import re
import time
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot

from logdoctor.terminal.app import DoctorApp
from logdoctor.terminal.desk import Recent
from logdoctor.terminal.screens.draft import DraftScreen
from tests.terminal import made
from tests.terminal.pilot import (
    LARGE,
    SMALL,
    app_on,
    case_of,
    drive,
    lines_of,
    text_case,
    until,
    verdict_screen,
)
from tests.terminal.test_files_screen import all_read

PICTURES = Path(__file__).parent / "pictures"
DRAW = os.environ.get("LOGDOCTOR_DRAW") == "1"
RECENT = [
    Recent(
        when="2026-03-02 10:15", name="fares-snapshot", headline="Stopped on deploy: the repository refused the upload."
    ),
    Recent(when="2026-03-01 09:00", name="berth-nightly", headline="The build succeeded."),
]

UNKNOWN = (
    "+ ./tide-tables --publish\nreading 31 tables\ntidepress: fatal: the tide table of March is upside down\n"
    "ERROR: script returned exit code 3\nFinished: FAILURE\n"
)
Prepare = Callable[[Pilot[None]], Awaitable[object]]


def keyed(*keys: str) -> Prepare:
    """A verdict screen after some keys."""

    async def prepare(pilot: Pilot[None]) -> None:
        screen = await verdict_screen(pilot)
        pane = screen.pane
        await until(pilot, lambda: pane is not None and pane.counted)
        await pilot.press(*keys)
        await pilot.pause(0.1)

    return prepare


async def drafted(pilot: Pilot[None]) -> None:
    """The form over a draft, once the draft was looked at."""
    await verdict_screen(pilot)
    await pilot.press("d")
    await until(pilot, lambda: isinstance(pilot.app.screen, DraftScreen) and pilot.app.screen.written is not None)


async def nothing(pilot: Pilot[None]) -> None:
    """A start screen as it comes up."""
    await pilot.pause(0.1)


def folder(tmp_path: Path) -> Path:
    """A folder that looks the same everywhere and always."""
    for number, (name, text) in enumerate(
        [("fares-4711.log", "x" * 12_300), ("notes.md", "x"), ("berth-8.log.gz", "x" * 999)]
    ):
        path = tmp_path / name
        path.write_text(text)
        os.utime(path, (1_772_400_000 + number,) * 2)
    (tmp_path / "older").mkdir()
    return tmp_path


SCREENS: dict[str, tuple[Callable[[Path], DoctorApp], Prepare]] = {
    "start": (lambda tmp: app_on(folder=folder(tmp)), nothing),
    "start-with-verdicts": (lambda tmp: app_on(folder=folder(tmp), recent=RECENT), nothing),
    "files": (
        lambda _: app_on(made.case(), made.succeeded(), made.aborted(), case_of(Path("/gone/build.log"))),
        all_read,
    ),
    "verdict-causes": (lambda _: app_on(made.case()), keyed("1")),
    "verdict-clues": (lambda _: app_on(made.case()), keyed("1", "enter")),
    "verdict-answered": (lambda _: app_on(made.case()), keyed("y")),
    "verdict-fix": (lambda _: app_on(made.case()), keyed("x")),
    "verdict-items": (lambda _: app_on(made.case()), keyed("4")),
    "verdict-more": (lambda _: app_on(made.case()), keyed("5")),
    "verdict-unknown": (lambda _: app_on(made.unknown()), keyed()),
    "verdict-aborted": (lambda _: app_on(made.aborted()), keyed()),
    "verdict-succeeded": (lambda _: app_on(made.succeeded()), keyed()),
    "verdict-ticket": (lambda _: app_on(made.case()), keyed("s")),
    "draft": (lambda _: app_on(text_case(UNKNOWN)), drafted),
    "help": (lambda _: app_on(made.case()), keyed("f1")),
}


@pytest.mark.parametrize("size", [SMALL, LARGE], ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", SCREENS)
def test_the_screen_looks_as_drawn(
    name: str, size: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    make, prepare = SCREENS[name]
    drawn: list[str] = []

    async def play(pilot: Pilot[None]) -> None:
        await prepare(pilot)
        await pilot.pause(0.1)
        drawn.extend(lines_of(pilot.app))

    drive(make(tmp_path), play, size)
    assert all(len(line) <= size[0] for line in drawn)
    text = re.sub(r"(Files in )\S+ ─*", r"\1… ", "\n".join(drawn)) + "\n"
    picture = PICTURES / f"{name}-{size[0]}x{size[1]}.txt"
    if DRAW:
        assert not os.environ.get("CI"), "pictures are drawn and looked at by people"
        picture.parent.mkdir(exist_ok=True)
        picture.write_text(text, encoding="utf-8")
    assert text == picture.read_text(encoding="utf-8")


def test_every_picture_belongs_to_a_screen() -> None:
    wanted = {f"{name}-{width}x{height}.txt" for name in SCREENS for width, height in (SMALL, LARGE)}
    assert {path.name for path in PICTURES.iterdir()} == wanted
