"""The differential: shares of the causes of a failure, and the checks that tell them apart.

Naive Bayes over the causes: prior weights from `usual` (6, 2, 1), ratios from `speaks` (0, 1/9, 1/3, 3, 9); within one group
of clues only the strongest counts. A check's gain is the expected fall of the entropy of the shares, in bits.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from logdoctor.catalogue.patterns import compiled
from logdoctor.model import Check, Clue, FactValue, Failure, NextCheck, RankedCause, Speaks, SpokenClue

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

__all__ = ["EFFORT", "PRIOR", "RATIO", "entropy", "gain_of", "next_checks", "rank_causes", "shares_of"]

PRIOR = {"common": 6.0, "occasional": 2.0, "rare": 1.0}
RATIO: dict[Speaks, float] = {
    "excludes": 0.0,
    "strongly-against": 1 / 9,
    "against": 1 / 3,
    "for": 3.0,
    "strongly-for": 9.0,
}
EFFORT = {"seconds": 1.0, "minutes": 3.0, "someone-else": 10.0}
EVEN_ODDS = 0.5


def rank_causes(
    failure: Failure, facts: Mapping[str, FactValue], answers: Mapping[str, bool] | None = None
) -> tuple[tuple[RankedCause, ...], bool]:
    """The causes in order with their shares, and whether any clue spoke.

    `answers` are given checks by id. Where all causes are excluded the priors stand again, each with its excluding clue.
    """
    answered = _answer_clues(failure, answers or {})
    spoken = {c.id: _spoken(c.clues, facts) + answered.get(c.id, []) for c in failure.causes}
    weights = {c.id: PRIOR[c.usual] * _product(spoken[c.id]) for c in failure.causes}
    shares = shares_of(weights) or shares_of({c.id: PRIOR[c.usual] for c in failure.causes})
    ranked = [
        RankedCause(cause=c, share=shares[c.id], clues=tuple(clue for _, clue in spoken[c.id])) for c in failure.causes
    ]
    ranked.sort(key=lambda r: -r.share)
    return tuple(ranked), any(spoken.values())


def shares_of(weights: Mapping[str, float]) -> dict[str, float]:
    """Weights scaled to sum to 1; empty when they are all 0."""
    total = math.fsum(weights.values())
    return {key: weight / total for key, weight in weights.items()} if total > 0 else {}


def next_checks(
    failure: Failure, ranked: Sequence[RankedCause], answers: Mapping[str, bool] | None = None
) -> tuple[NextCheck, ...]:
    """The checks not answered yet, by expected gain for their effort; those that gain nothing are left out."""
    shares = {r.cause.id: r.share for r in ranked}
    gains = [
        NextCheck(check=check, gain_bits=gain_of(check, shares))
        for check in failure.checks
        if check.id not in (answers or {})
    ]
    worth = [g for g in gains if g.gain_bits > 1e-9]
    return tuple(sorted(worth, key=lambda g: -g.gain_bits / EFFORT[g.check.effort]))


def gain_of(check: Check, shares: Mapping[str, float]) -> float:
    """Expected information gain of asking, in bits: never negative, never above the entropy left."""
    chance = {cause: _chance_of_yes(check, cause) for cause in shares}
    yes = {cause: share * chance[cause] for cause, share in shares.items()}
    no = {cause: share * (1 - chance[cause]) for cause, share in shares.items()}
    left = math.fsum(sum(part.values()) * entropy(shares_of(part).values()) for part in (yes, no))
    return max(0.0, min(entropy(shares.values()) - left, entropy(shares.values())))


def entropy(shares: Iterable[float]) -> float:
    """Shannon entropy in bits."""
    return -math.fsum(s * math.log2(s) for s in shares if s > 0)


def _chance_of_yes(check: Check, cause: str) -> float:
    """The chance of a yes under a cause, from how yes and no speak for it.

    With even odds before the answer, a yes that speaks with ratio y and a no that speaks with ratio n come from a chance p with
    p proportional to y and 1 - p proportional to n.
    """
    yes = RATIO[check.yes[cause]] if cause in check.yes else 1.0
    no = RATIO[check.no[cause]] if cause in check.no else 1.0
    return yes / (yes + no) if yes + no > 0 else EVEN_ODDS


def _answer_clues(failure: Failure, answers: Mapping[str, bool]) -> dict[str, list[tuple[str, SpokenClue]]]:
    found: dict[str, list[tuple[str, SpokenClue]]] = {}
    for check in failure.checks:
        if check.id not in answers:
            continue
        said = answers[check.id]
        for cause, speaks in (check.yes if said else check.no).items():
            clue = SpokenClue(
                fact=check.id, value=said, speaks=speaks, why=f"answered {'yes' if said else 'no'}: {check.ask}"
            )
            found.setdefault(cause, []).append((f"check {check.id}", clue))
    return found


def _spoken(clues: Iterable[Clue], facts: Mapping[str, FactValue]) -> list[tuple[str, SpokenClue]]:
    """The clues that speak, one a group: the strongest."""
    strongest: dict[str, SpokenClue] = {}
    for clue in clues:
        if clue.fact not in facts or not _accepts(clue, facts[clue.fact]):
            continue
        spoken = SpokenClue(fact=clue.fact, value=facts[clue.fact], speaks=clue.speaks, why=clue.why)
        old = strongest.get(clue.group)
        if old is None or _strength(spoken.speaks) > _strength(old.speaks):
            strongest[clue.group] = spoken
    return list(strongest.items())


def _accepts(clue: Clue, value: FactValue) -> bool:
    if clue.matches is not None:
        rule = compiled(clue.matches)
        return rule is not None and rule.search(_worded(value)) is not None
    return _worded(value) in {_worded(accepted) for accepted in clue.accepts}


def _worded(value: FactValue) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _strength(speaks: Speaks) -> float:
    ratio = RATIO[speaks]
    return math.inf if ratio == 0 else abs(math.log(ratio))


def _product(spoken: Iterable[tuple[str, SpokenClue]]) -> float:
    return math.prod(RATIO[clue.speaks] for _, clue in spoken)


def contradicted(ranked: Sequence[RankedCause]) -> bool:
    """Whether the clues exclude every cause."""
    return bool(ranked) and all(any(clue.speaks == "excludes" for clue in r.clues) for r in ranked)
