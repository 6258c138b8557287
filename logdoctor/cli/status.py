"""The exit statuses of all commands."""

from __future__ import annotations

from enum import IntEnum

__all__ = ["Status"]


class Status(IntEnum):
    """Exit statuses; `run` keeps the command's own."""

    DONE = 0
    REMARKS = 1
    UNUSABLE = 2
    UNEXPLAINED = 3
    SECRET = 4
    FAULT = 70
    INTERRUPTED = 130
