"""A verdict's causes weighed anew with what the history knows: the log is not read again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from logdoctor.diagnosis.causes import next_checks, rank_causes

if TYPE_CHECKING:
    from collections.abc import Mapping

    from logdoctor.model import Verdict

__all__ = ["weighed"]


def weighed(verdict: Verdict, counts: Mapping[str, float], answers: Mapping[str, bool] | None = None) -> Verdict:
    """The verdict with confirmed causes counted on top of the authors' weights; `answers` are those it was diagnosed with."""
    root = verdict.root
    if root is None or not counts:
        return verdict
    ranked, informed = rank_causes(root.failure, root.facts, answers, counts)
    checks = next_checks(root.failure, ranked, root.facts, answers)
    return replace(verdict, root=replace(root, causes=ranked, shares_informed=informed, next_checks=checks))
