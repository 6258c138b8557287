"""What the command printed, kept for the diagnosis and for the files that were asked for; nothing here stops the build."""

from __future__ import annotations

import os
import tempfile
from typing import TYPE_CHECKING, BinaryIO

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Spool"]


class Spool:
    """An unlinked private file; with `raw`, also a file of the same bytes that stays."""

    def __init__(self, say: Callable[[str], None], raw: str | None = None) -> None:
        self.size = 0
        self.complete = True
        self._say = say
        self._raw_name = raw
        self._file = self._opened()
        self._raw = self._raw_opened(raw)

    @property
    def descriptor(self) -> int | None:
        """To read from, anywhere below `size`; None where nothing could be kept."""
        return self._file.fileno() if self._file else None

    def keep(self, data: bytes) -> None:
        """Take in what the command printed."""
        if self._file is not None and self.complete:
            try:
                _write_all(self._file.fileno(), data)
                self.size += len(data)
            except OSError as error:
                self.complete = False
                self._say(f"the rest of the output is not kept ({error.strerror}); the build goes on")
        if self._raw is not None:
            try:
                _write_all(self._raw, data)
            except OSError as error:
                self._say(f"{self._raw_name}: not saved any further ({error.strerror}); the build goes on")
                os.close(self._raw)
                self._raw = None

    def close(self) -> None:
        """Let go of both files."""
        for descriptor in (self._raw,):
            if descriptor is not None:
                os.close(descriptor)
        self._raw = None
        if self._file is not None:
            self._file.close()

    def _opened(self) -> BinaryIO | None:
        try:
            return tempfile.TemporaryFile(buffering=0, prefix="logdoctor-")
        except OSError as error:
            self._say(f"the output is not kept ({error.strerror}), so there will be no diagnosis; the build goes on")
            return None

    def _raw_opened(self, name: str | None) -> int | None:
        if name is None:
            return None
        try:
            # Unmasked output may hold secrets: nobody else gets to read it.
            return os.open(name, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        except OSError as error:
            self._say(f"{name}: not saved ({error.strerror}); the build goes on")
            return None


def _write_all(descriptor: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[os.write(descriptor, view) :]
