"""A pattern that is compiled at first use: a log without secrets needs hardly any of them, and start-up is short."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Pattern"]


class Pattern:
    """Looks like a compiled pattern, for the few methods that are used here."""

    __slots__ = ("_compiled", "_flags", "_source")

    def __init__(self, source: str, flags: int = 0) -> None:
        self._source = source
        self._flags = flags
        self._compiled: re.Pattern[str] | None = None

    def compiled(self) -> re.Pattern[str]:
        """The compiled pattern itself."""
        if self._compiled is None:
            self._compiled = re.compile(self._source, self._flags)
        return self._compiled

    def search(self, text: str, place: int = 0, end: int = sys.maxsize) -> re.Match[str] | None:
        """The first match from a place on."""
        return self.compiled().search(text, place, end)

    def match(self, text: str, place: int = 0) -> re.Match[str] | None:
        """A match that begins right at a place."""
        return self.compiled().match(text, place)

    def fullmatch(self, text: str) -> re.Match[str] | None:
        """A match of the whole text."""
        return self.compiled().fullmatch(text)

    def finditer(self, text: str, place: int = 0) -> Iterator[re.Match[str]]:
        """All matches from a place on."""
        return self.compiled().finditer(text, place)

    def findall(self, text: str) -> list[str]:
        """The text of all matches."""
        return [match[0] for match in self.compiled().finditer(text)]

    def sub(self, replacement: str, text: str) -> str:
        """The text with all matches replaced."""
        return self.compiled().sub(replacement, text)
