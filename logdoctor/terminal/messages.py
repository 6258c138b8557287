"""The messages between workers, widgets and screens that belong to no single widget."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.message import Message

if TYPE_CHECKING:
    from logdoctor.terminal.desk import Case

__all__ = ["CaseMoved", "CaseProgress", "PastedTooMuch"]


class CaseMoved(Message):
    """A case came a stage further: opened, read, refused or stopped."""

    def __init__(self, case: Case) -> None:
        super().__init__()
        self.case = case


class CaseProgress(Message):
    """How far the pass over a case's log is, in bytes."""

    def __init__(self, case: Case, done: int, total: int | None) -> None:
        super().__init__()
        self.case = case
        self.done = done
        self.total = total


class PastedTooMuch(Message):
    """More was pasted than is taken that way."""

    def __init__(self, size: int) -> None:
        super().__init__()
        self.size = size
