"""Lines that come close to a pattern's example and must not match: of the same log, of ordinary logs, of known failures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rapidfuzz import fuzz, process

from logdoctor.catalogue.patterns import compiled
from logdoctor.diagnosis.wording import normalized
from logdoctor.intake import clean

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from logdoctor.drafting.checking import Text
    from logdoctor.drafting.pattern import Candidate
    from logdoctor.drafting.scenario import Scenario

__all__ = ["choose_lookalikes"]

EACH = 2
MOST = 3
CLOSE = 45.0
COMES_CLOSE = 50.0
"""As vetting has it: a lookalike that is further away proves nothing."""
ALIKE = 92.0
LONGEST = 400
SHORTEST = 8


def choose_lookalikes(
    candidate: Candidate, example: str, pools: Sequence[Sequence[Text]], scenario: Scenario
) -> tuple[str, ...]:
    """The closest lines of each pool, at most two of one and three in all, safe to keep."""
    chosen: list[str] = []
    for pool in pools:
        taken = 0
        for text in _closest(example, [t.text for t in pool]):
            shown = scenario.text(text)
            if taken < EACH and len(chosen) < MOST and _fits(candidate, example, shown) and not _known(shown, chosen):
                chosen.append(shown)
                taken += 1
    return tuple(chosen)


def _closest(example: str, texts: Iterable[str]) -> list[str]:
    by_wording = {normalized(text): text for text in texts if SHORTEST <= len(text) <= LONGEST}
    wanted = normalized(example)
    found = process.extract(wanted, list(by_wording), scorer=fuzz.token_set_ratio, limit=12, score_cutoff=CLOSE)
    return [by_wording[text] for text, _, _ in found if text != wanted]


def _fits(candidate: Candidate, example: str, text: str) -> bool:
    rule = compiled(candidate.line)
    close = candidate.literal in text or fuzz.partial_ratio(text, example) >= COMES_CLOSE
    return close and rule is not None and not any(rule.search(form) for form in (text, clean(text).text))


def _known(text: str, chosen: Iterable[str]) -> bool:
    return any(fuzz.ratio(normalized(text), normalized(other)) >= ALIKE for other in chosen)
