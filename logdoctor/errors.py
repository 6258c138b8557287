"""The errors that reach a person, each with fields; worded here and nowhere else.

LogdoctorError
└── InputError      an input that can't be read: what, what is wrong, what to do next
"""

from __future__ import annotations

__all__ = ["InputError", "LogdoctorError"]


class LogdoctorError(Exception):
    """Base of every error that this package raises on purpose."""


class InputError(LogdoctorError):
    """An input that can't be read; its text is one clear line."""

    def __init__(self, name: str, problem: str, mend: str) -> None:
        super().__init__(name, problem, mend)
        self.name = name
        self.problem = problem
        self.mend = mend

    def __str__(self) -> str:
        line = f"{self.name}: {self.problem}; {self.mend}"
        # A file name may hold line ends, escape codes or bytes that are no text: the error stays one line.
        return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in line)
