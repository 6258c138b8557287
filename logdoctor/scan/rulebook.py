"""The rules of a scan by literal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.scan.pickers import Picker, make_picker

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logdoctor.catalogue import Rule

__all__ = ["RuleBook"]


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

    def candidates(self, piece: bytes) -> tuple[list[Rule], bool]:
        """The rules whose literal stands in a piece, and whether a watched literal does."""
        found = self.picker.literals_in(piece)
        rules = {rule.key: rule for index in sorted(found) for rule in self._rules[index]}
        return list(rules.values()), not self._watched.isdisjoint(found)
