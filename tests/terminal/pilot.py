"""What the tests of the app share: an app on the built-in catalogue, waiting, and the screen as text."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from logdoctor.terminal.app import DoctorApp
from logdoctor.terminal.desk import Case, Desk, Recent
from logdoctor.terminal.screens.verdict import VerdictScreen
from tests.support import ROOT, catalogue

SAMPLES = ROOT / "sample_logs"
FORBIDDEN = SAMPLES / "fares-deploy-403.log"
SMALL, LARGE = (80, 24), (200, 60)


def case_of(path: Path) -> Case:
    """A case of a log file, named without its folder so that pictures are the same everywhere."""
    return Case(source=str(path), name=path.name)


def text_case(text: str, name: str = "test.log") -> Case:
    """A case of a text."""
    return Case(source=text.encode(), name=name)


def app_on(*cases: Case, recent: Sequence[Recent] = (), folder: Path | None = None, **hooks: Any) -> DoctorApp:
    """An app that reads nothing of the machine's user."""
    desk = Desk(load=catalogue, recent=lambda: recent, **hooks)
    return DoctorApp(desk, cases, folder or SAMPLES)


def drive(app: DoctorApp, play: Callable[[Pilot[None]], Awaitable[None]], size: tuple[int, int] = SMALL) -> None:
    """Run the app without a terminal and play with it."""

    async def run() -> None:
        async with app.run_test(size=size, notifications=True) as pilot:
            await play(pilot)

    asyncio.run(run())


async def until(pilot: Pilot[None], holds: Callable[[], object], seconds: float = 20.0) -> None:
    """Wait until something holds; fails when it does not in time."""
    for _ in range(int(seconds / 0.02)):
        if holds():
            await pilot.pause()
            return
        await pilot.pause(0.02)
    raise AssertionError("it did not come to hold in time")


async def verdict_screen(pilot: Pilot[None]) -> VerdictScreen:
    """The verdict screen on top, once its log was read and its pane stands."""
    app = pilot.app
    await until(pilot, lambda: isinstance(app.screen, VerdictScreen))
    screen = app.screen
    assert isinstance(screen, VerdictScreen)
    await until(pilot, lambda: screen.case.stage != "reading" and screen.is_mounted)
    if screen.case.stage == "done":
        await until(pilot, lambda: screen.pane is not None and "Reading the log" not in text_of(app))
    await pilot.pause(0.1)  # a busy machine paints late
    return screen


def lines_of(app: DoctorApp) -> list[str]:
    """The screen as a person reads it, without colours."""
    width, height = app.size
    strips = app.screen._compositor.render_strips()  # noqa: SLF001 - what is painted
    return ["".join(segment.text for segment in strip)[:width].rstrip() for strip in strips[:height]]


def text_of(app: DoctorApp) -> str:
    """The whole screen as one text."""
    return "\n".join(lines_of(app))


Play = Callable[[Pilot[None]], Coroutine[Any, Any, None]]
