"""Searching the catalogue: fuzzy over titles, wordings, causes and fixes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rapidfuzz import fuzz

if TYPE_CHECKING:
    from logdoctor.catalogue.book import Catalogue
    from logdoctor.model import Failure

__all__ = ["search"]

CUTOFF = 60.0


def search(catalogue: Catalogue, words: str) -> list[tuple[Failure, float]]:
    """The failures that fit the words, best first, each with a score from 0 to 100."""
    wanted = words.lower().split()
    scored = [(failure, _score(failure, wanted)) for failure in catalogue]
    return sorted(((f, s) for f, s in scored if s >= CUTOFF), key=lambda pair: (-pair[1], pair[0].id))


def _score(failure: Failure, words: list[str]) -> float:
    """Each word counts by the best place it is found in: id and title most, then wordings, then causes and fixes."""
    places = (
        (1.0, f"{failure.id} {failure.title}".lower()),
        (0.9, " ".join(f"{s.tool} {e.text}" for s in failure.signatures for e in s.examples).lower()),
        (0.75, " ".join([failure.meaning, *(f"{c.says} {' '.join(c.fix)}" for c in failure.causes)]).lower()),
    )
    best = [max(weight * _found(word, text) for weight, text in places) for word in words]
    return sum(best) / len(best) if best else 0.0


def _found(word: str, text: str) -> float:
    return 100.0 if word in text else fuzz.partial_ratio(word, text, score_cutoff=80) * 0.8
