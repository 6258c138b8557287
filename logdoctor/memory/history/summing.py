"""What a history shows: what recurs and where, how long until green, what passed unchanged, what was one incident."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from logdoctor.memory.history.model import OTHER, Remark, Run

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

__all__ = ["TOGETHER", "Flaky", "Incident", "Recurring", "Summary", "summary_of"]

TOGETHER = 1800.0
"""Failures of several jobs with one host are one incident while no more than these seconds lie between two of them:
common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recurring:
    """One failure in one wording: how often and where; `seconds_to_green` is a median, None where it never went green."""

    fingerprint: str
    failure: str | None
    title: str | None
    evidence: str | None
    times: int
    first_at: float
    last_at: float
    jobs: tuple[str, ...]
    agents: tuple[str, ...]
    hosts: tuple[str, ...]
    seconds_to_green: float | None
    confirmed: Mapping[str, int]
    called_wrong: int
    last_fix: Remark | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Flaky:
    """A failure that was followed by a success of the same job on the same revision."""

    fingerprint: str
    failure: str | None
    title: str | None
    job: str
    branch: str | None
    revision: str
    failed: int
    last_at: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Incident:
    """Several jobs that failed alike with one host in a short time."""

    host: str
    failure: str
    title: str | None
    jobs: tuple[str, ...]
    times: int
    first_at: float
    last_at: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """All of it for a span of time: most frequent first, incidents and flaky ones latest first."""

    since: float
    runs: int
    failed: int
    recurring: tuple[Recurring, ...]
    flaky: tuple[Flaky, ...]
    incidents: tuple[Incident, ...]


def summary_of(runs: Sequence[Run], remarks: Iterable[Remark], *, since: float) -> Summary:
    """The summary of runs (oldest first) and of the remarks that count."""
    red = [run for run in runs if run.outcome != "succeeded"]
    groups: dict[str, list[Run]] = defaultdict(list)
    for run in red:
        groups[run.fingerprint].append(run)
    green = _seconds_to_green(runs)
    told = {remark.run_id: remark for remark in remarks}
    recurring = [_recurring(group, green, told) for group in groups.values()]
    recurring.sort(key=lambda r: (-r.times, -r.last_at, r.fingerprint))
    return Summary(
        since=since,
        runs=len(runs),
        failed=len(red),
        recurring=tuple(recurring),
        flaky=_flaky(runs),
        incidents=_incidents(red),
    )


def _recurring(group: Sequence[Run], green: Mapping[str, Sequence[float]], told: Mapping[str, Remark]) -> Recurring:
    last = group[-1]
    remarks = sorted((told[run.id] for run in group if run.id in told), key=lambda remark: remark.at)
    fixes = [remark for remark in remarks if remark.kind == "confirmed"]
    spans = green.get(last.fingerprint, ())
    return Recurring(
        fingerprint=last.fingerprint,
        failure=last.failure,
        title=last.title,
        evidence=last.evidence,
        times=len(group),
        first_at=group[0].at,
        last_at=last.at,
        jobs=_names(run.job for run in group),
        agents=_names(run.agent for run in group),
        hosts=_names(run.host for run in group),
        seconds_to_green=median(spans) if spans else None,
        confirmed=dict(Counter(remark.cause or OTHER for remark in fixes).most_common()),
        called_wrong=sum(remark.kind == "wrong" for remark in remarks),
        last_fix=fixes[-1] if fixes else None,
    )


def _seconds_to_green(runs: Iterable[Run]) -> dict[str, list[float]]:
    """By fingerprint: from its first failure in a red stretch of a job and branch to the success that ended the stretch."""
    red: dict[tuple[str, str | None], dict[str, float]] = defaultdict(dict)
    spans: dict[str, list[float]] = defaultdict(list)
    for run in runs:
        if run.job is None:
            continue
        stretch = red[run.job, run.branch]
        if run.outcome != "succeeded":
            stretch.setdefault(run.fingerprint, run.at)
            continue
        for fingerprint, began in stretch.items():
            spans[fingerprint].append(run.at - began)
        stretch.clear()
    return spans


def _flaky(runs: Iterable[Run]) -> tuple[Flaky, ...]:
    failed: dict[tuple[str, str | None, str], list[Run]] = defaultdict(list)
    found: dict[tuple[str, str, str | None, str], list[Run]] = defaultdict(list)
    for run in runs:
        if run.job is None or run.revision is None:
            continue
        key = (run.job, run.branch, run.revision)
        if run.outcome == "failed":
            failed[key].append(run)
        elif run.outcome == "succeeded":
            for before in failed.pop(key, ()):
                found[before.fingerprint, *key].append(before)
    flaky = [
        Flaky(
            fingerprint=fingerprint,
            failure=group[-1].failure,
            title=group[-1].title,
            job=job,
            branch=branch,
            revision=revision,
            failed=len(group),
            last_at=group[-1].at,
        )
        for (fingerprint, job, branch, revision), group in found.items()
    ]
    return tuple(sorted(flaky, key=lambda f: (-f.last_at, f.fingerprint, f.job)))


def _incidents(red: Iterable[Run]) -> tuple[Incident, ...]:
    stretches: dict[tuple[str, str], list[list[Run]]] = defaultdict(list)
    for run in red:
        if run.host is None or run.failure is None or run.job is None:
            continue
        known = stretches[run.host, run.failure]
        if known and run.at - known[-1][-1].at <= TOGETHER:
            known[-1].append(run)
        else:
            known.append([run])
    found = [
        Incident(
            host=host,
            failure=failure,
            title=stretch[-1].title,
            jobs=_names(run.job for run in stretch),
            times=len(stretch),
            first_at=stretch[0].at,
            last_at=stretch[-1].at,
        )
        for (host, failure), known in stretches.items()
        for stretch in known
        if len({run.job for run in stretch}) > 1
    ]
    return tuple(sorted(found, key=lambda i: (-i.last_at, i.host, i.failure)))


def _names(values: Iterable[str | None]) -> tuple[str, ...]:
    """Each once, the most frequent first."""
    return tuple(name for name, _ in Counter(value for value in values if value).most_common())
