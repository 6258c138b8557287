"""The rules of a scan by literal."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from logdoctor.scan.pickers import Picker, make_picker
from logdoctor.scan.sieve import Sieve

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logdoctor.catalogue import Rule

__all__ = ["Candidates", "RuleBook"]

MOST_KEPT = 20_000


@dataclass(frozen=True, slots=True)
class Candidates:
    """What the literals in a piece of a line pick."""

    literals: frozenset[int]
    rules: tuple[Rule, ...]
    watched: bool


class RuleBook:
    """Which rules a literal picks, and one picker for all literals.

    `watched` are further literals; a line that holds one is shown to the scan's watcher.
    """

    def __init__(self, rules: Sequence[Rule], watched: Sequence[bytes] = ()) -> None:
        by_literal: dict[bytes, list[Rule]] = {}
        for rule in rules:
            for text in rule.literals:
                by_literal.setdefault(text.encode(), []).append(rule)
        for literal in watched:
            by_literal.setdefault(literal, [])
        literals = list(by_literal)
        self._rules = [by_literal[literal] for literal in literals]
        places = {literal: i for i, literal in enumerate(literals)}
        self._watched = {places[literal] for literal in watched}
        self.tally: dict[int, Rule] = {
            i: rules[0]
            for i, rules in enumerate(self._rules)
            if len(rules) == 1 and rules[0].tally and i not in self._watched
        }
        self.literals = literals
        self.picker: Picker = make_picker(literals)
        self._kept: dict[frozenset[int], Candidates] = {}

    def candidates(self, piece: bytes) -> Candidates:
        """The rules whose literal stands in a piece, and whether a watched literal does."""
        found = frozenset(self.picker.literals_in(piece))
        kept = self._kept.get(found)
        if kept is None:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            rules = {rule.key: rule for index in sorted(found) for rule in self._rules[index]}
            kept = Candidates(found, tuple(rules.values()), not self._watched.isdisjoint(found))
            self._kept[found] = kept
        return kept

    @cached_property
    def sieve(self) -> Sieve:
        """Tells for all rules at once which may match; takes some 50 ms to make."""
        return Sieve({rule.key: rule for rules in self._rules for rule in rules}.values())
