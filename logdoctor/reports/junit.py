"""A verdict in the JUnit result form: one suite a phase that was reached, a case for each step and each failing item.

Held against two published schemas: junit-10.xsd (what CI servers read) as a whole, and Maven Surefire's own for each
suite. A failure is what the log shows; an error is a build that ended badly for a reason nobody can name.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from logdoctor.model import PHASES
from logdoctor.reports.plain import Gate
from logdoctor.reports.text import OWNER_WORDS, RERUN_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.model import Finding, Item, Phase, Segment, Verdict
    from logdoctor.reports.teams import Team

__all__ = ["junit_report"]

# XML 1.0 (fifth edition), section 2.2: what no document may hold, not even as a reference.
_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
MOST_STEPS = 500
"""Steps told in one phase; a log with more lanes than that tells the first."""


def junit_report(verdict: Verdict, *, team: Team | None = None) -> str:
    """The whole document, with its XML declaration."""
    return _Writer(verdict, team).document()


class _Writer:
    def __init__(self, verdict: Verdict, team: Team | None) -> None:
        self._verdict = verdict
        self._team = team
        self._gate = Gate(verdict)
        findings = [verdict.root, *(f for f in verdict.others if f.role == "separate")]
        self._findings: list[Finding] = [] if verdict.outcome == "succeeded" else [f for f in findings if f]

    def document(self) -> str:
        suites = ET.Element("testsuites", {"name": self._text(self._verdict.source.name)})
        for phase in self._phases():
            suites.append(self._suite(phase))
        _count(suites)
        ET.indent(suites)
        return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(suites, encoding="unicode") + "\n"

    def _phases(self) -> list[Phase]:
        reached = {s.phase for s in self._verdict.segments} | {f.struck_in for f in self._findings}
        ordered = [phase for phase in PHASES if phase in reached or phase == self._unknown_in()]
        return ordered or ["agent"]

    def _unknown_in(self) -> Phase | None:
        """The phase that gets the error of a build without a known reason."""
        verdict = self._verdict
        if verdict.outcome == "succeeded" or verdict.root is not None:
            return None
        steps = [s for s in verdict.segments if s.phase != "post"] or list(verdict.segments)
        failed = [s for s in steps if s.state == "failed"]
        last = (failed or steps)[-1:]
        return last[0].phase if last else "agent"

    def _suite(self, phase: Phase) -> ET.Element:
        suite = ET.Element("testsuite", {"name": phase})
        self._properties(suite, phase)
        here = [f for f in self._findings if f.struck_in == phase]
        for finding in here:
            suite.extend(self._failing(finding))
        if phase == self._unknown_in():
            suite.append(self._error(phase))
        told = bool(here) or phase == self._unknown_in()
        segments = [s for s in self._verdict.segments if s.phase == phase]
        suite.extend(case for s in segments[:MOST_STEPS] for case in self._step(s, told=told))
        if suite.find("testcase") is None:
            ET.SubElement(suite, "testcase", {"name": "reached", "classname": phase, "time": "0"})
        _tally(suite, sum(s.seconds or 0.0 for s in segments))
        return suite

    def _properties(self, suite: ET.Element, phase: Phase) -> None:
        """What is known of the whole, on the suite where it struck."""
        verdict, root = self._verdict, self._verdict.root
        if phase != (root.struck_in if root in self._findings and root else self._unknown_in() or self._phases()[0]):
            return
        told = {"outcome": verdict.outcome, "headline": verdict.headline, "fingerprint": verdict.fingerprint}
        if root is not None:
            told |= {"failure": root.failure.id, "items_total": str(root.items_total)}
        if self._team is not None:
            told |= {"team": self._team.name, "team_why": self._team.why}
            told |= {"team_channel": self._team.channel} if self._team.channel else {}
        properties = ET.SubElement(suite, "properties")
        for name, value in told.items():
            ET.SubElement(properties, "property", {"name": name, "value": self._text(value)})

    def _failing(self, finding: Finding) -> Iterator[ET.Element]:
        """A case for each failing item, or one for the failure itself; the first one carries the explanation."""
        details = self._details(finding)
        names: dict[str, int] = {}
        for item in finding.items:
            name = self._text(_item_name(item)) or finding.failure.title
            names[name] = names.get(name, 0) + 1
            if names[name] > 1:
                name += f" ({names[name]})"
            yield self._case(name, finding, self._text(item.text), details)
            details = f"See the first case of {finding.failure.id}."
        if not finding.items:
            yield self._case(self._text(finding.failure.title), finding, self._text(finding.failure.title), details)

    def _case(self, name: str, finding: Finding, message: str, details: str) -> ET.Element:
        case = ET.Element("testcase", {"name": name, "classname": self._class(finding), "time": "0"})
        # A stand-in of last resort says that something failed, not what: that is an error here.
        tag = "error" if finding.failure.stand_in == "last" else "failure"
        failure = ET.SubElement(case, tag, {"type": finding.failure.id, "message": message})
        failure.text = details
        return case

    def _class(self, finding: Finding) -> str:
        return f"{finding.struck_in}.{self._text(finding.tool)}"

    def _details(self, finding: Finding) -> str:
        verdict = self._verdict
        rows = [verdict.headline if finding is verdict.root else f"{finding.failure.title} (line {finding.line})."]
        rows += [f"{e.line}: {e.text}" for e in finding.excerpt or finding.evidence]
        if finding is verdict.root:
            rows += self._worth()
        rows.append(finding.failure.meaning)
        if finding.causes:
            rows.append(RERUN_WORDS[finding.causes[0].cause.rerun])
        for number, ranked in enumerate(finding.causes[:5], start=1):
            cause = ranked.cause
            rows.append(f"Cause {number} ({ranked.share:.0%}): {cause.says}")
            rows.append(f"  Fix, by {OWNER_WORDS.get(cause.owner, cause.owner)}:")
            rows += [f"  - {step}" for step in cause.fix]
            rows += [f"  Caution: {cause.caution}"] if cause.caution else []
            rows.append(f"  Fixed when: {cause.proof}")
        if finding.next_checks:
            rows.append(f"Next check: {finding.next_checks[0].check.ask} {finding.next_checks[0].check.how}")
        if self._team is not None and finding is verdict.root:
            rows.append(f"For: {self._team.says()}.")
        return "\n".join(self._text(row) for row in rows)

    def _error(self, phase: Phase) -> ET.Element:
        verdict = self._verdict
        kind = "outcome-unknown" if verdict.outcome == "unknown" else "unknown-failure"
        case = ET.Element("testcase", {"name": kind, "classname": phase, "time": "0"})
        error = ET.SubElement(case, "error", {"type": kind, "message": self._text(verdict.headline)})
        error.text = "\n".join(self._text(row) for row in self._worth())
        return case

    def _worth(self) -> list[str]:
        verdict = self._verdict
        rows = ["Lines worth reading:"] if verdict.worth_reading else []
        rows += [f"{w.line}: {w.text} ({w.why})" for w in verdict.worth_reading]
        rows += [f"Nearest by wording: {n.title} ({n.failure})" for n in verdict.nearest[:3]]
        return rows + [f"{e.what}: {e.where}" for e in verdict.elsewhere]

    def _step(self, segment: Segment, *, told: bool) -> Iterator[ET.Element]:
        """A passed step passes, an unfinished one is skipped; a failed one stands in its findings, where there are any."""
        if segment.state == "failed" and told:
            return
        what = [segment.module, segment.goal or segment.phase]
        name = self._text(" ".join(part for part in what if part)) + f" (lines {segment.start} to {segment.end})"
        where = f"{segment.phase}.{self._text(segment.lane)}" if segment.lane else segment.phase
        case = ET.Element("testcase", {"name": name, "classname": where, "time": f"{segment.seconds or 0:.3f}"})
        if segment.state == "failed":
            said = "This step failed; the log shows no reason of its own here."
            ET.SubElement(case, "failure", {"type": "step-failed", "message": said})
        elif segment.state == "unfinished":
            ET.SubElement(case, "skipped", {"message": "The log does not show this step's end."})
        yield case

    def _text(self, text: str) -> str:
        return _FORBIDDEN.sub("\N{REPLACEMENT CHARACTER}", self._gate.text(text))


def _item_name(item: Item) -> str:
    place = f"{item.file}:{item.line}: " if item.file and item.line else f"{item.file}: " if item.file else ""
    return place + item.text


def _tally(suite: ET.Element, seconds: float) -> None:
    cases = suite.findall("testcase")
    suite.set("tests", str(len(cases)))
    for name, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        suite.set(name, str(sum(case.find(tag) is not None for case in cases)))
    suite.set("time", f"{seconds:.3f}")


def _count(suites: ET.Element) -> None:
    for name in ("tests", "failures", "errors"):
        suites.set(name, str(sum(int(suite.get(name, "0")) for suite in suites)))
