from __future__ import annotations

import asyncio
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from logdoctor.errors import InputError
from logdoctor.intake import Log
from tests.support import ROOT
from tests.terminal.logpane.support import PaneApp, numbered, until


class GatedStore:
    """A stream of which other threads than the test's see only as much as the test lets through."""

    truncated_at_limit = False
    damage = None

    def __init__(self, data: bytes, *, seen: int, size: int | None) -> None:
        self.data = data
        self.seen = seen
        self.size = size
        self._owner = threading.get_ident()
        self._open = threading.Event()
        self.broken = False

    def let_through(self) -> None:
        """Everything may be read."""
        self.seen = self.size = len(self.data)
        self._open.set()

    def blocks(self, size: int) -> Iterator[bytes]:
        """Not asked for by the pane: the pass over a stream is somebody else's."""
        raise AssertionError(size)

    def read_at(self, offset: int, length: int) -> bytes:
        """Another thread waits at the gate when the size is known, and gets nothing when it isn't."""
        if self.broken:
            raise InputError("test.log", "can't be read (made up)", "copy it and try again")
        if self.size is None:
            return self.data[offset : min(offset + length, self.seen)]
        if threading.get_ident() != self._owner and min(offset + length, len(self.data)) > self.seen:
            self._open.wait(20)
        return self.data[offset : min(offset + length, len(self.data))]

    def close(self) -> None:
        """Nobody is left waiting."""
        self._open.set()


BIG = numbered(200_000).encode()


def test_a_stream_still_read_is_shown_as_far_as_it_came_and_grows() -> None:
    async def run() -> None:
        store = GatedStore(BIG, seen=700, size=None)
        app = PaneApp(Log(name="test.log", encoding="utf-8", store=store))
        async with app.run_test(size=(80, 24)) as pilot:
            await until(pilot, lambda: "+" in app.words)
            assert app.screen_rows()[0] == ">  1    step b 1"
            app.pane.go_to(150_000)
            assert app.pane.cursor_line == 1
            assert "line 150000 is shown once" in app.words
            store.let_through()
            await until(pilot, lambda: app.pane.counted and app.pane.cursor_line == 150_000)
            assert any(row.startswith(">150000    step a 150000") for row in app.screen_rows())

    asyncio.run(run())


def test_the_end_is_shown_before_the_lines_are_counted_and_gets_its_numbers_then() -> None:
    async def run() -> None:
        store = GatedStore(BIG, seen=1 << 20, size=len(BIG))
        app = PaneApp(Log(name="test.log", encoding="utf-8", store=store))
        async with app.run_test(size=(80, 24)) as pilot:
            assert not app.pane.counted
            await pilot.press("end", "up", "c")
            rows = app.screen_rows()
            assert rows[-1].endswith("?    step a 200000")
            assert rows[-2].startswith(">")
            assert app.words.startswith("end of the log")
            assert "nothing to copy yet" in app.words
            store.let_through()
            await until(pilot, lambda: app.pane.counted)
            assert app.pane.cursor_line == 199_999
            assert any(row.startswith(">199999    step b 199999") for row in app.screen_rows())

    asyncio.run(run())


def test_a_log_that_can_no_longer_be_read_is_a_message() -> None:
    async def run() -> None:
        store = GatedStore(BIG, seen=len(BIG), size=len(BIG))
        app = PaneApp(Log(name="test.log", encoding="utf-8", store=store))
        async with app.run_test(size=(120, 24)) as pilot:
            await until(pilot, lambda: app.pane.counted)
            store.broken = True
            app.pane.go_to(100_000)
            await pilot.press("pagedown", "w", "c", "right", "home", "f", "t", "end", "shift+up", "c")
            assert any("can't be read (made up)" in row for row in app.screen_rows())
            app.pane.search("step", regex=False)
            await until(pilot, lambda: bool(app.heard))
            assert "can't be read" in app.words

    asyncio.run(run())


def test_the_look_for_folds_rests_while_somebody_waits_for_another_pass() -> None:
    data = b"the same again\n" * 50 + BIG

    async def run() -> None:
        urgent = True
        store = GatedStore(data, seen=len(data), size=len(data))
        app = PaneApp(Log(name="test.log", encoding="utf-8", store=store), gives_way=lambda: urgent)
        async with app.run_test(size=(80, 24)) as pilot:
            await until(pilot, lambda: app.pane.counted)
            await pilot.pause(0.3)
            assert app.screen_rows()[1].split() == ["2", "the", "same", "again"]
            urgent = False
            await until(pilot, lambda: "50 repeated lines" in app.screen_rows()[0])

    asyncio.run(run())


WATCH = """
import asyncio, resource, sys

def peak():
    # What the process it was forked from held counts in getrusage, not here.
    try:
        status = open("/proc/self/status").read()
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return int(status.partition("VmHWM:")[2].split()[0])

sys.path.insert(0, {root!r})
from tests.terminal.logpane.support import PaneApp, until
from logdoctor.intake import open_log

async def run():
    with open_log({path!r}) as log:
        app = PaneApp(log)
        async with app.run_test(size=(200, 60)) as pilot:
            await until(pilot, lambda: app.pane.counted and all(w.is_finished for w in app.workers), seconds=120)
            for key in ("end", "home", "w", "pagedown", "end", "pageup", "w", "right"):
                await pilot.press(key)
                app.screen_rows()
            app.pane.search("z", regex=False)
            await until(pilot, lambda: bool(app.heard), seconds=60)
            app.pane.search("[xz]", regex=True)
            await until(pilot, lambda: len(app.heard) > 1, seconds=120)
        print(peak() // 1024)

asyncio.run(run())
"""


@pytest.mark.long
@pytest.mark.parametrize(
    ("name", "piece", "count"),
    [
        ("one line", b"x" * (1 << 20), 200),
        ("empty lines", b"\n" * (1 << 20), 3),
        ("short lines, all found", b"x\ny\n" * (1 << 18), 4),
    ],
    ids=["one line of 200 MB", "3 million empty lines", "2 million hits"],
)
def test_memory_stays_within_150_mb(tmp_path: Path, name: str, piece: bytes, count: int) -> None:
    path = tmp_path / "build.log"
    with path.open("wb") as file:
        for _ in range(count):
            file.write(piece)
    done = subprocess.run(
        [sys.executable, "-c", WATCH.format(root=str(ROOT), path=str(path))], capture_output=True, text=True, check=True
    )
    assert int(done.stdout) < 150
    assert int(done.stdout) > 20
