"""Windows: a few bytes of each picking literal, shared where they can be, by which one automaton looks for all of them.

An automaton of thousands of whole literals is large: it takes long to be made and does not fit into a processor's cache.
One of their windows is a fraction of it; where a window stands, the rest of the literal is compared.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["LENGTH", "chosen_windows"]

LENGTH = 8
MOST_SHARED = 12
"""Literals behind one window, as each is compared where the window stands."""
_WITHIN_A_WORD = re.compile(rb"[A-Za-z]+")


def chosen_windows(literals: Sequence[bytes], ordinary: Iterable[bytes]) -> list[tuple[bytes, int]]:
    """For each literal its window and where in the literal it begins.

    Of all places the one is taken whose bytes are rare in ordinary lines, reach over the end of a word (whole words are in
    many lines), and are shared by other literals.
    """
    often = Counter(window for line in ordinary for window in set(_windows(line)))
    shared = Counter(window for literal in literals for window in set(_windows(literal)))
    taken: Counter[bytes] = Counter()
    found = []
    for literal in literals:
        windows = _windows(literal) or [literal]
        free = [w for w in windows if taken[w] < MOST_SHARED] or windows
        best = min(free, key=lambda w: (often[w] + bool(_WITHIN_A_WORD.fullmatch(w)), -shared[w], w))
        taken[best] += 1
        found.append((best, literal.find(best)))
    return found


def _windows(text: bytes) -> list[bytes]:
    return [text[i : i + LENGTH] for i in range(len(text) - LENGTH + 1)]
