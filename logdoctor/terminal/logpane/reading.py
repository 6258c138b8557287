"""The pass in the background that counts the lines of a log and then looks for folds."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from textual.message import Message

from logdoctor.errors import InputError
from logdoctor.terminal.logpane.folding import find_folds
from logdoctor.terminal.logpane.texts import beside

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.widget import Widget

    from logdoctor.intake import Log
    from logdoctor.terminal.logpane.folding import Fold
    from logdoctor.terminal.logpane.index import LineIndex

__all__ = ["EVERY", "Counted", "Folded", "per_cent", "read_through"]

EVERY = 0.1
"""Seconds between two words about progress."""
_PATIENCE = 0.05


class Counted(Message):
    """The count of lines moved on, or ended (perhaps with a problem)."""

    def __init__(self, *, ended: bool, problem: str = "") -> None:
        super().__init__()
        self.ended = ended
        self.problem = problem


class Folded(Message):
    """The look for folds moved on, or ended."""

    def __init__(self, done: int, folds: list[Fold] | None) -> None:
        super().__init__()
        self.done = done
        self.folds = folds


def read_through(
    widget: Widget, log: Log, index: LineIndex, *, stopped: Callable[[], bool], waits: Callable[[], bool]
) -> None:
    """Count, then look for folds, which gives way while `waits` holds; reports by messages to the widget."""
    try:
        _count(widget, index, stopped)
        if stopped():
            return
        widget.post_message(Counted(ended=True))
        folds = _folds(widget, log, stopped, waits)
        if not stopped():
            widget.post_message(Folded(index.done, folds))
    except InputError as error:
        widget.post_message(Counted(ended=True, problem=beside(str(error))))
    except ValueError:  # the log was closed meanwhile
        return


def _count(widget: Widget, index: LineIndex, stopped: Callable[[], bool]) -> None:
    told, before = time.monotonic(), index.done
    for done in index.grow():
        if stopped():
            return
        if time.monotonic() - told > EVERY:
            widget.post_message(Counted(ended=False))
            told = time.monotonic()
        if done == before:  # a pipe whose writer is slower
            time.sleep(_PATIENCE)
        before = done


def _folds(widget: Widget, log: Log, stopped: Callable[[], bool], waits: Callable[[], bool]) -> list[Fold]:
    told = time.monotonic()
    while waits() and not stopped():
        time.sleep(_PATIENCE)

    def go_on(done: int) -> bool:
        nonlocal told
        if time.monotonic() - told > EVERY:
            widget.post_message(Folded(done, None))
            told = time.monotonic()
        while waits() and not stopped():
            time.sleep(_PATIENCE)
        return not stopped()

    return find_folds(log, go_on)


def per_cent(done: int, total: int | None) -> str:
    """Progress in words."""
    if not total:
        return f"{done / 1e6:.0f} MB"
    return f"{min(done * 100 // total, 100)} %"
