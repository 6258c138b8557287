"""What the log pane marks: the evidence and the findings with their roles, from a verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.terminal.logpane import LogMark

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from logdoctor.model import Finding, Verdict

__all__ = ["marks_of"]


def marks_of(verdict: Verdict, show: Callable[[str], str]) -> list[LogMark]:
    """One mark a line, in order; the root's marks win, then those of the role that weighs most."""
    found: dict[int, LogMark] = {}
    for mark in _all(verdict, show):
        found.setdefault(mark.line, mark)
    return [found[line] for line in sorted(found)]


def _all(verdict: Verdict, show: Callable[[str], str]) -> Iterator[LogMark]:
    if verdict.root is not None:
        yield from _of(verdict.root, show)
    for worth in verdict.worth_reading:
        yield LogMark(line=worth.line, role="worth-reading", evidence=True, label=show(worth.why))
    for role in ("separate", "follow-on", "recovered", "background"):
        for finding in verdict.others:
            if finding.role == role:
                yield from _of(finding, show)


def _of(finding: Finding, show: Callable[[str], str]) -> Iterator[LogMark]:
    label = show(finding.failure.title)
    yield LogMark(line=finding.line, role=finding.role, evidence=finding.role == "root", label=label)
    for evidence in finding.evidence if finding.role == "root" else ():
        yield LogMark(line=evidence.line, role=finding.role, evidence=True, label=label)
