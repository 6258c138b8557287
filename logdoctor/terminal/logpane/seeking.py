"""A search as the pane runs it: what is looked for, what was found, and how far it is."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from textual.message import Message
from textual.worker import get_current_worker

from logdoctor.errors import InputError
from logdoctor.terminal.logpane.finding import BadPatternError, Hits, Query, run_search
from logdoctor.terminal.logpane.reading import EVERY, per_cent
from logdoctor.terminal.logpane.texts import beside

if TYPE_CHECKING:
    from textual.widget import Widget
    from textual.worker import Worker

    from logdoctor.intake import Log

__all__ = ["Searched", "Seeking"]


class Searched(Message):
    """A search moved on, or ended (perhaps with a problem)."""

    def __init__(self, hits: Hits, done: int, *, ended: bool, problem: str = "") -> None:
        super().__init__()
        self.hits = hits
        self.done = done
        self.ended = ended
        self.problem = problem


class Seeking:
    """At most one search at a time; its worker reports by messages to the widget."""

    def __init__(self, widget: Widget, log: Log) -> None:
        self._widget = widget
        self._log = log
        self._worker: Worker[None] | None = None
        self._origin: int | None = None
        """Where the search began; None once its first line is shown."""
        self.query: Query | None = None
        self.hits: Hits | None = None
        self.progress = ""

    @property
    def running(self) -> bool:
        """Whether a search is still going over the log."""
        return self._worker is not None

    def start(self, pattern: str, *, is_regex: bool, origin: int) -> None:
        """Look for it from a line on. Raises BadPatternError."""
        self.forget()
        self.query = query = Query(pattern, is_regex=is_regex)
        self.hits = hits = Hits()
        self._origin = origin
        self.progress = "searching"
        self._worker = self._widget.run_worker(
            lambda: self._seek(query, hits), thread=True, group="search", exclusive=True, exit_on_error=False
        )

    def stop(self) -> bool:
        """Give up; what was found stays. False when nothing runs."""
        if self._worker is None:
            return False
        self._worker.cancel()
        self._worker, self.progress = None, ""
        return True

    def forget(self) -> None:
        """No search, nothing found."""
        self.stop()
        self.query = self.hits = None

    def take(self, event: Searched) -> int | None:
        """Note how far the search is; the line to show now, if any."""
        if event.hits is not self.hits or self._worker is None:
            return None
        self.progress = "" if event.ended else f"searching, {per_cent(event.done, self._log.size)}, Esc stops"
        if event.ended:
            self._worker = None
        if self._origin is None:
            return None
        line = event.hits.from_line(self._origin)
        if line is None and event.ended and event.hits.lines:
            line = event.hits.lines[0]
        if line is not None:
            self._origin = None
        return line

    def _seek(self, query: Query, hits: Hits) -> None:
        worker = get_current_worker()
        told, reached, problem = time.monotonic(), 0, ""

        def go_on(done: int) -> bool:
            nonlocal told, reached
            reached = done
            if time.monotonic() - told > EVERY:
                self._widget.post_message(Searched(hits, done, ended=False))
                told = time.monotonic()
            return not worker.is_cancelled

        try:
            run_search(self._log, query, hits, go_on)
        except (BadPatternError, InputError) as error:
            problem = beside(str(error))
        except ValueError:  # the log was closed meanwhile
            return
        if not worker.is_cancelled:
            self._widget.post_message(Searched(hits, reached, ended=True, problem=problem))
