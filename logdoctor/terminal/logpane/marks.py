"""What the pane is told about lines: findings with their role here, and how a role shows without colour."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.terminal.logpane.texts import beside

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["EVIDENCE_BAR", "LogMark", "MarkBook", "gated", "glyph_of"]

EVIDENCE_BAR = "▌"
_GLYPHS = {"root": "◆", "separate": "◇", "worth-reading": "→", "follow-on": "↳", "recovered": "✓", "background": "·"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LogMark:
    """A line that a finding points at; `evidence` says whether the line itself shows it."""

    line: int
    role: str
    evidence: bool
    label: str


def glyph_of(role: str) -> str:
    """The sign for a role in the gutter."""
    return _GLYPHS.get(role, "*")


def gated(findings: Iterable[LogMark]) -> list[LogMark]:
    """The marks with labels that may be shown."""
    return [LogMark(line=m.line, role=m.role, evidence=m.evidence, label=beside(m.label)) for m in findings]


class MarkBook:
    """Marks by line, in the order of the log."""

    def __init__(self, marks: Iterable[LogMark] = ()) -> None:
        self._by_line: dict[int, list[LogMark]] = {}
        for mark in marks:
            self._by_line.setdefault(mark.line, []).append(mark)
        rank = {role: place for place, role in enumerate(_GLYPHS)}
        for found in self._by_line.values():
            found.sort(key=lambda mark: (rank.get(mark.role, len(rank)), not mark.evidence))
        self.lines = sorted(self._by_line)

    def at(self, line: int) -> LogMark | None:
        """The weightiest mark of a line."""
        found = self._by_line.get(line)
        return found[0] if found else None

    def is_evidence(self, line: int) -> bool:
        """Whether a line shows a finding."""
        return any(mark.evidence for mark in self._by_line.get(line, ()))

    def beside(self, line: int, step: int) -> int | None:
        """The nearest marked line after (step +1) or before (step -1) a line."""
        place = bisect_right(self.lines, line) if step > 0 else bisect_left(self.lines, line) - 1
        return self.lines[place] if 0 <= place < len(self.lines) else None

    def stands_in(self, first: int, last: int) -> bool:
        """Whether a marked line stands in a range."""
        place = bisect_left(self.lines, first)
        return place < len(self.lines) and self.lines[place] <= last
