"""An app around one pane, and what the tests ask of it."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from textual.app import App, ComposeResult
from textual.pilot import Pilot
from textual.widgets import Static

from logdoctor.intake import Log, open_log
from logdoctor.terminal.logpane import LogMark, LogPane
from logdoctor.terminal.logpane.view import LogView

if TYPE_CHECKING:
    from textual.message import Message

Script = Callable[[Pilot[None], "PaneApp"], Awaitable[None]]


class PaneApp(App[None]):
    """Nothing but a pane; keeps the messages that other screens would get."""

    def __init__(
        self,
        log: Log,
        findings: Sequence[LogMark] = (),
        secrets: Sequence[int] = (),
        gives_way: Callable[[], bool] | None = None,
    ) -> None:
        super().__init__()
        self.pane = LogPane(log, findings=findings, secrets=secrets, gives_way=gives_way)
        self.heard: list[Message] = []
        self.unbound: list[str] = []

    def compose(self) -> ComposeResult:
        """The pane fills the screen."""
        yield self.pane

    def on_mount(self) -> None:
        """The pane takes the keys."""
        self.pane.focus()

    def on_log_pane_line_chosen(self, event: LogPane.LineChosen) -> None:
        """Keep it."""
        self.heard.append(event)

    def on_log_pane_search_done(self, event: LogPane.SearchDone) -> None:
        """Keep it."""
        self.heard.append(event)

    def on_log_pane_copied(self, event: LogPane.Copied) -> None:
        """Keep it."""
        self.heard.append(event)

    def on_key(self, event: Message) -> None:
        """Keep the keys that the pane has no use for."""
        self.unbound.append(getattr(event, "key", ""))

    @property
    def view(self) -> LogView:
        """The lines."""
        return self.pane.query_one(LogView)

    @property
    def words(self) -> str:
        """The line of words below the lines."""
        return str(self.pane.query_one("#words", Static).content)

    def screen_rows(self) -> list[str]:
        """What stands on the screen, without the blanks at the ends."""
        return [self.view.render_line(y).text.rstrip() for y in range(self.view.size.height)]


async def until(pilot: Pilot[None], what: Callable[[], bool], *, seconds: float = 10) -> None:
    """Wait for work in the background; a wait in vain is a failure."""
    for _ in range(int(seconds / 0.02)):
        if what():
            await pilot.pause()
            return
        await pilot.pause(0.02)
    raise AssertionError("waited in vain")


def play(
    source: bytes | str | Log,
    script: Script,
    *,
    findings: Sequence[LogMark] = (),
    secrets: Sequence[int] = (),
    size: tuple[int, int] = (80, 24),
) -> None:
    """Run a script against a pane whose lines are counted and whose folds are known."""

    async def run() -> None:
        with _log(source) as log:
            app = PaneApp(log, findings, secrets)
            async with app.run_test(size=size) as pilot:
                await until(pilot, partial(_settled, app))
                await script(pilot, app)

    asyncio.run(run())


def _settled(app: PaneApp) -> bool:
    return app.pane.counted and all(worker.is_finished for worker in app.workers)


def _log(source: bytes | str | Log) -> Log:
    if isinstance(source, Log):
        return source
    log = open_log(source.encode() if isinstance(source, str) else source, name="test.log")
    for _ in log.blocks():
        pass
    return log


def numbered(count: int) -> str:
    """Lines that say which they are, none like the one before it."""
    return "".join(f"step {'ab'[number % 2]} {number}\n" for number in range(1, count + 1))
