"""A survey as text, as JSON and as CSV; the formats differ in shape, not in what they count."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from logdoctor.reports.plain import Gate

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.memory.survey.model import Group, Row, Survey, Tally

__all__ = ["SCHEMA", "duration", "plain_survey", "summary", "survey_csv", "survey_json", "survey_text"]

SCHEMA = "logdoctor-survey/1"
WIDTH = 80
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"
BAR = 12
TABLES = ("failures", "jobs", "agents", "weeks", "unknown")
ROW_FIELDS = (
    *("name", "job", "agent", "day", "time_from", "seconds", "outcome", "failure", "title", "phase", "line", "unknown"),
    "error",
)
# A cell that begins like this is taken for a formula by spreadsheets: OWASP, CSV Injection.
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def duration(seconds: float) -> str:
    """A time for people: the two largest units."""
    whole = round(seconds)
    days, rest = divmod(whole, 86_400)
    hours, rest = divmod(rest, 3600)
    minutes, rest = divmod(rest, 60)
    parts = [f"{count} {unit}" for count, unit in ((days, "d"), (hours, "h"), (minutes, "min"), (rest, "s")) if count]
    return " ".join(parts[:2]) if parts else "0 s"


def summary(survey: Survey) -> str:
    """The first sentence of a report."""
    read = survey.logs - survey.unread_total
    when = f", {survey.first_day} to {survey.last_day}" if survey.first_day else ""
    share = f" ({survey.failed / read:.0%})" if read else ""
    told = f"{_many(read, 'log')}{when}: {survey.failed} failed{share}, {survey.succeeded} succeeded"
    if survey.untold:
        told += f", {survey.untold} do not tell how they ended"
    if survey.unread_total:
        told += f"; {_many(survey.unread_total, 'file')} could not be read"
    return told + "."


def lost(survey: Survey) -> str:
    """What the failed runs took, as far as the logs tell."""
    if not survey.timed:
        return "How long the failed runs took is not told by the logs."
    missing = survey.failed - survey.timed
    rest = f"; of {missing} more it is not known" if missing else ""
    return f"The failed runs took {duration(survey.seconds)}{rest}."


def _many(count: int, word: str) -> str:
    return f"{count:,} {word}{'' if count == 1 else 's'}"


# --- text ------------------------------------------------------------------------------------------


def survey_text(survey: Survey, *, top: int = 15, colour: bool = False) -> str:
    """Tables of at most `top` lines each."""
    gate = Gate()
    lines = [_bold(line, colour=colour) for line in textwrap.wrap(summary(survey), WIDTH)]
    if survey.failed:
        lines += textwrap.wrap(lost(survey), WIDTH)
    tables = (("Failures", survey.failures), ("Jobs", survey.jobs), ("Agents", survey.agents))
    for title, table in tables:
        shown = [tally for tally in table if tally.failed]
        if shown:
            lines += ["", _bold(title, colour=colour), *_table(shown, gate, top, failures=title == "Failures")]
    lines += _weeks(survey, colour=colour)
    lines += _groups(survey.groups, gate, top, colour=colour)
    if survey.ungrouped:
        lines.append(f"  and {survey.ungrouped} more, in smaller groups or without a line worth reading")
    for name, error in survey.unread[:top]:
        lines += textwrap.wrap(f"not read: {gate.text(name)}: {gate.text(error)}", WIDTH, subsequent_indent="  ")
    if survey.unread_total > top:
        lines.append(f"and {survey.unread_total - min(top, len(survey.unread))} more could not be read")
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _table(table: Sequence[Tally], gate: Gate, top: int, *, failures: bool) -> Iterator[str]:
    yield f"  {'failed':>7}{'' if failures else '    of':6}{'lost time':>14}"
    for tally in table[:top]:
        of = "" if failures else f" {tally.logs:>5}"
        time = duration(tally.seconds) if tally.timed else "-"
        told = f"{tally.title or tally.key}" if failures else tally.key
        told += _aside(tally, failures=failures)
        first = f"  {tally.failed:>7}{of:6}{time:>14}  "
        yield from textwrap.wrap(
            gate.text(told), WIDTH, initial_indent=first, subsequent_indent=" " * len(first), break_on_hyphens=False
        )
    if len(table) > top:
        yield f"  and {len(table) - top} more"


def _aside(tally: Tally, *, failures: bool) -> str:
    if failures:
        jobs = f"{tally.spread} jobs, most in {tally.most}" if tally.spread > 1 else tally.most
        seen = f"; last on {tally.last}" if tally.last else ""
        return f" ({jobs}{seen})" if jobs else ""
    return f" (most: {tally.most})" if tally.most else ""


def _weeks(survey: Survey, *, colour: bool) -> Iterator[str]:
    if len(survey.weeks) < 2:
        return
    yield ""
    yield _bold("Weeks", colour=colour)
    yield f"  {'':<10}{'failed':>7}{'    of':6}{'lost time':>14}"
    most = max(week.failed for week in survey.weeks) or 1
    for week in survey.weeks[-26:]:
        bar = "#" * round(BAR * week.failed / most)
        yield f"  {week.week:<10}{week.failed:>7} {week.logs:>5}{duration(week.seconds) if week.failed else '-':>14}  {bar}"
    if len(survey.weeks) > 26:
        yield f"  and {len(survey.weeks) - 26} earlier ones"


def _groups(groups: Sequence[Group], gate: Gate, top: int, *, colour: bool) -> Iterator[str]:
    if not groups:
        return
    yield ""
    yield _bold("Failures that no entry explains, by wording", colour=colour)
    for group in groups[:top]:
        first = f"  {group.logs:>7}  "
        text = gate.text(group.example)
        yield from textwrap.wrap(text[:240], WIDTH, initial_indent=first, subsequent_indent=" " * 11)
        yield from textwrap.wrap(
            f"in {', '.join(map(gate.text, group.jobs[:3]))}; for example {gate.text(group.names[0])}",
            WIDTH,
            initial_indent=" " * 11,
            subsequent_indent=" " * 11,
            break_on_hyphens=False,
        )
    if len(groups) > top:
        yield f"  and {len(groups) - top} groups more"


def _bold(text: str, *, colour: bool) -> str:
    return f"{BOLD}{text}{PLAIN}" if colour else text


# --- JSON ------------------------------------------------------------------------------------------


def survey_json(survey: Survey, *, logs: bool = False) -> str:
    """One indented object."""
    return json.dumps(plain_survey(survey, logs=logs), indent=2, ensure_ascii=False)


def plain_survey(survey: Survey, *, logs: bool = False) -> dict[str, Any]:
    """The survey as plain values; with `logs`, one entry a log at its end."""
    gate = Gate()
    plain: dict[str, Any] = {
        "schema": SCHEMA,
        "logs": survey.logs,
        "succeeded": survey.succeeded,
        "failed": survey.failed,
        "untold": survey.untold,
        "unread": survey.unread_total,
        "unknown": survey.unknown,
        "lost_seconds": survey.seconds,
        "timed": survey.timed,
        "first_day": survey.first_day or None,
        "last_day": survey.last_day or None,
        "failures": [
            {
                "failure": gate.text(t.key),
                "title": t.title,
                **_counts(t),
                "jobs": t.spread,
                "most_in": gate.text(t.most),
            }
            for t in survey.failures
        ],
        "jobs": [{"job": gate.text(t.key), "logs": t.logs, **_counts(t), "most": t.most} for t in survey.jobs],
        "agents": [{"agent": gate.text(t.key), "logs": t.logs, **_counts(t), "most": t.most} for t in survey.agents],
        "weeks": [
            {"week": w.week, "logs": w.logs, "failed": w.failed, "lost_seconds": w.seconds} for w in survey.weeks
        ],
        "unknown_groups": [_group(group, gate) for group in survey.groups],
        "unknown_ungrouped": survey.ungrouped,
        "not_read": [{"name": gate.text(name), "error": gate.text(error)} for name, error in survey.unread],
    }
    if logs:
        plain["each"] = [dict(_row(row, gate)) for row in survey.rows]
    return plain


def _counts(tally: Tally) -> dict[str, Any]:
    return {"failed": tally.failed, "lost_seconds": tally.seconds, "timed": tally.timed, "last": tally.last or None}


def _group(group: Group, gate: Gate) -> dict[str, Any]:
    return {
        "logs": group.logs,
        "lost_seconds": group.seconds,
        "example": gate.text(group.example),
        "jobs": [gate.text(job) for job in group.jobs],
        "names": [gate.text(name) for name in group.names],
    }


def _row(row: Row, gate: Gate) -> Iterator[tuple[str, Any]]:
    values = asdict(row)
    for name in ROW_FIELDS:
        yield name, gate.value(values[name])


# --- CSV -------------------------------------------------------------------------------------------


def survey_csv(survey: Survey, *, logs: bool = False) -> str:
    """All tables as one, told apart by the first column; with `logs`, one line a log instead (RFC 4180)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    gate = Gate()
    if logs:
        writer.writerow(ROW_FIELDS)
        writer.writerows([_cell(value) for _, value in _row(row, gate)] for row in survey.rows)
        return out.getvalue()
    writer.writerow(("table", "key", "what", "logs", "failed", "lost_seconds", "timed", "last"))
    for table, tallies in (("failures", survey.failures), ("jobs", survey.jobs), ("agents", survey.agents)):
        for tally in tallies:
            what = tally.title if table == "failures" else tally.most
            cells = (table, tally.key, what, tally.logs, tally.failed, tally.seconds, tally.timed, tally.last)
            writer.writerow([_cell(gate.value(cell)) for cell in cells])
    for week in survey.weeks:
        writer.writerow(["weeks", week.week, "", week.logs, week.failed, week.seconds, "", ""])
    for number, group in enumerate(survey.groups, start=1):
        example = _cell(gate.text(group.example))
        writer.writerow(["unknown", number, example, group.logs, group.logs, group.seconds, "", ""])
    return out.getvalue()


def _cell(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else "" if value is None else value
