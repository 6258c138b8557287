"""What picks lines: windows, the literals behind each, and the rules of each literal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from logdoctor.catalogue.book import Rule

__all__ = ["Behind", "Picking", "by_literal", "listed"]


Behind = tuple[int, bytes, int]
"""A literal behind a window: how far before the window it begins, its text, its number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picking:
    """Windows are looked for all at once; what is behind one is asked for when it is met in a log."""

    windows: Sequence[bytes]
    behind: Callable[[int], Sequence[Behind]]
    rules_of: Callable[[int], Sequence[Rule]]
    """The rules of a literal."""
    literals: int
    """How many there are; their numbers go from nought."""
    rules: Callable[[], Iterable[Rule]]


def by_literal(rules: Iterable[Rule]) -> dict[str, list[Rule]]:
    """The rules of each literal."""
    found: dict[str, list[Rule]] = {}
    for rule in rules:
        for literal in rule.literals:
            found.setdefault(literal, []).append(rule)
    return found


def listed(rules: Sequence[Rule]) -> Picking:
    """The picking of some rules, each literal being its own window: made at once, and slower in a large log."""
    groups = list(by_literal(rules).items())
    literals = [literal.encode() for literal, _ in groups]
    return Picking(
        windows=literals,
        behind=lambda number: ((0, literals[number], number),),
        rules_of=lambda number: groups[number][1],
        literals=len(literals),
        rules=lambda: rules,
    )
