"""Reading that can be watched and stopped: a log that tells how far a pass is, a pipe that gives up when told."""

from __future__ import annotations

import os
import select
from typing import TYPE_CHECKING

from logdoctor.intake import Log

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from threading import Event

__all__ = ["PatientPipe", "Stopped", "WatchedLog"]

_GLANCE = 0.1


class Stopped(Exception):  # noqa: N818 - no error: somebody said stop
    """Reading was stopped on request."""


class WatchedLog(Log):
    """The same log; each block of a pass is told, and a pass ends with `Stopped` once `stop` is set."""

    __slots__ = ("_stop", "_tell")

    def __init__(self, log: Log, tell: Callable[[int, int | None], None], stop: Event) -> None:
        for part in Log.__slots__:  # the same store, so that both see the same log
            setattr(self, part, getattr(log, part))
        self._tell = tell
        self._stop = stop

    def blocks(self, size: int = 1 << 20) -> Iterator[bytes]:
        """As the log; after each block `tell` gets the bytes so far and the bytes in all, where known."""
        done = 0
        for block in super().blocks(size):
            if self._stop.is_set():
                raise Stopped
            yield block
            done += len(block)
            self._tell(done, self.size)


class PatientPipe:
    """A pipe read as its writer fills it; a wait ends at once when `stop` is set."""

    name = "standard input"

    def __init__(self, descriptor: int, stop: Event) -> None:
        self._descriptor = descriptor
        self._stop = stop

    def read(self, size: int) -> bytes:
        """Some bytes, none at the end; raises `Stopped` when told to stop."""
        while not self._stop.is_set():
            if select.select([self._descriptor], [], [], _GLANCE)[0]:
                return os.read(self._descriptor, size)
        raise Stopped

    def close(self) -> None:
        """Let go of the pipe."""
        os.close(self._descriptor)
