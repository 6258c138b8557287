"""The pane's line of words: where the cursor is, what a mark means, what is selected, what is going on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.terminal.logpane.marks import glyph_of

if TYPE_CHECKING:
    from logdoctor.terminal.logpane.marks import LogMark

__all__ = ["Standing", "status_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What there is to tell."""

    line: int
    lines: int
    complete: bool
    mark: LogMark | None = None
    selected: int = 0
    column: int = 0
    notice: str = ""
    hits: int | None = None
    rank: int | None = None
    more_hits: bool = False
    busy: str = ""
    at_end: bool = False


def status_words(standing: Standing) -> str:
    """One line, the most wanted first, since a narrow screen cuts its end off."""
    parts = [_where(standing)]
    if standing.notice:
        parts.append(standing.notice)
    if standing.busy:
        parts.append(standing.busy)
    if standing.selected > 1:
        parts.append(f"{standing.selected} lines selected")
    if standing.hits is not None:
        parts.append(_hits(standing))
    if standing.mark is not None:
        parts.append(_mark(standing.mark))
    if standing.column:
        parts.append(f"from column {standing.column + 1}")
    return " | ".join(parts)


def _where(standing: Standing) -> str:
    if not standing.lines:
        return "the log is empty" if standing.complete else "no line yet"
    if standing.at_end:
        return "end of the log"
    return f"line {standing.line} of {standing.lines}{'' if standing.complete else '+'}"


def _mark(mark: LogMark) -> str:
    word = f"{mark.role}, evidence" if mark.evidence else mark.role
    return f"{glyph_of(mark.role)} {word}: {mark.label}" if mark.label else f"{glyph_of(mark.role)} {word}"


def _hits(standing: Standing) -> str:
    if not standing.hits:
        return "no line found"
    count = f"{standing.hits}{'+' if standing.more_hits else ''}"
    if standing.rank:
        return f"hit {standing.rank} of {count}"
    return f"{count} line{'' if standing.hits == 1 else 's'} found"
