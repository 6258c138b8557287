"""A finding ranked anew under other answers, from what is known of it already: the log is not read again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from logdoctor.diagnosis.causes import next_checks, rank_causes

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from logdoctor.model import Finding

__all__ = ["rerank"]


def rerank(finding: Finding, answers: Mapping[str, bool], *, set_aside: Collection[str] = ()) -> Finding:
    """The finding as a diagnosis with these answers would rank it.

    `answers` are all that count, by check id; checks in `set_aside` (nobody could tell) are not asked again.
    """
    ranked, informed = rank_causes(finding.failure, finding.facts, answers)
    checks = next_checks(finding.failure, ranked, finding.facts, answers)
    kept = tuple(check for check in checks if check.check.id not in set_aside)
    return replace(finding, causes=ranked, shares_informed=informed, next_checks=kept)
