"""What one pass over a log found."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.model import Hit

__all__ = ["KEPT_FIRST", "KEPT_LAST", "KEPT_TALLIES", "KEPT_WATCHED", "RuleHits", "Scan", "Tally"]

KEPT_FIRST = 300
KEPT_LAST = 300
KEPT_WATCHED = 500
KEPT_TALLIES = 20_000


@dataclass(slots=True)
class RuleHits:
    """The hits of one rule: how many there were, the first and the last ones."""

    count: int = 0
    first: list[Hit] = field(default_factory=list)
    last: deque[Hit] = field(default_factory=lambda: deque(maxlen=KEPT_LAST))

    def add(self, hit: Hit) -> None:
        """Keep the hit among the first or the last."""
        self.count += 1
        if len(self.first) < KEPT_FIRST:
            self.first.append(hit)
        else:
            self.last.append(hit)

    def kept(self) -> Iterator[Hit]:
        """The kept hits in order."""
        yield from self.first
        yield from self.last


@dataclass(slots=True)
class Tally:
    """A run of lines on which a tool reads or writes files, looked at by their literal alone."""

    rule: str
    first: int
    last: int
    count: int
    offset: int


@dataclass(slots=True)
class Scan:
    """What one pass found."""

    hits: dict[str, RuleHits] = field(default_factory=dict)
    tallies: list[Tally] = field(default_factory=list)
    watched: list[tuple[int, str, str]] = field(default_factory=list)
    """Line, what the watch calls it, and the raw text that shows it."""
    lines: int = 0
    bytes: int = 0
    unusable: set[str] = field(default_factory=set)
