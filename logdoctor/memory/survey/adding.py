"""Rows to tables, one row at a time: counts, lost time, weeks, and failures that nothing explains grouped by wording."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from logdoctor.memory.survey.model import Group, Row, Survey, Tally, Week

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["Adder", "survey_of"]

MOST_UNREAD = 100
MOST_KEYS = 5_000
MOST_UNKNOWN = 5_000
"""Unknown failures kept for grouping; more are counted alone."""
ALIKE = 82.0
"""How near two wordings must come, of 100; common practice, no source, tried on this project's samples."""
MOST_GROUPS = 25
NAMES_SHOWN = 5
NO_NAME = "(not told)"


@dataclass(slots=True)
class _Sum:
    title: str = ""
    logs: int = 0
    failed: int = 0
    seconds: float = 0.0
    timed: int = 0
    others: Counter[str] = field(default_factory=Counter)
    last: str = ""

    def add(self, row: Row, other: str) -> None:
        self.logs += 1
        if row.time_from != "file date":
            self.last = max(self.last, row.day)
        if not row.failed:
            return
        self.failed += 1
        if row.seconds is not None:
            self.seconds += row.seconds
            self.timed += 1
        if other:
            self.others[other] += 1


@dataclass(slots=True)
class Adder:
    """Takes rows in and gives the survey; memory grows with what is told apart, not with the number of logs."""

    keep_rows: bool = False
    whole: _Sum = field(default_factory=_Sum)
    outcomes: Counter[str] = field(default_factory=Counter)
    failures: dict[str, _Sum] = field(default_factory=dict)
    jobs: dict[str, _Sum] = field(default_factory=dict)
    agents: dict[str, _Sum] = field(default_factory=dict)
    weeks: dict[str, _Sum] = field(default_factory=dict)
    file_weeks: dict[str, _Sum] = field(default_factory=dict)
    """Weeks known only from the files' own dates: they count where no log tells a day of its own."""
    unread: list[tuple[str, str]] = field(default_factory=list)
    unread_total: int = 0
    unknown: list[Row] = field(default_factory=list)
    unknown_total: int = 0
    first_day: str = ""
    last_day: str = ""
    rows: list[Row] = field(default_factory=list)

    def add(self, row: Row) -> None:
        """Count one log in."""
        if self.keep_rows:
            self.rows.append(row)
        if row.error:
            self.unread_total += 1
            if len(self.unread) < MOST_UNREAD:
                self.unread.append((row.name, row.error))
            return
        self.whole.add(row, "")
        self.outcomes["failed" if row.failed else "succeeded" if row.outcome == "succeeded" else "untold"] += 1
        if row.day and row.time_from != "file date":
            self.first_day = min(self.first_day or row.day, row.day)
            self.last_day = max(self.last_day, row.day)
        self._count(row)
        if row.failed and row.unknown:
            self.unknown_total += 1
            if len(self.unknown) < MOST_UNKNOWN:
                self.unknown.append(row)

    def _count(self, row: Row) -> None:
        what = row.failure or ("(not in the catalogue)" if row.failed else "")
        for table, key, other in (
            (self.failures, what, row.job),
            (self.jobs, row.job or NO_NAME, what),
            (self.agents, row.agent or NO_NAME, what),
            (self.file_weeks if row.time_from == "file date" else self.weeks, week_of(row.day), what),
        ):
            if key and (key in table or len(table) < MOST_KEYS):
                found = table.setdefault(key, _Sum())
                found.title = found.title or (row.title if table is self.failures else "")
                found.add(row, other)

    def _weeks(self) -> tuple[Week, ...]:
        told = {week: [found] for week, found in (self.weeks if self.first_day else self.file_weeks).items()}
        for week, found in (self.file_weeks if self.first_day else self.weeks).items():
            told.setdefault(NO_NAME if self.first_day else week, []).append(found)
        return tuple(_week(week, told[week]) for week in sorted(told, key=lambda name: (name == NO_NAME, name)))

    def survey(self) -> Survey:
        """All tables."""
        groups, ungrouped = _groups(self.unknown)
        return Survey(
            logs=self.whole.logs + self.unread_total,
            succeeded=self.outcomes["succeeded"],
            failed=self.outcomes["failed"],
            untold=self.outcomes["untold"],
            unread=tuple(self.unread),
            unread_total=self.unread_total,
            unknown=self.unknown_total,
            seconds=round(self.whole.seconds, 1),
            timed=self.whole.timed,
            first_day=self.first_day,
            last_day=self.last_day,
            failures=_table(self.failures),
            jobs=_table(self.jobs),
            agents=_table(self.agents),
            weeks=self._weeks(),
            groups=groups,
            ungrouped=ungrouped + self.unknown_total - len(self.unknown),
            rows=tuple(self.rows),
        )


def _week(week: str, sums: Iterable[_Sum]) -> Week:
    found = list(sums)
    return Week(
        week=week,
        logs=sum(one.logs for one in found),
        failed=sum(one.failed for one in found),
        seconds=round(sum(one.seconds for one in found), 1),
    )


def survey_of(rows: Iterable[Row], *, keep_rows: bool = False) -> Survey:
    """The survey of rows as they come."""
    adder = Adder(keep_rows=keep_rows)
    for row in rows:
        adder.add(row)
    return adder.survey()


def week_of(day: str) -> str:
    """The ISO 8601 week of a day, such as 2024-W24."""
    if not day:
        return NO_NAME
    year, week, _ = date.fromisoformat(day).isocalendar()
    return f"{year}-W{week:02}"


def _table(sums: Mapping[str, _Sum]) -> tuple[Tally, ...]:
    """Most failed first, then the longest lost time, then by name."""
    ordered = sorted(sums.items(), key=lambda pair: (-pair[1].failed, -pair[1].seconds, pair[0]))
    return tuple(
        Tally(
            key=key,
            title=found.title,
            logs=found.logs,
            failed=found.failed,
            seconds=round(found.seconds, 1),
            timed=found.timed,
            most=_most(found.others),
            spread=len(found.others),
            last=found.last,
        )
        for key, found in ordered
    )


def _most(others: Counter[str]) -> str:
    return min(others, key=lambda name: (-others[name], name)) if others else ""


# --- unknown failures ------------------------------------------------------------------------------


def _groups(rows: list[Row]) -> tuple[tuple[Group, ...], int]:
    """The largest groups of failures worded alike, and how many logs gave no wording."""
    from rapidfuzz import fuzz, process

    spread = Counter(wording for row in rows for wording in set(row.wordings))
    members: dict[str, list[tuple[Row, str]]] = {}
    silent = 0
    for row in rows:
        if not row.wordings:
            silent += 1
            continue
        # Of the lines worth reading, the one that other failed logs also hold; the first where none does.
        index = max(range(len(row.wordings)), key=lambda i, row=row: (spread[row.wordings[i]], -i))  # type: ignore[misc]
        members.setdefault(row.wordings[index], []).append((row, row.examples[index]))
    merged: dict[str, list[tuple[Row, str]]] = {}
    for wording in sorted(members, key=lambda text: (-len(members[text]), text)):
        best = process.extractOne(wording, merged.keys(), scorer=fuzz.token_sort_ratio, score_cutoff=ALIKE)
        merged.setdefault(best[0] if best else wording, []).extend(members[wording])
    groups = sorted((_group(wording, found) for wording, found in merged.items()), key=lambda g: (-g.logs, g.wording))
    return tuple(groups[:MOST_GROUPS]), silent + sum(g.logs for g in groups[MOST_GROUPS:])


def _group(wording: str, members: list[tuple[Row, str]]) -> Group:
    jobs = Counter(row.job or NO_NAME for row, _ in members)
    return Group(
        logs=len(members),
        seconds=round(sum(row.seconds or 0.0 for row, _ in members), 1),
        example=members[0][1],
        wording=wording,
        jobs=tuple(sorted(jobs, key=lambda job: (-jobs[job], job))),
        names=tuple(row.name for row, _ in members[:NAMES_SHOWN]),
    )
