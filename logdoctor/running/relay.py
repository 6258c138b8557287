"""Signals on their way to the command: waited for by a thread, told apart by who sent them, and passed on."""

from __future__ import annotations

import os
import signal
import threading
from typing import TYPE_CHECKING

from logdoctor.running.streams import resize

if TYPE_CHECKING:
    from logdoctor.running.child import Child
    from logdoctor.running.streams import Channel

__all__ = ["Relay"]

_BY_KERNEL = 128
"""SI_KERNEL of Linux: the terminal sent it, and so to the command as well."""
_FROM_TERMINAL = {signal.SIGINT, signal.SIGQUIT} if hasattr(signal, "SIGQUIT") else {signal.SIGINT}
_RELAYED = [
    getattr(signal, name)
    for name in ("SIGINT", "SIGQUIT", "SIGTERM", "SIGHUP", "SIGUSR1", "SIGUSR2", "SIGWINCH", "SIGCHLD")
    if hasattr(signal, name)
]


class Relay:
    """Blocks the signals at once; `start` passes on what comes, what came before included."""

    def __init__(self) -> None:
        self.before: set[int] = set(signal.pthread_sigmask(signal.SIG_BLOCK, _RELAYED))
        """The mask that the command is to have."""
        self.ended, self._tell_ended = os.pipe()
        """Can be read from once the command has ended."""

    def start(self, child: Child, channels: list[Channel]) -> None:
        """Pass signals on to the command until it ends."""
        threading.Thread(target=self._pass_on, args=(child, channels), daemon=True).start()

    def _pass_on(self, child: Child, channels: list[Channel]) -> None:
        while child.reap() is None:
            number, from_terminal = _next_signal()
            if number == signal.SIGCHLD:
                continue
            if number == signal.SIGWINCH:
                resize(channels)
            if not (from_terminal and number in _FROM_TERMINAL):
                child.send(number)
        os.close(self._tell_ended)


def _next_signal() -> tuple[int, bool]:
    """The next signal, and whether the terminal sent it to the whole process group."""
    if hasattr(signal, "sigwaitinfo"):
        told = signal.sigwaitinfo(_RELAYED)
        return told.si_signo, told.si_code == _BY_KERNEL
    return signal.sigwait(_RELAYED), os.isatty(0)
