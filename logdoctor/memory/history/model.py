"""The frozen values of a history: a job's identity, a remembered run, a remark on it, and what was seen before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

__all__ = ["OTHER", "Job", "Remark", "Run", "Seen", "day_of"]

OTHER = "other"
"""A confirmed cause that the catalogue does not have; it moves no share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Which run of which job a log is of; what is not known is None."""

    job: str | None = None
    run: str | None = None
    branch: str | None = None
    commit: str | None = None
    agent: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One remembered verdict; every text is masked. The field order is that of the table's columns."""

    id: str
    at: float
    outcome: str
    fingerprint: str
    failure: str | None = None
    title: str | None = None
    phase: str | None = None
    tool: str | None = None
    wording: str | None = None
    evidence: str | None = None
    host: str | None = None
    job: str | None = None
    run: str | None = None
    branch: str | None = None
    revision: str | None = None
    agent: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """What a person said of a run later: which cause it was, or that the verdict was wrong."""

    id: str
    run_id: str
    at: float
    kind: Literal["confirmed", "wrong"]
    failure: str | None = None
    cause: str | None = None
    who: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """How often the same failure in the same wording was seen before, and what fixed it last."""

    times: int
    days: int
    agents: int
    jobs: int
    first_at: float
    last_at: float
    called_wrong: int = 0
    fixed: Remark | None = None

    def sentence(self) -> str:
        """All of it in one sentence."""
        where = f" on {_many(self.agents, 'agent')}" if self.agents else ""
        told = f"Seen {_times(self.times)} in {_many(self.days, 'day')}{where}"
        if self.jobs > 1:
            told += f" in {_many(self.jobs, 'job')}"
        if self.called_wrong:
            told += f"; the verdict was called wrong {_times(self.called_wrong)}"
        if self.fixed is not None:
            by = f"confirmed by {self.fixed.who}, " if self.fixed.who else "confirmed "
            told += f"; last fixed by: {_fix(self.fixed)} ({by}{day_of(self.fixed.at)})"
        return told + "."


def day_of(at: float) -> str:
    """The day of a time, in UTC."""
    return datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%d")


def _fix(fixed: Remark) -> str:
    cause = "a cause not in the catalogue" if fixed.cause in (None, OTHER) else str(fixed.cause)
    return f"{fixed.note} ({cause})" if fixed.note else cause


_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def _many(count: int, what: str) -> str:
    word = str(count) if count >= len(_WORDS) or what == "day" else _WORDS[count]
    return f"{word} {what}{'' if count == 1 else 's'}"


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
