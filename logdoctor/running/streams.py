"""The channels between a command and our own output: a pseudo-terminal where ours is a terminal, else a pipe."""

from __future__ import annotations

import os
from dataclasses import dataclass, field

__all__ = ["Channel", "open_channels", "resize"]

OUT, ERROR = 1, 2


@dataclass(slots=True)
class Channel:
    """What the command writes into (`inner`), what we read from (`outer`), and our own descriptors it stands for."""

    outer: int
    inner: int
    stands_for: list[int] = field(default_factory=list)
    terminal: bool = False


def open_channels() -> list[Channel]:
    """One channel for standard output and one for standard error; one for both where both are one terminal."""
    channels: list[Channel] = []
    for own in (OUT, ERROR):
        if not _is_open(own):
            continue  # the command gets it closed, as it would without us
        if os.isatty(own):
            shared = next((c for c in channels if c.terminal), None)
            if shared is not None:
                shared.stands_for.append(own)
                continue
            channels.append(_terminal(own))
        else:
            outer, inner = os.pipe()
            channels.append(Channel(outer=outer, inner=inner, stands_for=[own]))
    return channels


def resize(channels: list[Channel]) -> None:
    """Give each pseudo-terminal the size of the terminal it stands for."""
    import fcntl
    import termios

    for channel in channels:
        if channel.terminal:
            try:
                size = fcntl.ioctl(channel.stands_for[0], termios.TIOCGWINSZ, b"\0" * 8)
                fcntl.ioctl(channel.outer, termios.TIOCSWINSZ, size)
            except OSError:
                continue  # one of them is gone; the command goes on with the size it knows


def _terminal(own: int) -> Channel:
    import pty
    import termios

    outer, inner = pty.openpty()
    modes = termios.tcgetattr(inner)
    modes[1] &= ~termios.OPOST  # our own terminal makes line ends of what passes through
    termios.tcsetattr(inner, termios.TCSANOW, modes)
    channel = Channel(outer=outer, inner=inner, stands_for=[own], terminal=True)
    resize([channel])
    return channel


def _is_open(descriptor: int) -> bool:
    try:
        os.fstat(descriptor)
    except OSError:
        return False
    return True
