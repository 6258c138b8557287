"""Which rules may match a line, told for all its rules at once: worth its making in logs where many lines are picked.

A rule's needed texts are looked for in one pass each over the line and over its small letters; lines in which the same ones
stand have the same rules, so that these are worked out once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.catalogue.literals import ANY_CASE, Need, holds_found, leaves
from logdoctor.scan.pickers import make_picker

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from logdoctor.catalogue import Rule

__all__ = ["Sieve"]

MOST_KEPT = 20_000


class Sieve:
    """Made of all rules of a book."""

    def __init__(self, rules: Iterable[Rule]) -> None:
        found = {leaf for rule in rules if rule.needs is not None for leaf in leaves(rule.needs)}
        self._exact = sorted(text for kind, text in found if kind != ANY_CASE)
        self._small = sorted(text for kind, text in found if kind == ANY_CASE)
        self._exact_picker = make_picker([text.encode() for text in self._exact])
        self._small_picker = make_picker([text.encode() for text in self._small])
        self._kept: dict[tuple[frozenset[int], frozenset[int], frozenset[int]], tuple[Rule, ...]] = {}

    def may_match(self, text: str, literals: frozenset[int], rules: Sequence[Rule]) -> tuple[Rule, ...]:
        """Those of the rules that may match; `literals` are what picked them, so that they stand for the rules."""
        raw = text.encode("utf-8", "replace")
        exact = frozenset(self._exact_picker.literals_in(raw))
        small = frozenset(self._small_picker.literals_in(text.lower().encode("utf-8", "replace")))
        key = (literals, exact, small)
        kept = self._kept.get(key)
        if kept is None:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            texts = {self._exact[i] for i in exact}
            lowered = {self._small[i] for i in small}
            kept = tuple(rule for rule in rules if _may(rule.needs, texts, lowered))
            self._kept[key] = kept
        return kept


def _may(needs: Need | None, texts: set[str], lowered: set[str]) -> bool:
    return needs is None or holds_found(needs, texts, lowered)
