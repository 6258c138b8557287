"""Standard input that the first SIGINT ends, so that a log which never ends still gets a verdict of what came so far.

The second SIGINT ends the program as ever. Where there are no such signals, standard input is read as it is.
"""

from __future__ import annotations

import errno
import io
import os
import select
import signal
import stat
import sys
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, BinaryIO, cast

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Input", "stoppable"]

STANDARD_INPUT = "standard input"


class Input:
    """What is to be opened and under which name; `stopped` tells whether an interrupt ended it."""

    def __init__(self, source: str, stream: _StoppableStream | None = None) -> None:
        self._stream = stream
        self.source: str | BinaryIO = cast("BinaryIO", stream) if stream else source
        self.name = STANDARD_INPUT if stream else None

    @property
    def stopped(self) -> bool:
        """Whether an interrupt ended the input before its end."""
        return self._stream is not None and self._stream.stopped


@contextmanager
def stoppable(name: str) -> Iterator[Input]:
    """The input of this name; standard input ends at the first SIGINT while this lasts."""
    descriptor = _descriptor() if name == "-" else None
    if descriptor is None:
        yield Input(name)
        return
    stream = _StoppableStream(descriptor)

    def stop(_number: int, _frame: object) -> None:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        stream.stop()

    signal.signal(signal.SIGINT, stop)
    try:
        yield Input(name, stream)
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        stream.close()


def _descriptor() -> int | None:
    """Standard input's descriptor, where it can be waited for and an interrupt is ours to answer."""
    import threading  # here, as most inputs are files

    if os.name != "posix" or threading.current_thread() is not threading.main_thread():
        return None
    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        return None
    try:
        descriptor = sys.stdin.fileno()
        regular = stat.S_ISREG(os.fstat(descriptor).st_mode)
    except (AttributeError, OSError, ValueError):
        return None
    return None if regular else descriptor


class _StoppableStream(io.RawIOBase):
    """Reads a descriptor; a byte in a pipe of its own wakes it when it is to stop."""

    def __init__(self, descriptor: int) -> None:
        self.stopped = False
        self._seen = False
        self._descriptor = descriptor
        self._wake, self._waker = os.pipe()
        os.set_blocking(self._waker, False)

    def stop(self) -> None:
        """End the stream; may be called from a signal handler."""
        if not self._seen:
            raise KeyboardInterrupt  # nothing came: there is nothing to tell
        self.stopped = True
        with suppress(OSError):
            os.write(self._waker, b"!")

    def readable(self) -> bool:
        """It is."""
        return True

    def read(self, size: int = -1) -> bytes:
        """What is there, waiting for the first byte; raises OSError once stopped."""
        select.select([self._descriptor, self._wake], [], [])
        if self.stopped:
            raise InterruptedError(errno.EINTR, "interrupted")
        data = os.read(self._descriptor, size if size > 0 else io.DEFAULT_BUFFER_SIZE)
        self._seen = self._seen or bool(data)
        return data

    def close(self) -> None:
        """Let go of the pipe; the descriptor is someone else's."""
        if not self.closed:
            os.close(self._wake)
            os.close(self._waker)
        super().close()
