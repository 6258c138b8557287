"""Passes what the command prints on to our own output, as it comes, and into the spool."""

from __future__ import annotations

import os
import selectors
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from logdoctor.running.spool import Spool
    from logdoctor.running.streams import Channel

__all__ = ["Pump"]

BLOCK = 64 * 1024
IDLE = 0.05
"""Seconds without output after which there is time for other work."""
LINGER = 0.15
"""Seconds of silence after the command's end, when something it left running still holds the output open."""
LONGEST_LINGER = 2.0


class Pump:
    """Reads all channels until they end, or until the command has ended and they are silent."""

    def __init__(self, channels: Sequence[Channel], spool: Spool, ended: int, idle: Callable[[], bool]) -> None:
        self._spool = spool
        self._ended = ended
        self._idle = idle
        self._has_ended: float | None = None
        self._quiet_since = 0.0
        self._selector = selectors.DefaultSelector()
        for channel in channels:
            self._selector.register(channel.outer, selectors.EVENT_READ, channel)
        self._selector.register(ended, selectors.EVENT_READ, None)

    def run(self) -> None:
        """Return when nothing more is to come."""
        while self._open():
            ready = self._selector.select(self._patience())
            now = time.monotonic()
            passed = 0
            for key, _ in ready:
                if key.data is None:
                    self._selector.unregister(self._ended)
                    self._has_ended = self._quiet_since = now
                else:
                    passed += self._pass(key.data)
            if passed:
                self._quiet_since = now
            if self._has_ended is not None and self._silent(now):
                return

    def _open(self) -> bool:
        """Whether a channel is open, or the command has not ended."""
        return any(key.data is not None for key in self._selector.get_map().values()) or self._has_ended is None

    def _silent(self, now: float) -> bool:
        assert self._has_ended is not None  # noqa: S101 - the caller asked
        return now - self._quiet_since >= LINGER or now - self._has_ended >= LONGEST_LINGER

    def _patience(self) -> float | None:
        """How long to wait for output: not long while there is other work or something to wait out."""
        if self._has_ended is not None:
            return LINGER
        return IDLE if self._idle() else None

    def _pass(self, channel: Channel) -> int:
        try:
            data = os.read(channel.outer, BLOCK)
        except OSError:  # how a pseudo-terminal tells that the other side is closed
            data = b""
        if not data:
            self._shut(channel)
            return 0
        self._spool.keep(data)
        try:
            _write_all(channel.stands_for[0], data)
        except OSError:
            # Our reader is gone: so the command's next write fails, as it would without us.
            self._shut(channel)
        return len(data)

    def _shut(self, channel: Channel) -> None:
        self._selector.unregister(channel.outer)
        os.close(channel.outer)


def _write_all(descriptor: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        try:
            view = view[os.write(descriptor, view) :]
        except BlockingIOError:
            _wait_for_room(descriptor)


def _wait_for_room(descriptor: int) -> None:
    """Whoever gave us the output made it non-blocking: wait until it takes more."""
    with selectors.DefaultSelector() as selector:
        selector.register(descriptor, selectors.EVENT_WRITE)
        selector.select()
