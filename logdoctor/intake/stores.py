"""Where a log's bytes lie: a plain file read in place, or a spool filled while the first pass goes over it.

A spool stays in memory while it is small and moves to an unlinked private file when it grows. Both can be
read again and at any offset. A plain file is never mapped: one that shrinks would end the process.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, BinaryIO, Protocol

from logdoctor.errors import InputError
from logdoctor.intake.unpacking import BrokenError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from io import FileIO

__all__ = ["PlainStore", "SpoolStore", "Store"]

_SMALL = 4 << 20


class Store(Protocol):
    """A byte stream that can be read from the start, again, and at any offset."""

    @property
    def size(self) -> int | None:
        """How many bytes there are, once that is known."""
        ...

    @property
    def truncated_at_limit(self) -> bool:
        """Whether bytes beyond the limit were left unread."""
        ...

    @property
    def damage(self) -> str | None:
        """Why the stream ended before its end, if it did."""
        ...

    def blocks(self, size: int) -> Iterator[bytes]:
        """All bytes in order, at most `size` at a time."""
        ...

    def read_at(self, offset: int, length: int) -> bytes:
        """Bytes from an offset on, fewer at the end of what is there."""
        ...

    def close(self) -> None:
        """Let go of what is held open."""
        ...


class PlainStore:
    """A regular file, from `base` on, as long as it was when it was opened."""

    damage: str | None = None

    def __init__(self, file: FileIO, *, name: str, base: int, limit: int) -> None:
        self._file = file
        self._name = name
        self._base = base
        length = max(os.fstat(file.fileno()).st_size - base, 0)
        self.size: int | None = min(length, limit)
        self.truncated_at_limit = length > limit
        self._length = min(length, limit)

    def blocks(self, size: int) -> Iterator[bytes]:
        """All bytes in order, at most `size` at a time."""
        offset = 0
        while offset < self._length:
            block = self.read_at(offset, size)
            if not block:  # the file shrank
                self._length = self.size = offset
                return
            yield block
            offset += len(block)

    def read_at(self, offset: int, length: int) -> bytes:
        """Bytes from an offset on, fewer at the end of what is there."""
        length = min(length, self._length - offset)
        if length <= 0 or offset < 0:
            return b""
        try:
            return os.pread(self._file.fileno(), length, self._base + offset)
        except OSError as error:
            problem = f"can't be read ({error.strerror})"
            raise InputError(self._name, problem, "copy it and try again") from error

    def close(self) -> None:
        """Let go of what is held open."""
        self._file.close()


class SpoolStore:
    """A stream that can be read only once, kept as it comes in."""

    def __init__(self, chunks: Iterator[bytes], *, name: str, limit: int, release: Callable[[], None]) -> None:
        self._chunks = chunks
        self._name = name
        self._limit = limit
        self._release = release
        self._memory = bytearray()
        self._file: BinaryIO | None = None
        self._filled = 0
        self._done = False
        self.truncated_at_limit = False
        self.damage: str | None = None

    @property
    def size(self) -> int | None:
        """How many bytes came in, once all have."""
        return self._filled if self._done else None

    def blocks(self, size: int) -> Iterator[bytes]:
        """All bytes in order, at most `size` at a time."""
        offset = 0
        while True:
            if offset == self._filled and not self._advance():
                return
            block = self.read_at(offset, size)
            yield block
            offset += len(block)

    def read_at(self, offset: int, length: int) -> bytes:
        """Bytes from an offset on, fewer at the end of what is there."""
        length = min(length, self._filled - offset)
        if length <= 0 or offset < 0:
            return b""
        if self._file is None:
            return bytes(memoryview(self._memory)[offset : offset + length])
        return os.pread(self._file.fileno(), length, offset)

    def close(self) -> None:
        """Let go of what is held open."""
        self._finish()
        self._memory = bytearray()
        self._filled = 0
        if self._file is not None:
            self._file.close()

    def _advance(self) -> bool:
        """Take in one chunk; False at the end of the stream or at the limit."""
        if self._done:
            return False
        try:
            chunk = next(self._chunks, b"")
        except BrokenError as broken:
            self.damage, chunk = str(broken), b""
        if len(chunk) > self._limit - self._filled:
            chunk = chunk[: self._limit - self._filled]
            self.truncated_at_limit = True
        if not chunk:
            self._finish()
            return False
        self._keep(chunk)
        return True

    def _keep(self, chunk: bytes) -> None:
        if self._file is None and self._filled + len(chunk) <= _SMALL:
            self._memory += chunk
        else:
            self._write(chunk)
        self._filled += len(chunk)

    def _write(self, chunk: bytes) -> None:
        try:
            if self._file is None:
                import tempfile  # here, as most logs are read in place or stay small

                self._file = tempfile.TemporaryFile(buffering=0, prefix="logdoctor-")  # noqa: SIM115 - closed by close()
                _write_all(self._file, self._memory)
                self._memory = bytearray()
            _write_all(self._file, chunk)
        except OSError as error:
            problem = f"can't be kept in the temporary folder ({error.strerror})"
            raise InputError(self._name, problem, "set TMPDIR to a folder with enough room") from error

    def _finish(self) -> None:
        if not self._done:
            self._done = True
            self._chunks = iter(())
            self._release()


def _write_all(file: BinaryIO, data: bytes | bytearray) -> None:
    view = memoryview(data)
    while view:
        view = view[file.write(view) :]
