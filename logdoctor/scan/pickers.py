"""Pickers: which literals stand where in a block of bytes.

Aho-Corasick from `ahocorasick-rs` where its wheel is there; a slow picker in pure Python that finds the same lines elsewhere.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Picker", "make_picker"]

Place = tuple[int, int, int]


class Picker(Protocol):
    """Finds literals; a place is (index of the literal, start, end)."""

    def places(self, block: bytes) -> list[Place]:
        """Places in order, none overlapping: at least one in every line that holds a literal."""
        ...

    def literals_in(self, piece: bytes) -> set[int]:
        """The indexes of all literals that stand in a short piece, overlapping ones too."""
        ...


def make_picker(literals: Sequence[bytes]) -> Picker:
    """The fastest picker this machine has."""
    try:
        import ahocorasick_rs
    except ImportError:
        return PlainPicker(literals)
    return _AhoCorasickPicker(ahocorasick_rs.BytesAhoCorasick(list(literals)))


class _AhoCorasickPicker:
    def __init__(self, automaton: object) -> None:
        self._find = automaton.find_matches_as_indexes  # type: ignore[attr-defined]

    def places(self, block: bytes) -> list[Place]:
        return self._find(block)  # type: ignore[no-any-return]

    def literals_in(self, piece: bytes) -> set[int]:
        return {place[0] for place in self._find(piece, overlapping=True)}


class PlainPicker:
    """The same answers with `bytes.find` alone."""

    def __init__(self, literals: Sequence[bytes]) -> None:
        self._literals = list(literals)

    def places(self, block: bytes) -> list[Place]:
        """All places in order of their start; overlapping ones are dropped."""
        found: list[Place] = []
        for index, literal in enumerate(self._literals):
            at = block.find(literal)
            while at >= 0:
                found.append((index, at, at + len(literal)))
                at = block.find(literal, at + len(literal))
        found.sort(key=lambda place: (place[2], place[1]))
        kept: list[Place] = []
        for place in found:
            if not kept or place[1] >= kept[-1][2]:
                kept.append(place)
        return kept

    def literals_in(self, piece: bytes) -> set[int]:
        """The indexes of all literals in the piece."""
        return {index for index, literal in enumerate(self._literals) if literal in piece}
