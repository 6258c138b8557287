"""Answers to checks and what they do to the ranking; each answer can be taken back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from logdoctor.diagnosis import rerank

if TYPE_CHECKING:
    from logdoctor.model import Check, Finding, NextCheck

__all__ = ["Answer", "Standing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A check with yes (True), no (False) or can't tell (None)."""

    check: Check
    said: bool | None

    @property
    def word(self) -> str:
        """The answer as a word."""
        return {True: "yes", False: "no", None: "can't tell"}[self.said]


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A finding as it was diagnosed, and the answers given since, oldest first."""

    diagnosed: Finding
    given: tuple[Answer, ...] = ()

    @cached_property
    def finding(self) -> Finding:
        """The finding under the answers given."""
        if not self.given:
            return self.diagnosed
        said = {a.check.id: a.said for a in self.given if a.said is not None}
        return rerank(self.diagnosed, said, set_aside=[a.check.id for a in self.given if a.said is None])

    @property
    def next_check(self) -> NextCheck | None:
        """The check to ask now; none where there is only one cause to tell."""
        checks = self.finding.next_checks
        return checks[0] if checks and len(self.finding.causes) > 1 else None

    @cached_property
    def shares_before(self) -> dict[str, float]:
        """The shares by cause before the last answer; empty when none was given."""
        return {r.cause.id: r.share for r in self.undone().finding.causes} if self.given else {}

    @property
    def moved(self) -> bool:
        """Whether the last answer moved any share."""
        return any(self.shares_before[r.cause.id] != r.share for r in self.finding.causes) if self.given else False

    def answered(self, said: bool | None) -> Standing:  # noqa: FBT001 - yes, no or can't tell is what it is about
        """With the check to ask now answered; the same when there is none."""
        check = self.next_check
        if check is None:
            return self
        return replace(self, given=(*self.given, Answer(check=check.check, said=said)))

    def undone(self) -> Standing:
        """Without the last answer."""
        return replace(self, given=self.given[:-1])
