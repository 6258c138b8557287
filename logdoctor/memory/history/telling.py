"""A summary as text and as JSON; every text passes the gate once more, for a history may have been written by others."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from logdoctor.intake import printable
from logdoctor.masking import mask
from logdoctor.memory.history.model import OTHER, day_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from logdoctor.memory.history.model import Remark
    from logdoctor.memory.history.summing import Flaky, Incident, Recurring, Summary

__all__ = ["SCHEMA", "span", "summary_json", "summary_text"]

SCHEMA = "logdoctor-history/1"
_NAMED = 3


def summary_text(summary: Summary, *, top: int) -> str:
    """The summary for a person."""
    if not summary.runs:
        return f"No runs since {day_of(summary.since)}." if summary.since else "The history is empty."
    since = f" since {day_of(summary.since)}" if summary.since else ""
    blocks = [[f"{_count(summary.runs, 'run')}{since}, {summary.failed} of them not green."]]
    blocks.append(_listed("What recurs", summary.recurring, _recurring_lines, top))
    blocks.append(_listed("One incident", summary.incidents, _incident_lines, top))
    blocks.append(_listed("Failed, then passed on the same revision", summary.flaky, _flaky_lines, top))
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def summary_json(summary: Summary) -> str:
    """The summary as one JSON object."""
    plain = {
        "schema": SCHEMA,
        "since": _stamp(summary.since) if summary.since else None,
        "runs": summary.runs,
        "failed": summary.failed,
        "recurring": [_plain_recurring(each) for each in summary.recurring],
        "incidents": [
            {**_plain_failure(each), "host": _shown(each.host), "jobs": _all(each.jobs), "times": each.times,
             "first_at": _stamp(each.first_at), "last_at": _stamp(each.last_at)}
            for each in summary.incidents
        ],
        "flaky": [
            {"fingerprint": each.fingerprint, **_plain_failure(each), "job": _shown(each.job), "branch": _maybe(each.branch),
             "revision": _shown(each.revision), "failed": each.failed, "last_at": _stamp(each.last_at)}
            for each in summary.flaky
        ],
    }  # fmt: skip
    return json.dumps(plain, indent=2, ensure_ascii=False) + "\n"


def span(seconds: float) -> str:
    """A length of time in the largest unit that it fills twice, else in the next smaller one."""
    for unit, length in (("day", 86400), ("hour", 3600), ("minute", 60)):
        if seconds >= 2 * length:
            return f"{round(seconds / length)} {unit}s"
    return _count(round(seconds), "second")


def _listed(heading: str, items: Sequence[Any], lines: Any, top: int) -> list[str]:
    if not items:
        return []
    told = [heading]
    for item in items[:top]:
        told += [f"  {line}" for line in lines(item)]
    if len(items) > top:
        told.append(f"  and {len(items) - top} more (--top)")
    return told


def _recurring_lines(each: Recurring) -> Iterable[str]:
    yield f"{each.times:>4} x  {_titled(each.failure, each.title, each.evidence)}"
    where = [f"{what} {_few(names)}" for what, names in
             (("job", each.jobs), ("agent", each.agents), ("host", each.hosts)) if names]  # fmt: skip
    days = day_of(each.first_at)
    if day_of(each.last_at) != days:
        days = f"{days} to {day_of(each.last_at)}"
    green = f"green again after {span(each.seconds_to_green)} (median)" if each.seconds_to_green is not None else ""
    yield "        " + "; ".join(filter(None, [*where, days, green]))
    if each.last_fix is not None:
        causes = ", ".join(f"{_shown(cause)} {count} x" for cause, count in each.confirmed.items())
        yield f"        confirmed: {causes}; last fix: {_fix(each.last_fix)}"
    if each.called_wrong:
        yield f"        verdict called wrong {each.called_wrong} x"
    yield f"        fingerprint {each.fingerprint}"


def _incident_lines(each: Incident) -> Iterable[str]:
    began = datetime.fromtimestamp(each.first_at, UTC).strftime("%Y-%m-%d %H:%M")
    lasted = f" within {span(each.last_at - each.first_at)}" if each.last_at > each.first_at else ""
    yield f"{began} UTC  {_titled(each.failure, each.title, None)}: {_shown(each.host)}"
    yield f"        {_count(each.times, 'run')}{lasted}, in {len(each.jobs)} jobs: {_few(each.jobs)}"


def _flaky_lines(each: Flaky) -> Iterable[str]:
    branch = f" on {_shown(each.branch)}" if each.branch else ""
    yield f"{day_of(each.last_at)}  {_titled(each.failure, each.title, None)}"
    yield f"        job {_shown(each.job)}{branch}, revision {_shown(each.revision)}, failed {each.failed} x before"


def _titled(failure: str | None, title: str | None, evidence: str | None) -> str:
    if failure is None:
        return f"not in the catalogue: {_shown(evidence)}" if evidence else "not in the catalogue"
    return f"{_shown(title)} [{_shown(failure)}]" if title else _shown(failure)


def _fix(remark: Remark) -> str:
    what = remark.note or ("not in the catalogue" if remark.cause in (None, OTHER) else str(remark.cause))
    by = f" by {_shown(remark.who)}" if remark.who else ""
    return f"{_shown(what)} ({day_of(remark.at)}{by})"


def _plain_recurring(each: Recurring) -> dict[str, Any]:
    fix = each.last_fix
    return {
        "fingerprint": each.fingerprint,
        **_plain_failure(each),
        "evidence": _maybe(each.evidence),
        "times": each.times,
        "first_at": _stamp(each.first_at),
        "last_at": _stamp(each.last_at),
        "jobs": _all(each.jobs),
        "agents": _all(each.agents),
        "hosts": _all(each.hosts),
        "median_seconds_to_green": each.seconds_to_green,
        "confirmed": {_shown(cause): count for cause, count in each.confirmed.items()},
        "called_wrong": each.called_wrong,
        "last_fix": fix
        and {"at": _stamp(fix.at), "cause": _maybe(fix.cause), "who": _maybe(fix.who), "note": _maybe(fix.note)},
    }


def _plain_failure(each: Recurring | Incident | Flaky) -> dict[str, Any]:
    return {"failure": _maybe(each.failure), "title": _maybe(each.title)}


def _shown(text: str | None) -> str:
    return printable(mask(text or ""))


def _maybe(text: str | None) -> str | None:
    return None if text is None else _shown(text)


def _all(names: Iterable[str]) -> list[str]:
    return [_shown(name) for name in names]


def _few(names: Sequence[str]) -> str:
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(_all(names[:_NAMED])) + more


def _stamp(at: float) -> str:
    return datetime.fromtimestamp(at, UTC).isoformat(timespec="seconds")


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
