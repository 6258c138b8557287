"""A survey as one HTML page: tables and plots drawn as SVG in the page; no script, nothing fetched, light, dark and print."""

from __future__ import annotations

from datetime import date, timedelta
from html import escape
from typing import TYPE_CHECKING

from logdoctor.memory.survey.model import Week
from logdoctor.reports.plain import Gate
from logdoctor.reports.survey_text import duration, lost, summary

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.memory.survey.model import Group, Survey, Tally

__all__ = ["survey_html"]

STYLE = """
:root { color-scheme: light dark; --ink: #1d2330; --soft: #5b6475; --rule: #d8dce4; --page: #ffffff; --panel: #f5f6f9;
  --bad: #b4442c; --good: #b9c6d6; --time: #3f6ea8; }
@media (prefers-color-scheme: dark) { :root { --ink: #e4e8ef; --soft: #9aa4b5; --rule: #363d4a; --page: #161a21;
  --panel: #1e242d; --bad: #e07a5f; --good: #46566b; --time: #7ba7de; } }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 68rem; padding: 2rem 1.5rem 4rem; background: var(--page); color: var(--ink);
  font: 15px/1.5 system-ui, sans-serif; }
h1 { font-size: 1.5rem; margin: 0 0 .5rem; }
h2 { font-size: 1.1rem; margin: 2.5rem 0 .6rem; }
p { margin: .3rem 0; max-width: 44rem; }
.soft, caption, figcaption { color: var(--soft); }
.figures { display: flex; flex-wrap: wrap; gap: .75rem; margin: 1.25rem 0; padding: 0; list-style: none; }
.figures li { background: var(--panel); border-radius: .4rem; padding: .6rem 1rem; min-width: 8rem; }
.figures b { display: block; font-size: 1.4rem; line-height: 1.3; font-variant-numeric: tabular-nums; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .35rem .75rem .35rem 0; border-bottom: 1px solid var(--rule); }
th { font-weight: 600; color: var(--soft); font-size: .85rem; white-space: nowrap; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
td.bar { width: 22%; min-width: 7rem; padding-top: .6rem; }
.wide { overflow-x: auto; }
small { color: var(--soft); display: block; overflow-wrap: anywhere; }
small span { display: inline-block; }
code { font: .85rem/1.45 ui-monospace, monospace; overflow-wrap: anywhere; }
figure { margin: 0; }
svg { display: block; width: 100%; height: auto; }
svg text { fill: var(--soft); font: 11px system-ui, sans-serif; }
.bad { fill: var(--bad); } .good { fill: var(--good); } .time { fill: var(--time); }
.axis { stroke: var(--rule); stroke-width: 1; }
.key { display: inline-block; width: .7rem; height: .7rem; border-radius: .15rem; margin: 0 .3rem 0 .9rem; vertical-align: -1px; }
.key:first-child { margin-left: 0; }
@media print { body { max-width: none; padding: 0; font-size: 10pt; } h2 { break-after: avoid; } tr, figure { break-inside: avoid; }
  :root { --ink: #000; --soft: #444; --rule: #bbb; --page: #fff; --panel: #f2f2f2; --bad: #a03a22; --good: #c4ceda; --time: #3f6ea8; }
  .bad, .good, .time, .key { print-color-adjust: exact; -webkit-print-color-adjust: exact; } }
"""
POLICY = "default-src 'none'; style-src 'unsafe-inline'"
FOOT = (
    "Lost time is how long the failed runs took, as far as their logs tell. "
    "Counts are of the logs that were given, not of all runs."
)
TOP = 25
PLOT_WIDTH, PLOT_HEIGHT = 960, 220
LEFT, BOTTOM, ABOVE = 44, 26, 12
MOST_WEEKS = 104
LABELS = 13


def survey_html(survey: Survey) -> str:
    """The whole page."""
    gate = Gate()
    parts = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
        f"<title>Survey of build logs</title><style>{STYLE}</style></head><body>",
        f"<h1>Survey of build logs</h1><p>{escape(summary(survey))} {escape(lost(survey)) if survey.failed else ''}</p>",
        *_figures(survey),
        *_weeks(survey.weeks),
        *_table("Failures", "failure", survey.failures, gate),
        *_table("Jobs", "job", survey.jobs, gate),
        *_table("Agents", "agent", survey.agents, gate),
        *_groups(survey, gate),
        *_unread(survey, gate),
        f'<p class="soft">{FOOT}</p>',
        "</body></html>",
    ]
    return "\n".join(parts) + "\n"


def _figures(survey: Survey) -> Iterator[str]:
    read = survey.logs - survey.unread_total
    known = survey.failed - survey.unknown
    figures = [
        (f"{read:,}", "logs read"),
        (f"{survey.failed:,}", "failed" + (f", {survey.failed / read:.0%}" if read else "")),
        (duration(survey.seconds) if survey.timed else "not told", "lost in failed runs"),
        (f"{known:,}", "explained" + (f", {known / survey.failed:.0%}" if survey.failed else "")),
        (f"{len(survey.jobs):,}", "jobs"),
    ]
    told = "".join(f"<li><b>{escape(number)}</b>{escape(word)}</li>" for number, word in figures)
    yield f'<ul class="figures">{told}</ul>'


# --- plots -----------------------------------------------------------------------------------------


def _weeks(weeks: Sequence[Week]) -> Iterator[str]:
    known = _without_gaps([week for week in weeks if week.week[:1].isdigit()])
    if len(known) < 2:
        return
    yield "<h2>Weeks</h2><figure>"
    yield (
        '<figcaption><span class="key" style="background:var(--bad)"></span>failed'
        '<span class="key" style="background:var(--good)"></span>other logs</figcaption>'
    )
    yield _columns(known)
    yield "</figure>"


def _without_gaps(weeks: Sequence[Week]) -> list[Week]:
    """Every week from the first (at most two years back) to the last one, so that the axis is true; those without a log are empty."""
    if not weeks:
        return []
    known = {week.week: week for week in weeks}
    first, last = (date.fromisocalendar(int(w.week[:4]), int(w.week[6:]), 1) for w in (weeks[0], weeks[-1]))
    every: list[Week] = []
    for back in range(min((last - first).days // 7, MOST_WEEKS - 1), -1, -1):
        year, number, _ = (last - timedelta(weeks=back)).isocalendar()
        name = f"{year}-W{number:02}"
        every.append(known.get(name) or Week(week=name, logs=0, failed=0, seconds=0.0))
    return every


def _columns(weeks: Sequence[Week]) -> str:
    most = _ceiling(max(week.logs for week in weeks))
    height = PLOT_HEIGHT - BOTTOM - ABOVE
    step = (PLOT_WIDTH - LEFT) / len(weeks)
    width = min(48.0, max(1.0, step * 0.72))
    every = -(-len(weeks) // LABELS)
    label = f"Logs and failed logs of {len(weeks)} weeks, {weeks[0].week} to {weeks[-1].week}"
    parts = [f'<svg viewBox="0 0 {PLOT_WIDTH} {PLOT_HEIGHT}" role="img" aria-label="{escape(label)}">']
    for share in (0, 0.5, 1):
        y = ABOVE + height * (1 - share)
        parts.append(f'<line class="axis" x1="{LEFT}" x2="{PLOT_WIDTH}" y1="{y:.1f}" y2="{y:.1f}"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{most * share:g}</text>')
    for number, week in enumerate(weeks):
        left = LEFT + step * number + (step - width) / 2
        tip = f"{week.week}: {week.failed} of {week.logs} failed"
        parts.append(f"<g><title>{escape(tip)}</title>")
        low = float(ABOVE + height)
        for kind, count in (("bad", week.failed), ("good", week.logs - week.failed)):
            tall = height * count / most
            low -= tall
            if count:
                parts.append(
                    f'<rect class="{kind}" x="{left:.1f}" y="{low:.1f}" width="{width:.1f}" height="{tall:.1f}"/>'
                )
        parts.append("</g>")
        if number % every == 0:
            middle = min(left + width / 2, PLOT_WIDTH - 30)
            parts.append(
                f'<text x="{middle:.1f}" y="{PLOT_HEIGHT - 8}" text-anchor="middle">{escape(week.week)}</text>'
            )
    return "".join(parts) + "</svg>"


def _ceiling(most: int) -> int:
    """The next even round number for an axis."""
    size = 1
    while True:
        for step in (2, 4, 6, 10):
            if most <= step * size:
                return step * size
        size *= 10


def _bar(share: float, kind: str, tip: str) -> str:
    wide = max(1.0, 200 * share) if share > 0 else 0.0
    return (
        f'<svg viewBox="0 0 200 9" preserveAspectRatio="none" style="height:9px" role="img" aria-label="{escape(tip)}">'
        f'<title>{escape(tip)}</title><rect class="{kind}" width="{wide:.1f}" height="9" rx="1"/></svg>'
    )


# --- tables ----------------------------------------------------------------------------------------


def _table(title: str, word: str, tallies: Sequence[Tally], gate: Gate) -> Iterator[str]:
    shown = [tally for tally in tallies if tally.failed]
    if not shown:
        return
    failures = word == "failure"
    most = max(tally.failed for tally in shown)
    longest = max(tally.seconds for tally in shown)
    head = "" if failures else '<th class="n">of logs</th>'
    yield f'<h2>{title}</h2><div class="wide"><table><thead><tr><th>{word}</th><th class="n">failed</th>{head}'
    yield '<th></th><th class="n">lost time</th><th></th></tr></thead><tbody>'
    for tally in shown[:TOP]:
        of = "" if failures else f'<td class="n">{tally.logs:,}</td>'
        told = duration(tally.seconds) if tally.timed else "-"
        yield (
            f'<tr><td>{_named(tally, gate, failures=failures)}</td><td class="n">{tally.failed:,}</td>{of}'
            f'<td class="bar">{_bar(tally.failed / most, "bad", f"{tally.failed} failed")}</td><td class="n">{told}</td>'
            f'<td class="bar">{_bar(tally.seconds / longest if longest else 0, "time", f"{told} lost")}</td></tr>'
        )
    yield "</tbody></table></div>"
    if len(shown) > TOP:
        yield f'<p class="soft">and {len(shown) - TOP} more</p>'


def _named(tally: Tally, gate: Gate, *, failures: bool) -> str:
    if not failures:
        most = f"<small>most: {escape(gate.text(tally.most))}</small>" if tally.most else ""
        return f"{escape(gate.text(tally.key))}{most}"
    aside = [tally.key] if tally.title else []
    if tally.most:
        aside.append(f"in {tally.spread} jobs, most in {tally.most}" if tally.spread > 1 else f"in {tally.most}")
    if tally.last:
        aside.append(f"last on {tally.last}")
    told = " · ".join(f"<span>{escape(gate.text(part))}</span>" for part in aside)
    return f"{escape(gate.text(tally.title or tally.key))}<small>{told}</small>"


def _groups(survey: Survey, gate: Gate) -> Iterator[str]:
    if not survey.groups:
        return
    yield '<h2>Failures that no entry explains, by wording</h2><div class="wide"><table><thead><tr>'
    yield '<th class="n">logs</th><th>worded like</th><th>jobs</th></tr></thead><tbody>'
    yield from (_group(group, gate) for group in survey.groups)
    yield "</tbody></table></div>"
    if survey.ungrouped:
        yield f'<p class="soft">and {survey.ungrouped} logs more, in smaller groups or without a line worth reading</p>'


def _group(group: Group, gate: Gate) -> str:
    jobs = ", ".join(gate.text(job) for job in group.jobs[:5]) + (" …" if len(group.jobs) > 5 else "")
    name = escape(gate.text(group.names[0]))
    example = escape(gate.text(group.example)[:300])
    return f'<tr><td class="n">{group.logs:,}</td><td><code>{example}</code><small>{name}</small></td><td>{escape(jobs)}</td></tr>'


def _unread(survey: Survey, gate: Gate) -> Iterator[str]:
    if not survey.unread_total:
        return
    yield "<h2>Not read</h2><ul>"
    for name, error in survey.unread[:TOP]:
        yield f"<li><code>{escape(gate.text(name))}</code>: {escape(gate.text(error))}</li>"
    yield "</ul>"
    if survey.unread_total > TOP:
        yield f'<p class="soft">and {survey.unread_total - TOP} more</p>'
