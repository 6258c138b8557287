"""One row a log, and what many rows add up to; texts in rows have passed the gate already."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from logdoctor.model import Outcome

__all__ = ["Group", "Row", "Survey", "Tally", "TimeFrom", "Week"]

TimeFrom = Literal["file name", "folder", "log", "file date", "nowhere"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What a survey keeps of one log. `error` tells why a log could not be read; then the rest is empty."""

    name: str
    job: str = ""
    agent: str = ""
    day: str = ""
    """The day it ran, as YYYY-MM-DD, and in `time_from` how that is known."""
    time_from: TimeFrom = "nowhere"
    seconds: float | None = None
    outcome: Outcome = "unknown"
    failure: str = ""
    title: str = ""
    phase: str = ""
    line: int = 0
    unknown: bool = False
    wordings: tuple[str, ...] = ()
    """Of a failure that nothing explains: the lines worth reading, without what differs from run to run."""
    examples: tuple[str, ...] = ()
    error: str = ""

    @property
    def failed(self) -> bool:
        """Whether the run did not succeed: failed, aborted, or stopped by a failure that the log shows."""
        return not self.error and self.outcome != "succeeded" and (self.outcome != "unknown" or bool(self.failure))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """One line of a table. `seconds` adds up the `timed` failed logs whose duration is known."""

    key: str
    title: str
    logs: int
    failed: int
    seconds: float
    timed: int
    most: str = ""
    """Of a job, an agent or a week: the failure seen most; of a failure: the job it is seen most in."""
    spread: int = 0
    """Of a failure: in how many jobs."""
    last: str = ""
    """The last day it was seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """One ISO 8601 week."""

    week: str
    logs: int
    failed: int
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Failures that no entry explains and that are worded alike."""

    logs: int
    seconds: float
    example: str
    wording: str
    jobs: tuple[str, ...]
    names: tuple[str, ...]
    """The first logs of the group."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """A folder of past logs as tables."""

    logs: int
    succeeded: int
    failed: int
    untold: int
    """Logs that neither show a failure nor tell how the run ended."""
    unread: tuple[tuple[str, str], ...]
    unread_total: int
    unknown: int
    """Failed logs that no entry explains."""
    seconds: float
    timed: int
    first_day: str
    last_day: str
    failures: tuple[Tally, ...]
    jobs: tuple[Tally, ...]
    agents: tuple[Tally, ...]
    weeks: tuple[Week, ...]
    groups: tuple[Group, ...]
    ungrouped: int
    rows: tuple[Row, ...] = ()
