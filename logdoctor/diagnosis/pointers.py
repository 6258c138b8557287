"""Where the log points beyond itself: other logs and reports that hold the reason, and parts that were cut off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.intake import LineReader, clean
from logdoctor.lazy import lazy
from logdoctor.model import Cut, Elsewhere, Evidence, Hit

if TYPE_CHECKING:
    from logdoctor.diagnosis.outcome import Ending
    from logdoctor.diagnosis.timeline import Timeline
    from logdoctor.scan import Scan

__all__ = ["excerpt", "find_cut", "find_elsewhere"]

MAX_ELSEWHERE = 10
CONTEXT = 2
_CONTINUES = lazy(r"^(?:\s+at [\w.$/]+\(|\s+\.\.\. \d+ (?:more|common frames)|Caused by: |\s+Suppressed: )")


def find_elsewhere(timeline: Timeline, ending: Ending) -> tuple[Elsewhere, ...]:
    """Places that the log names for more of the reason; none when the build succeeded."""
    if ending.outcome == "succeeded":
        return ()
    found = {}
    for mark in timeline.of("elsewhere"):
        where = mark.hit.groups.get("where", "").strip()
        if where:
            found[where] = Elsewhere(what=str(mark.mark.options.get("what", "more of the reason")), where=where)
    return tuple(found.values())[-MAX_ELSEWHERE:]


def find_cut(timeline: Timeline, reader: LineReader, scan: Scan) -> Cut:
    """Which part of the log is missing, as far as it can be seen."""
    for mark in timeline.of("cut"):
        part = mark.mark.options.get("part", "middle")
        if part == "middle" and mark.line <= 3:
            part = "head"
        if part == "middle" and mark.line >= scan.lines - 1:
            part = "tail"
        return part if part in ("head", "tail") else "middle"
    if scan.bytes == 0:
        return "none"
    start, end = reader.line_at(0)
    if _CONTINUES.search(clean(reader.text(start, end)).text):
        return "head"
    return "none"


def excerpt(reader: LineReader, hit: Hit) -> tuple[Evidence, ...]:
    """The hit's line with two lines around it, cleaned."""
    before = reader.before(hit.offset, CONTEXT)
    after = reader.after(hit.offset, CONTEXT)
    lines = [Evidence(line=hit.line - len(before) + i, text=_text(reader, place)) for i, place in enumerate(before)]
    lines.append(Evidence(line=hit.line, text=hit.text))
    return (*lines, *(Evidence(line=hit.line + i, text=_text(reader, place)) for i, place in enumerate(after, start=1)))


def _text(reader: LineReader, place: tuple[int, int]) -> str:
    return clean(reader.text(*place)).text
