"""Which rows of a window show which lines: places (a line or a closed fold) and, with wrap on, their parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.terminal.logpane.drawing import wrapped

if TYPE_CHECKING:
    from collections.abc import Callable

    from logdoctor.terminal.logpane.rows import FoldMap

__all__ = ["Spot", "Window"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """What stands in one row: a line, or a part of it."""

    place: int
    line: int
    start: int = 0
    end: int = 1 << 30
    first: bool = True


@dataclass(slots=True, kw_only=True)
class Window:
    """Arithmetic over the folds and, where lines are broken, over the words of the lines in sight."""

    folds: FoldMap
    words: Callable[[int], str]
    lines: Callable[[], int]
    height: int = 0
    width: int = 1
    """Cells for a line's text."""
    wrap: bool = False

    def spots_of(self, place: int) -> list[Spot]:
        """The rows of one place."""
        line = self.folds.line_of(place)
        if not self.wrap or self.folds.closed_at(line) is not None:
            return [Spot(place=place, line=line)]
        parts = wrapped(self.words(line), max(self.width, 1))
        return [
            Spot(place=place, line=line, start=start, end=end, first=number == 0)
            for number, (start, end) in enumerate(parts)
        ]

    def layout(self, place: int, sub: int) -> list[Spot]:
        """The rows from a place, and a row within it, on."""
        spots: list[Spot] = []
        while len(spots) < self.height and self.folds.line_of(place) <= self.lines():
            spots += self.spots_of(place)[sub:]
            place, sub = place + 1, 0
        return spots[: self.height]

    def back(self, place: int, rows: int) -> tuple[int, int]:
        """The place and row that stand a number of rows above a place."""
        if not self.wrap:
            return max(place - max(rows, 0), 0), 0
        while rows > 0 and place > 0:
            place -= 1
            own = len(self.spots_of(place))
            if own > rows:
                return place, own - rows
            rows -= own
        return place, 0

    def end(self) -> tuple[int, int]:
        """The place and row on top when the last line stands at the bottom."""
        last = self.folds.places(self.lines()) - 1
        if last < 0:
            return 0, 0
        own = len(self.spots_of(last))
        return (last, own - self.height) if own > self.height else self.back(last, self.height - own)

    def rolled(self, place: int, sub: int, rows: int) -> tuple[int, int]:
        """Another place and row on top, so many rows further (or, below 0, back)."""
        if rows < 0:
            up = min(sub, -rows)
            return (place, sub - up) if up == -rows else self.back(place, -rows - up)
        end = self.end()
        for _ in range(rows):
            if (place, sub) >= end:
                break
            place, sub = (place, sub + 1) if sub + 1 < len(self.spots_of(place)) else (place + 1, 0)
        return place, sub
