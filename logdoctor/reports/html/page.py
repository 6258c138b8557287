"""The page around the parts: head with its policy, what stopped the build, what else was seen, where more is told."""

from __future__ import annotations

import base64
import hashlib
import re
from html import escape
from typing import TYPE_CHECKING

from logdoctor.reports.html.diagnosis_part import causes, checks, fix
from logdoctor.reports.html.excerpt_part import ExcerptPart
from logdoctor.reports.html.style import STYLE
from logdoctor.reports.html.track import track
from logdoctor.reports.places import log_link
from logdoctor.reports.plain import Gate
from logdoctor.reports.words import cut_says, middle_out, one_line, place_of, rerun_says, secrets_say, told_others

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.intake import Log
    from logdoctor.model import Finding, Verdict
    from logdoctor.reports.teams import Team

__all__ = ["html_report"]

OUTCOME_GLYPH = {"failed": "✗", "succeeded": "✓", "aborted": "■", "unknown": "?"}
MANY_OTHERS, MANY_PLACES, MANY_SEGMENTS = 25, 20, 60
LONGEST_TEXT, LONGEST_HEADLINE = 600, 400


def html_report(
    verdict: Verdict, *, log: Log | None = None, log_url: str | None = None, team: Team | None = None
) -> str:
    """The whole page; with the open log it holds more lines around what matters."""
    return _Page(verdict, log, log_url, team).render()


def policy() -> str:
    """The page's own style may be used, and nothing else: no script, no request, no frame, no form (CSP Level 3)."""
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


class _Page:
    """One rendering; the gate keeps what it learned from part to part."""

    def __init__(self, verdict: Verdict, log: Log | None, log_url: str | None, team: Team | None) -> None:
        self._verdict = verdict
        self._gate = Gate(verdict)
        self._log_url = log_url
        self._team = team
        # Before all else: the gate learns from the excerpt what to mask above it.
        self._excerpt = ExcerptPart(verdict, self._gate, log)

    def render(self) -> str:
        title = self._text(self._verdict.headline, LONGEST_HEADLINE)
        parts = [
            "<!doctype html>",
            '<html lang="en"><head><meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy()}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="referrer" content="no-referrer">',
            f"<title>{title}</title><style>{STYLE}</style></head><body><main>",
            *self._head(title),
            *self._reached(),
            *self._stopped(),
            *self._reading(),
            *self._others(),
            *self._elsewhere(),
            *self._excerpt.render(),
            *self._foot(),
            "</main></body></html>",
        ]
        return "\n".join(part for part in parts if part) + "\n"

    def _text(self, text: str, most: int = LONGEST_TEXT) -> str:
        """Words of the log, masked, clipped and escaped."""
        return escape(middle_out(self._gate.text(text), most))

    def _place(self, line: int) -> str:
        """A line's place, linked into the excerpt where it is there."""
        said = self._text(self._verdict.source.says(line))
        said = re.sub(r"line (\d+)$", r"line&nbsp;\1", said)
        return f'<a href="#L{line}">{said}</a>' if self._excerpt.has(line) else said

    def _outside(self, line: int) -> str:
        """A link to the line in the whole log; empty where its address is not known."""
        link = log_link(self._log_url, self._verdict.source.place(line)[1], self._gate)
        return f'<a href="{escape(link)}" rel="noopener noreferrer">The whole log at this line</a>' if link else ""

    # --- what comes first ---------------------------------------------------------------------------

    def _head(self, title: str) -> Iterator[str]:
        verdict, source, root = self._verdict, self._verdict.source, self._verdict.root
        glyph = OUTCOME_GLYPH[verdict.outcome]
        yield f'<header><span class="outcome {verdict.outcome}">{glyph} {verdict.outcome}</span>'
        yield f'<span class="source"><code>{self._text(source.name, 200)}</code>, {source.lines:,} lines</span>'
        yield f"<h1>{title}</h1>"
        if root is not None and root.causes:
            yield f'<p class="lead">{rerun_says(root)}</p>'
        if self._team is not None and verdict.outcome != "succeeded":
            yield f"<p>For <b>{self._text(self._team.name)}</b>{self._channel(self._team)}</p>"
        if source.cut != "none":
            yield f'<p class="care">Mind that {cut_says(source)}.</p>'
        if verdict.exposed_secrets:
            yield f'<p class="care"><b>Caution:</b> {self._secrets()}</p>'
        yield "</header>"

    def _channel(self, team: Team) -> str:
        channel = f" ({self._text(team.channel)})" if team.channel else ""
        return f"{channel}, as {self._text(team.why)}." if team.why else f"{channel}."

    def _secrets(self) -> str:
        return self._text(secrets_say(self._verdict), 2000)

    def _reached(self) -> Iterator[str]:
        drawn = track(self._verdict)
        if not drawn:
            return
        yield f'<section id="track"><h2>How far it got</h2>{drawn}'
        segments = self._verdict.segments
        shown = sorted(segments, key=lambda s: (s.state == "passed", s.start))[:MANY_SEGMENTS]
        told = f"{len(segments):,} steps" if len(segments) == len(shown) else f"{len(shown)} of {len(segments):,} steps"
        yield f'<details class="steps"><summary>{told} in order</summary><div class="inner wide"><table>'
        yield '<tr><th>phase</th><th>state</th><th>tool, goal, module, lane</th><th>begins</th><th class="n">lines</th>'
        yield '<th class="n">seconds</th></tr>'
        for s in sorted(shown, key=lambda s: s.start):
            names = ", ".join(self._text(name, 80) for name in (s.tool, s.goal, s.module, s.lane) if name)
            seconds = "" if s.seconds is None else f"{s.seconds:,.1f}"
            yield (
                f'<tr><td>{s.phase}</td><td class="{s.state}">{s.state}</td><td>{names}</td><td>{self._place(s.start)}</td>'
                f'<td class="n">{s.lines:,}</td><td class="n">{seconds}</td></tr>'
            )
        yield "</table></div></details></section>"

    # --- what stopped it ----------------------------------------------------------------------------

    def _stopped(self) -> Iterator[str]:
        root = self._verdict.root
        if root is None:
            return
        yield '<section id="evidence"><h2>Evidence</h2>'
        yield from self._quoted(root)
        if outside := self._outside(root.line):
            yield f"<p>{outside}</p>"
        yield from self._items(root)
        yield f"<p>{escape(one_line(root.failure.meaning))}</p></section>"
        if root.causes:
            yield from fix(root)
            yield from causes(root, self._gate)
            yield from checks(root, self._gate.text(self._verdict.source.name))

    def _quoted(self, finding: Finding) -> Iterator[str]:
        lines = {e.line: e.text for e in (*finding.evidence, *finding.excerpt)}
        near = sorted(lines, key=lambda line: abs(line - finding.line))[:40]
        yield '<div class="log">'
        for line in sorted(near):
            yield self._quote(line, lines[line], "root" if line == finding.line else "")
        yield "</div>"
        if (file := self._verdict.source.place(finding.line)[0]) is not None:
            yield f'<p class="soft">of {self._text(file)}</p>'

    def _quote(self, line: int, text: str, kind: str = "") -> str:
        number = self._verdict.source.place(line)[1]
        at = f'<a href="#L{line}">{number}</a>' if self._excerpt.has(line) else f"<b>{number}</b>"
        return f'<div class="row {kind}">{at}<span>{self._text(text, 2000)}</span></div>'

    def _items(self, root: Finding) -> Iterator[str]:
        if root.items_total < 2:
            return
        shown = len(root.items)
        yield f"<h3>{f'All {shown}' if shown == root.items_total else f'The first {shown} of {root.items_total:,}'}</h3><ul>"
        for item in root.items:
            place = place_of(item.file, item.line)
            at = f"<code>{self._text(place)}</code>: " if place else ""
            yield f"<li>{at}{self._text(item.text)}</li>"
        yield "</ul>"

    # --- the rest -----------------------------------------------------------------------------------

    def _reading(self) -> Iterator[str]:
        verdict = self._verdict
        if not verdict.worth_reading:
            return
        yield '<section id="reading"><h2>Lines worth reading</h2><p>No entry of the catalogue explains this.</p><div class="log">'
        yield from (self._quote(worth.line, worth.text, "reading") for worth in verdict.worth_reading)
        yield "</div><ul>"
        yield from (f"<li>{self._place(worth.line)}: {self._text(worth.why)}</li>" for worth in verdict.worth_reading)
        yield "</ul>"
        if outside := self._outside(verdict.worth_reading[0].line):
            yield f"<p>{outside}</p>"
        if verdict.nearest:
            yield "<h3>Nearest known failures, by wording only</h3><ul>"
            yield from (f"<li>{near.closeness:.0%} {escape(one_line(near.title))}</li>" for near in verdict.nearest)
            yield "</ul>"
        yield "</section>"

    def _others(self) -> Iterator[str]:
        shown = told_others(self._verdict)
        if not shown:
            return
        yield '<section id="others"><h2>Also seen</h2><div class="wide"><table><tr><th>role</th><th>failure</th><th>where</th>'
        yield '<th class="n">times</th></tr>'
        for finding in shown[:MANY_OTHERS]:
            first = finding.causes[0].cause if finding.role == "separate" and finding.causes else None
            likely = f'<br><span class="soft">first cause: {escape(one_line(first.says))}</span>' if first else ""
            yield (
                f'<tr><td class="short">{finding.role}</td><td>{escape(one_line(finding.failure.title))}{likely}</td>'
                f'<td>{self._place(finding.line)}</td><td class="n">{finding.count:,}</td></tr>'
            )
        yield "</table></div>"
        more = max(0, len(shown) - MANY_OTHERS) + self._verdict.others_left_out
        yield f'<p class="soft">and {more:,} more</p></section>' if more else "</section>"

    def _elsewhere(self) -> Iterator[str]:
        places = self._verdict.elsewhere
        if not places:
            return
        yield '<section id="elsewhere"><h2>More is told elsewhere</h2><ul>'
        for place in places[-MANY_PLACES:]:
            yield f"<li>{self._text(place.what)}: <code>{self._text(place.where)}</code></li>"
        yield "</ul></section>"

    def _foot(self) -> Iterator[str]:
        fingerprint = self._verdict.fingerprint
        told = f" Fingerprint of the failure: <code>{escape(fingerprint)}</code>." if fingerprint else ""
        yield f"<footer>From the log alone, by logdoctor; secrets of known kinds are masked.{told}</footer>"
