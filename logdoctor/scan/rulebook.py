"""The rules of a scan by literal."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from logdoctor.catalogue.picking import Picking, listed
from logdoctor.scan.pickers import make_picker

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.catalogue import Rule
    from logdoctor.scan.pickers import Picker, Place
    from logdoctor.scan.sieve import Sieve

__all__ = ["Candidates", "RuleBook"]

MOST_KEPT = 20_000
Known = tuple[int, bytes, int, "Rule | None"]
"""How far before its window a literal begins, the literal, its number, and the rule that only counts it."""


@dataclass(frozen=True, slots=True)
class Candidates:
    """What the literals in a piece of a line pick."""

    literals: frozenset[int]
    rules: tuple[Rule, ...]
    watched: bool


class RuleBook:
    """Which rules a literal picks, and one picker for the windows of all literals.

    `watched` are further literals; a line that holds one is shown to the scan's watcher.
    """

    def __init__(self, rules: Sequence[Rule] | Picking, watched: Sequence[bytes] = ()) -> None:
        self._picking = rules if isinstance(rules, Picking) else listed(rules)
        self._watched = [(0, literal, self._picking.literals + n) for n, literal in enumerate(watched)]
        self._windows = [*self._picking.windows, *watched]
        self._behind: list[Sequence[Known] | None] = [None] * len(self._windows)
        self._kept: dict[frozenset[int], Candidates] = {}

    @cached_property
    def _picker(self) -> Picker:
        return make_picker(self._windows)

    def places(self, chunk: bytes) -> list[Place]:
        """Where windows stand, line by line."""
        return self._picker.places(chunk)

    @property
    def behind(self) -> Sequence[Sequence[Known] | None]:
        """The literals behind each window, as far as they were looked up."""
        return self._behind

    def look_up(self, window: int) -> Sequence[Known]:
        """What is behind a window, with the rule of a literal that is only counted."""
        own = window - len(self._picking.windows)
        behind = [self._watched[own]] if own >= 0 else self._picking.behind(window)
        found = tuple((before, literal, number, self._tally(number)) for before, literal, number in behind)
        self._behind[window] = found
        return found

    def _tally(self, number: int) -> Rule | None:
        rules = self._rules_of(number)
        return rules[0] if len(rules) == 1 and rules[0].tally else None

    def _rules_of(self, number: int) -> Sequence[Rule]:
        return self._picking.rules_of(number) if number < self._picking.literals else ()

    def candidates(self, piece: bytes) -> Candidates:
        """The rules whose literal stands in a piece, and whether a watched literal does."""
        found = frozenset(self._literals_in(piece))
        kept = self._kept.get(found)
        if kept is None:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            rules = {rule.key: rule for number in sorted(found) for rule in self._rules_of(number)}
            kept = Candidates(found, tuple(rules.values()), any(n >= self._picking.literals for n in found))
            self._kept[found] = kept
        return kept

    def _literals_in(self, piece: bytes) -> Iterator[int]:
        known = self._behind
        for window, start, _ in self._picker.places(piece):
            for before, literal, number, _tally in known[window] or self.look_up(window):
                if before <= start and piece.startswith(literal, start - before):
                    yield number

    @cached_property
    def sieve(self) -> Sieve:
        """Tells for all rules at once which may match; takes some 50 ms to make."""
        from logdoctor.scan.sieve import Sieve

        return Sieve({rule.key: rule for rule in self._picking.rules()}.values())
