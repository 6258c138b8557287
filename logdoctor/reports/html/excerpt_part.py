"""The excerpt of the log as HTML: a row a line, each with an anchor `L<number>`; what is left out is counted."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from logdoctor.reports.excerpt import excerpt, lines_between
from logdoctor.reports.words import last_line

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.intake import Log
    from logdoctor.model import Segment, Verdict
    from logdoctor.reports.excerpt import Row
    from logdoctor.reports.plain import Gate

__all__ = ["ExcerptPart"]

LONGEST_NAME = 80


class ExcerptPart:
    """The rows of one page; the other parts of the page ask which lines have an anchor."""

    def __init__(self, verdict: Verdict, gate: Gate, log: Log | None) -> None:
        self._verdict = verdict
        self._gate = gate
        self._rows = excerpt(verdict, gate, log)
        self._anchors = {row.line for row in self._rows}

    def has(self, line: int) -> bool:
        """Whether a line is in the excerpt."""
        return line in self._anchors

    def render(self) -> Iterator[str]:
        """The section; nothing for a log without lines."""
        if not self._rows:
            return
        total = self._verdict.source.lines
        whole = len(self._rows) == total
        yield '<section id="log"><h2>The log</h2>'
        told = (
            "all its lines"
            if whole
            else f"{len(self._rows):,} of {total:,} lines: those that matter, and what stands around them"
        )
        yield f'<p class="soft">{told}; secrets are masked.</p><div class="log">'
        yield from self._body()
        yield "</div></section>"

    def _body(self) -> Iterator[str]:
        starts = self._starts()
        file: str | None = None
        for row in self._rows:
            if row.left_out:
                yield _gap(row.left_out)
            if row.file != file and row.file is not None:
                yield f'<div class="starts">{escape(row.file)}</div>'
            file = row.file
            if row.line in starts:
                yield f'<div class="starts">{starts[row.line]}</div>'
            yield _row(row)
        if after := lines_between(self._verdict, self._rows[-1].line, last_line(self._verdict.source) + 1):
            yield _gap(after)

    def _starts(self) -> dict[int, str]:
        """What begins at a line, in words."""
        told: dict[int, list[str]] = {}
        for segment in self._verdict.segments:
            if segment.start in self._anchors:
                told.setdefault(segment.start, []).append(self._says(segment))
        return {line: "; ".join(dict.fromkeys(words)) for line, words in told.items()}

    def _says(self, segment: Segment) -> str:
        names = [name for name in (segment.tool, segment.goal, segment.module, segment.lane) if name]
        aside = f" ({', '.join(self._gate.text(name)[:LONGEST_NAME] for name in names)})" if names else ""
        return escape(f"{segment.phase}{aside}: {segment.state}")


def _row(row: Row) -> str:
    name = f"L{row.line}"
    kind = f" {row.kind}" if row.kind in ("root", "evidence", "reading") else ""
    return f'<div class="row{kind}" id="{name}"><a href="#{name}">{row.number}</a><span>{escape(row.text, quote=False)}</span></div>'


def _gap(count: int) -> str:
    return f'<div class="gap">{count:,} line{"s" * (count != 1)} left out</div>'
