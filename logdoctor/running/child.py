"""The command as a child process, with the signals that a shell would let it have.

It stays in our process group, so that the terminal's own signals reach it as without us. Exit statuses: POSIX.1-2017, Shell
Command Language, section 2.8.2 (126, 127), and the common 128 + signal.
"""

from __future__ import annotations

import errno
import os
import signal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from logdoctor.running.streams import Channel

__all__ = ["Child", "CommandError"]

NOT_EXECUTABLE, NOT_FOUND = 126, 127
# Python ignores these for itself; a command started from a shell would not.
_PYTHON_IGNORES = tuple(getattr(signal, name) for name in ("SIGPIPE", "SIGXFSZ") if hasattr(signal, name))


class CommandError(Exception):
    """The command could not be started; `status` is what a shell would exit with."""

    def __init__(self, command: str, problem: str, status: int) -> None:
        super().__init__(f"{command}: {problem}")
        self.status = status


class Child:
    """A started command."""

    def __init__(self, command: Sequence[str], channels: Sequence[Channel], *, mask: Sequence[int]) -> None:
        self.status: int | None = None
        self._id = _spawn(command, channels, mask)

    def reap(self) -> int | None:
        """The exit status once it has ended, as a shell tells it; None before."""
        if self.status is None:
            done, raw = os.waitpid(self._id, os.WNOHANG)
            if done:
                code = os.waitstatus_to_exitcode(raw)
                self.status = 128 - code if code < 0 else code
        return self.status

    def send(self, number: int) -> None:
        """Pass a signal on; nothing where it has ended."""
        if self.status is None:
            try:
                os.kill(self._id, number)
            except OSError:
                return


def _spawn(command: Sequence[str], channels: Sequence[Channel], mask: Sequence[int]) -> int:
    actions = [(os.POSIX_SPAWN_DUP2, channel.inner, own) for channel in channels for own in channel.stands_for]
    try:
        return _started(command, actions, mask)
    except OSError as error:
        if error.errno == errno.ENOEXEC:  # a script without a first line that names its shell
            return _started(["/bin/sh", _found(command[0]), *command[1:]], actions, mask)
        missing = error.errno in {errno.ENOENT, errno.ENOTDIR}
        problem = "not found" if missing else (error.strerror or "can't be started").lower()
        raise CommandError(command[0], problem, NOT_FOUND if missing else NOT_EXECUTABLE) from error
    except ValueError as error:  # a NUL in the command
        raise CommandError(command[0], str(error), NOT_FOUND) from error


def _started(command: Sequence[str], actions: Sequence[tuple[int, int, int]], mask: Sequence[int]) -> int:
    environment: Mapping[str, str] = os.environ
    return os.posix_spawnp(
        command[0], list(command), environment, file_actions=actions, setsigmask=mask, setsigdef=_PYTHON_IGNORES
    )


def _found(name: str) -> str:
    import shutil

    return name if "/" in name else shutil.which(name) or name
