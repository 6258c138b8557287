"""Which views a verdict has, under which label, and which of them opens first."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.terminal.widgets.lists import more_count

if TYPE_CHECKING:
    from logdoctor.model import Verdict
    from logdoctor.terminal.desk import Case

__all__ = ["ANSWERS", "first_line", "first_view", "place_pattern", "views_of"]

ANSWERS = ("reading", "causes", "fix", "items", "more")


def views_of(case: Case) -> tuple[tuple[str, str], ...]:
    """Name and label of each view that has something to show, in order; the log is always one."""
    verdict, finding = case.verdict, case.standing.finding if case.standing else None
    views = []
    if verdict is not None and verdict.worth_reading:
        views.append(("reading", "Worth reading"))
    if finding is not None and finding.causes:
        views += [("causes", "Causes"), ("fix", "Fix")]
    views.append(("log", "Log"))
    if finding is not None and finding.items_total:
        views.append(("items", f"Items ({finding.items_total})"))
    if verdict is not None and (count := more_count(verdict)):
        views.append(("more", f"Also seen ({count})"))
    return tuple(views)


def first_view(case: Case) -> str:
    """What to look at first: the answer, or the log where there is none."""
    return views_of(case)[0][0] if case.verdict is not None and case.verdict.outcome != "succeeded" else "log"


def place_pattern(file: str, line: int) -> str:
    """What a tool prints for a place in the sources: `Name.java:142`, `Name.java:[142,7]`, `name.c(142)`, `"a.py", line 142`."""
    name = re.escape(file.replace("\\", "/").rpartition("/")[2])
    return rf"{name}(?:\W{{1,3}}(?:line )?){line}(?!\d)"


def first_line(verdict: Verdict) -> int:
    """The line to show first: the root's, one worth reading, else the last."""
    if verdict.root is not None:
        return verdict.root.line
    if verdict.worth_reading:
        return verdict.worth_reading[0].line
    return max(verdict.source.lines, 1)
