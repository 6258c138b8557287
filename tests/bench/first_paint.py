"""Measures the log pane on a generated log: first paint, key to paint while lines are counted and after, memory.

`python -m tests.bench.first_paint [--megabytes 1024] [--keep FILE]` prints a table; times are of this machine.
"""

from __future__ import annotations

import argparse
import asyncio
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from textual.app import App, ComposeResult
from textual.events import Key

from logdoctor.intake import Log, open_log
from logdoctor.terminal.logpane import LogPane
from logdoctor.terminal.logpane.view import LogView

FIRST_PAINT_GOAL = 1.0  # seconds; what the terminal app promises
KEYS = ("pageup", "pageup", "right", "left", "down", "pagedown", "up", "up")


@dataclass
class Measured:
    """Seconds by what was measured."""

    rows: dict[str, float] = field(default_factory=dict)
    painted: float = 0.0


class PaintApp(App[None]):
    """A pane, and when its lines were first drawn."""

    def __init__(self, log: Log) -> None:
        super().__init__()
        self.pane = LogPane(log)
        self.painted = 0.0

    def compose(self) -> ComposeResult:
        """The pane fills the screen."""
        yield self.pane

    def on_mount(self) -> None:
        """The first paint is the one after the first layout."""
        self.pane.focus()
        self.call_after_refresh(self._note)

    def _note(self) -> None:
        self.painted = time.perf_counter()


def generate(path: Path, megabytes: int) -> None:
    """A build log of that size: downloads, repeated lines, tests with time stamps, an error near the end."""
    lines = []
    for number in range(20_000):
        stamp = f"2026-03-04T10:{number // 60 % 60:02d}:{number % 60:02d}.1234567Z"
        kind = number % 200
        if kind < 60:
            url = f"https://repo.public.example/maven2/org/lib/lib-{number}/1.{number % 9}/lib-{number}.jar"
            lines.append(f"{stamp} [INFO] Downloaded from central: {url} ({number % 900} kB at 1.{number % 9} MB/s)")
        elif kind < 64:
            lines.append(f"{stamp} [INFO]")
        else:
            lines.append(f"{stamp} [INFO] Running example.brackwater.fares.Fare{number}Test {'=' * (number % 120)}")
    block = ("\n".join(lines) + "\n").encode()
    with path.open("wb") as file:
        for _ in range(max(megabytes * (1 << 20) // len(block), 1)):
            file.write(block)
        file.write(b"2026-03-04T11:00:00.1234567Z [ERROR] needle\n2026-03-04T11:00:01.1234567Z [INFO] done\n")


async def _press(app: App[None], view: LogView, key: str) -> float:
    """Seconds from a key to its rows being drawn; the pilot would wait until the whole process is idle."""
    before = time.perf_counter()
    stood = (view.cursor, view.left, view.scroll_offset, view.tail is None)
    app.post_message(Key(key, None))
    while (view.cursor, view.left, view.scroll_offset, view.tail is None) == stood:  # noqa: ASYNC110 - the app tells no event
        await asyncio.sleep(0)
    app.screen._compositor.render_strips()  # noqa: SLF001 - what a paint does, on a screen that is no terminal
    return time.perf_counter() - before


async def _key_times(app: App[None], view: LogView) -> list[float]:
    return [await _press(app, view, key) for key in KEYS]


async def _wait(done: Callable[[], object]) -> None:
    while not done():  # noqa: ASYNC110 - the app tells no event
        await asyncio.sleep(0.005)


async def measure(path: Path, size: tuple[int, int]) -> Measured:
    """All numbers of one window size."""
    found = Measured()
    began = time.perf_counter()
    with open_log(path) as log:
        app = PaintApp(log)
        async with app.run_test(size=size):
            view, pane, rows = app.pane.query_one(LogView), app.pane, found.rows
            await _wait(lambda: app.painted)
            rows["first paint, app's start included"] = app.painted - began
            await _press(app, view, "pagedown")
            await _press(app, view, "pagedown")
            rows["key to paint while counting, worst"] = max(await _key_times(app, view))
            rows["to the end while counting"] = await _press(app, view, "end")
            await _wait(lambda: pane.counted)
            rows["lines counted after"] = time.perf_counter() - began
            rows["key to paint while folding, median"] = statistics.median(await _key_times(app, view))
            pane.go_to(pane.line_count // 2)
            before = time.perf_counter()
            pane.search("needle", regex=False)
            await _wait(lambda: pane.cursor_line == pane.line_count - 1)
            rows["search to a hit at the other end"] = time.perf_counter() - before
            await _wait(lambda: all(worker.is_finished for worker in app.workers))
            rows["folds known after"] = time.perf_counter() - began
            times = await _key_times(app, view)
            rows["key to paint at rest, median"] = statistics.median(times)
            rows["key to paint at rest, worst"] = max(times)
    return found


def main() -> int:
    """Print the table; 1 when the first paint took longer than promised."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megabytes", type=int, default=1024)
    parser.add_argument("--keep", type=Path, help="make the log there and leave it, or use it when it is there")
    options = parser.parse_args()
    late = False
    with tempfile.TemporaryDirectory() as folder:
        path = options.keep or Path(folder) / "build.log"
        if not path.exists():
            generate(path, options.megabytes)
        print(f"{path.stat().st_size / (1 << 20):.0f} MiB")
        for size in ((80, 24), (200, 60)):
            found = asyncio.run(measure(path, size))
            print(f"\n{size[0]}x{size[1]}")
            for name, seconds in found.rows.items():
                print(f"  {name:<40}{seconds * 1000:>10.0f} ms")
            late = late or found.rows["first paint, app's start included"] > FIRST_PAINT_GOAL
    print(f"\npeak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")
    return int(late)


if __name__ == "__main__":
    sys.exit(main())
