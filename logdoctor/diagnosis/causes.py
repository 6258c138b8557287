"""The differential: shares of the causes of a failure, and the checks that tell them apart.

Naive Bayes over the causes: prior weights from `usual` (6, 2, 1), ratios from `speaks` (0, 1/9, 1/3, 3, 9); within one group
of clues only the strongest counts, and of two as strong the one against. An answer multiplies by its ratios like a clue. A check's
gain is the information, in bits, that its answer is expected to bring about the cause (see `gain_of`).
"""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING

from logdoctor.catalogue.patterns import compiled
from logdoctor.model import Check, Clue, FactValue, Failure, NextCheck, RankedCause, Speaks, SpokenClue

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

__all__ = [
    "EFFORT",
    "PRIOR",
    "RATIO",
    "answered_by_fact",
    "contradicted",
    "entropy",
    "gain_of",
    "next_checks",
    "rank_causes",
    "shares_of",
]

PRIOR = {"common": 6.0, "occasional": 2.0, "rare": 1.0}
RATIO: dict[Speaks, float] = {
    "excludes": 0.0,
    "strongly-against": 1 / 9,
    "against": 1 / 3,
    "for": 3.0,
    "strongly-for": 9.0,
}
EFFORT = {"seconds": 1.0, "minutes": 3.0, "someone-else": 10.0}
ROUNDING = 1e-9


def rank_causes(
    failure: Failure,
    facts: Mapping[str, FactValue],
    answers: Mapping[str, bool] | None = None,
    counts: Mapping[str, float] | None = None,
) -> tuple[tuple[RankedCause, ...], bool]:
    """The causes in order with their shares, and whether any clue spoke.

    `answers` are given checks by id; `counts` tell how often each cause was confirmed before, on top of the author's weight
    (Dirichlet). Where all causes are excluded the priors stand again, each with its excluding clue.
    """
    answered = _answer_clues(failure, answers or {})
    spoken = {c.id: _spoken(c.clues, facts) + answered.get(c.id, []) for c in failure.causes}
    priors = {c.id: PRIOR[c.usual] + (counts or {}).get(c.id, 0.0) for c in failure.causes}
    weights = {cause: prior * _product(spoken[cause]) for cause, prior in priors.items()}
    shares = shares_of(weights) or shares_of(priors)
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
    failure: Failure,
    ranked: Sequence[RankedCause],
    facts: Mapping[str, FactValue],
    answers: Mapping[str, bool] | None = None,
) -> tuple[NextCheck, ...]:
    """The checks that neither an answer nor a fact settles, by gain for their effort; those that gain nothing are left out."""
    shares = {r.cause.id: r.share for r in ranked}
    gains = [
        NextCheck(check=check, gain_bits=gain_of(check, shares))
        for check in failure.checks
        if check.id not in (answers or {}) and not answered_by_fact(check, facts)
    ]
    worth = [g for g in gains if g.gain_bits > ROUNDING]
    return tuple(sorted(worth, key=lambda g: -g.gain_bits / EFFORT[g.check.effort]))


def answered_by_fact(check: Check, facts: Mapping[str, FactValue]) -> bool:
    """Whether a fact already tells what the check asks."""
    if check.fact is None or check.fact.name not in facts:
        return False
    return not check.fact.accepts or _worded(facts[check.fact.name]) in set(map(_worded, check.fact.accepts))


def gain_of(check: Check, shares: Mapping[str, float]) -> float:
    """The information that the answer is expected to bring about the cause, in bits.

    The ratios say how a yes and a no move the shares (as `rank_causes` does), not how often each comes. So a yes is given the
    chance a·y under a cause whose yes has the ratio y, a no the chance b·n, and what is left of 1 is "no clear answer". The
    scales a and b are the same for all causes, and as large as they can be without a chance above 1; where several pairs are, the
    pair that tells most. The gain is the sum over yes and no of their chance times the divergence of the new shares from the old.
    As a part of a mutual information it is never negative and never above the entropy left.
    """
    live = [(share, _ratio(check.yes, cause), _ratio(check.no, cause)) for cause, share in shares.items() if share > 0]
    yes = _bits([(share, ratio) for share, ratio, _ in live])
    no = _bits([(share, ratio) for share, _, ratio in live])
    most = max((a * yes + b * no for a, b in _scales([(y, n) for _, y, n in live])), default=0.0)
    return max(0.0, min(most, entropy(shares.values())))


def entropy(shares: Iterable[float]) -> float:
    """Shannon entropy in bits."""
    return -math.fsum(s * math.log2(s) for s in shares if s > 0)


def _ratio(speaks: Mapping[str, Speaks], cause: str) -> float:
    return RATIO[speaks[cause]] if cause in speaks else 1.0


def _bits(told: Sequence[tuple[float, float]]) -> float:
    """An answer's chance at scale 1 times how far it moves the shares, from shares and ratios."""
    chance = math.fsum(share * ratio for share, ratio in told)
    return math.fsum(share * ratio * math.log2(ratio / chance) for share, ratio in told if ratio > 0)


def _scales(ratios: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The corners of all scales (a, b) with a·y + b·n at most 1 for each pair of ratios: the best scales are among them."""
    most_yes, most_no = (max(column, default=0.0) for column in ([y for y, _ in ratios], [n for _, n in ratios]))
    corners = [(1 / most_yes, 0.0)] if most_yes > 0 else []
    corners += [(0.0, 1 / most_no)] if most_no > 0 else []
    for (y1, n1), (y2, n2) in combinations(dict.fromkeys(ratios), 2):
        if (crossing := y1 * n2 - y2 * n1) != 0:
            corners.append(((n2 - n1) / crossing, (y1 - y2) / crossing))
    return [(a, b) for a, b in corners if min(a, b) >= 0 and all(a * y + b * n <= 1 + ROUNDING for y, n in ratios)]


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
        strongest[clue.group] = max(strongest.get(clue.group, spoken), spoken, key=_weight)
    return list(strongest.items())


def _accepts(clue: Clue, value: FactValue) -> bool:
    if clue.matches is not None:
        rule = compiled(clue.matches)
        return rule is not None and rule.search(_worded(value)) is not None
    return _worded(value) in {_worded(accepted) for accepted in clue.accepts}


def _worded(value: FactValue) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _weight(clue: SpokenClue) -> tuple[float, bool, str, str]:
    """Sorts the strongest last, of equals the one against; fact and reason only make the choice independent of the order."""
    ratio = RATIO[clue.speaks]
    return (math.inf if ratio == 0 else abs(math.log(ratio)), ratio < 1, clue.fact, clue.why)


def _product(spoken: Iterable[tuple[str, SpokenClue]]) -> float:
    return math.prod(RATIO[clue.speaks] for _, clue in spoken)


def contradicted(ranked: Sequence[RankedCause]) -> bool:
    """Whether the clues exclude every cause."""
    return bool(ranked) and all(any(clue.speaks == "excludes" for clue in r.clues) for r in ranked)
