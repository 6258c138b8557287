"""Which lines stand where: display places counted from 0, with closed folds as one place each."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import TYPE_CHECKING

from logdoctor.terminal.logpane.folding import LEAST, Fold

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from logdoctor.terminal.logpane.marks import MarkBook

__all__ = ["FoldMap", "without_marked"]


class FoldMap:
    """Lines to places and back; the folds that were opened keep their lines."""

    def __init__(self, folds: Sequence[Fold] = (), opened: Iterable[int] = (), *, active: bool = True) -> None:
        self.folds = folds
        self.opened = set(opened)
        self.active = active
        self._firsts = [fold.first for fold in folds]
        self._rebuild()

    def place_of(self, line: int) -> int:
        """The place of a line, or of the closed fold that hides it."""
        number = bisect_right(self._closed_firsts, line) - 1
        if number < 0:
            return line - 1
        fold = self._closed[number]
        hidden = self._hidden[number]
        return fold.first - 1 - hidden if line <= fold.last else line - 1 - hidden - (fold.lines - 1)

    def line_of(self, place: int) -> int:
        """The line at a place; of a closed fold its first."""
        number = bisect_right(self._places, place) - 1
        if number < 0:
            return place + 1
        fold = self._closed[number]
        beyond = place - self._places[number]
        return fold.first if beyond == 0 else fold.last + beyond

    def closed_at(self, line: int) -> Fold | None:
        """The closed fold that hides a line, or begins with it."""
        number = bisect_right(self._closed_firsts, line) - 1
        fold = self._closed[number] if number >= 0 else None
        return fold if fold is not None and line <= fold.last else None

    def fold_at(self, line: int) -> Fold | None:
        """The fold, open or closed, that a line belongs to."""
        number = bisect_right(self._firsts, line) - 1
        fold = self.folds[number] if number >= 0 and self.active else None
        return fold if fold is not None and line <= fold.last else None

    def places(self, lines: int) -> int:
        """How many places that many lines take."""
        return self.place_of(lines) + 1 if lines else 0

    def flip(self, fold: Fold) -> None:
        """Open a fold, or close it again."""
        self.opened ^= {fold.first}
        self._rebuild()

    def switch(self, *, active: bool) -> None:
        """Fold, or show every line."""
        self.active = active
        self._rebuild()

    def _rebuild(self) -> None:
        self._closed = [fold for fold in self.folds if fold.first not in self.opened] if self.active else []
        self._closed_firsts = [fold.first for fold in self._closed]
        self._hidden: list[int] = []
        self._places: list[int] = []
        hidden = 0
        for fold in self._closed:
            self._hidden.append(hidden)
            self._places.append(fold.first - 1 - hidden)
            hidden += fold.lines - 1


def without_marked(folds: Sequence[Fold], marks: MarkBook) -> list[Fold]:
    """The folds with every marked line left out of them, so that no finding is hidden."""
    return [part for fold in folds for part in _parts(fold, marks)]


def _parts(fold: Fold, marks: MarkBook) -> Iterator[Fold]:
    if not marks.stands_in(fold.first, fold.last):
        yield fold
        return
    first = fold.first
    for line in marks.lines[bisect_left(marks.lines, fold.first) :]:
        stop = min(line, fold.last + 1)
        if stop - first >= LEAST:
            yield Fold(first=first, last=stop - 1, kind=fold.kind)
        first = line + 1
        if line > fold.last:
            break
    else:
        if fold.last + 1 - first >= LEAST:
            yield Fold(first=first, last=fold.last, kind=fold.kind)
