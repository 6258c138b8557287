"""The masked copy of the output: made line by line in the pauses of the build, and finished after its end."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from logdoctor.masking import Masker
    from logdoctor.running.spool import Spool

__all__ = ["MaskedCopy"]

BLOCK = 32 * 1024
LONGEST_LINE = 1 << 20
"""A longer line is masked in parts, cut at a blank where there is one."""


class MaskedCopy:
    """Follows a spool; a problem with the file is said once, and the build goes on."""

    def __init__(self, name: str, spool: Spool, say: Callable[[str], None]) -> None:
        self._name = name
        self._spool = spool
        self._say = say
        self._done = 0
        self._rest = b""
        self._masker: Masker | None = None
        self._out = self._opened()

    def catch_up(self) -> bool:
        """Copy one block; whether there is more to copy."""
        if self._out is None or self._spool.descriptor is None:
            return False
        data = os.pread(self._spool.descriptor, min(BLOCK, self._spool.size - self._done), self._done)
        self._done += len(data)
        self._take(self._rest + data)
        return self._done < self._spool.size

    def finish(self) -> None:
        """Copy all that is left."""
        while self.catch_up():
            pass
        if self._out is not None:
            if self._rest:
                self._write([self._rest])
            os.close(self._out)
            self._out = None

    def _take(self, data: bytes) -> None:
        lines = data.splitlines(keepends=True)
        self._rest = b""
        if lines and not lines[-1].endswith(b"\n"):
            self._rest = lines.pop()
            if len(self._rest) > LONGEST_LINE:
                cut = self._rest.rfind(b" ", LONGEST_LINE // 2) + 1 or len(self._rest)
                lines.append(self._rest[:cut])
                self._rest = self._rest[cut:]
        self._write(lines)

    def _write(self, lines: list[bytes]) -> None:
        if not lines or self._out is None:
            return
        masked = b"".join(self._masked(line) for line in lines)
        try:
            view = memoryview(masked)
            while view:
                view = view[os.write(self._out, view) :]
        except OSError as error:
            self._say(f"{self._name}: not saved any further ({error.strerror}); the build goes on")
            os.close(self._out)
            self._out = None

    def _masked(self, line: bytes) -> bytes:
        """A line without its secrets; what is no text stays as it is, byte for byte."""
        if self._masker is None:
            from logdoctor.masking import Masker

            self._masker = Masker()
        body = line.rstrip(b"\r\n")
        shown = self._masker.mask(body.decode("utf-8", "surrogateescape"))
        return shown.encode("utf-8", "surrogateescape") + line[len(body) :]

    def _opened(self) -> int | None:
        try:
            return os.open(self._name, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        except OSError as error:
            self._say(f"{self._name}: not saved ({error.strerror}); the build goes on")
            return None
