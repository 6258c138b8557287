"""Pickers: which texts stand where in a block of bytes.

Aho-Corasick from `ahocorasick-rs` where its wheel is there; a slow picker in pure Python that gives the same answers elsewhere.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, Protocol

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

__all__ = ["Picker", "make_picker"]

Place = tuple[int, int, int]


class Picker(Protocol):
    """Finds texts; a place is (index of the text, start, end)."""

    def places(self, block: bytes) -> list[Place]:
        """All places, overlapping ones too, in order of their ends."""
        ...

    def literals_in(self, piece: bytes) -> set[int]:
        """The indexes of all texts that stand in a short piece."""
        ...


def make_picker(texts: Sequence[bytes]) -> Picker:
    """The fastest picker this machine has."""
    try:
        import ahocorasick_rs
    except ImportError:
        return PlainPicker(texts)
    return _AhoCorasickPicker(ahocorasick_rs.BytesAhoCorasick(list(texts)))


class _AhoCorasickPicker:
    def __init__(self, automaton: object) -> None:
        self._find = automaton.find_matches_as_indexes  # type: ignore[attr-defined]

    def places(self, block: bytes) -> list[Place]:
        return self._find(block, True)  # type: ignore[no-any-return]  # noqa: FBT003 - `overlapping`, by position as it is quicker

    def literals_in(self, piece: bytes) -> set[int]:
        return {place[0] for place in self._find(piece, overlapping=True)}


class PlainPicker:
    """The same answers without it: which words of eight (or four) bytes a block holds is told by sets of numbers.

    `bytes.find` then looks only for the texts that begin with one of them.
    """

    def __init__(self, texts: Sequence[bytes]) -> None:
        self._texts = list(texts)
        self._by_word: dict[Literal["Q", "I"], dict[int, list[int]]] = {"Q": {}, "I": {}}
        self._short: list[int] = []
        for index, text in enumerate(self._texts):
            kind = next((kind for kind, size in _WORDS if len(text) >= size), None)
            if kind is None:
                self._short.append(index)
            else:
                word = memoryview(text[: dict(_WORDS)[kind]]).cast("B").cast(kind)[0]
                self._by_word[kind].setdefault(word, []).append(index)

        self._words = {kind: frozenset(words) for kind, words in self._by_word.items()}
        self._longest = max(map(len, self._texts), default=1)

    def places(self, block: bytes) -> list[Place]:
        """All places, overlapping ones too, in order of their ends."""
        found: list[Place] = []
        for start in range(0, len(block), _PART):
            part = block[start : start + _PART + self._longest - 1]
            found += [
                (index, start + at, start + at + len(text)) for index, at, text in self._found(part) if at < _PART
            ]
        found.sort(key=lambda place: (place[2], place[1]))
        return found

    def _found(self, part: bytes) -> Iterator[tuple[int, int, bytes]]:
        for index in self._perhaps(part):
            text = self._texts[index]
            at = part.find(text)
            while at >= 0:
                yield index, at, text
                at = part.find(text, at + 1)

    def _perhaps(self, part: bytes) -> set[int]:
        """Texts that may stand in a part."""
        found = set(self._short)
        view = memoryview(part)
        for kind, size in _WORDS:
            wanted = self._by_word[kind]
            for shift in range(size if wanted else 0):
                length = (len(part) - shift) // size * size
                for word in self._words[kind].intersection(view[shift : shift + length].cast(kind)):
                    found.update(wanted[word])
        return found

    def literals_in(self, piece: bytes) -> set[int]:
        """The indexes of all texts that stand in a short piece."""
        return {place[0] for place in self.places(piece)}


_WORDS: tuple[tuple[Literal["Q", "I"], int], ...] = (("Q", 8), ("I", 4))
_PART = 64 << 10
