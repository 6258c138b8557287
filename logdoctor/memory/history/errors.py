"""What can be wrong with a history; each is one line.

HistoryError            it can't be used as it is: what, why, what to do next
└── HistoryBusyError    it can't be used right now (a lock, a slow disk, a server that does not answer)
"""

from __future__ import annotations

from logdoctor.errors import InputError

__all__ = ["HistoryBusyError", "HistoryError"]


class HistoryError(InputError):
    """A history that can't be used as it is."""


class HistoryBusyError(HistoryError):
    """A history that can't be used right now: what is kept waiting goes in later."""
