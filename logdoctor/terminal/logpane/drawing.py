"""One row of the pane as cells: number and signs, then the text with what is lit in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.cells import cell_len, chop_cells
from rich.segment import Segment
from textual.strip import Strip

from logdoctor.terminal.logpane.marks import EVIDENCE_BAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.style import Style

__all__ = ["MORE_LEFT", "MORE_RIGHT", "Look", "Row", "draw", "gutter_width", "wrapped"]

MORE_LEFT, MORE_RIGHT = "«", "»"
_SIGNS = 5
"""Cells beside the number: the cursor, a blank, the role, the evidence bar, a blank."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Styles by what they are for."""

    plain: Style
    number: Style
    role: Style
    evidence: Style
    chosen: Style
    cursor: Style
    hit: Style
    aside: Style


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What one row of the screen shows."""

    number: str
    text: str
    lit: Sequence[tuple[int, int]] = ()
    cursor: bool = False
    chosen: bool = False
    glyph: str = " "
    evidence: bool = False
    aside: bool = False
    """Not the log's own words: a fold, a note."""


def gutter_width(digits: int) -> int:
    """Cells before the text."""
    return digits + _SIGNS


def wrapped(text: str, width: int) -> list[tuple[int, int]]:
    """The parts of a text that fit into rows of that many cells; at least one."""
    if text.isascii():
        return [(low, min(low + width, len(text))) for low in range(0, len(text), width)] or [(0, 0)]
    spans, start = [], 0
    for part in chop_cells(text, width):
        spans.append((start, start + len(part)))
        start += len(part)
    return spans or [(0, 0)]


def draw(row: Row, look: Look, *, digits: int, left: int, width: int) -> Strip:
    """The cells of a row, exactly `width` of them; `left` cells of the text are scrolled away."""
    base = look.plain
    if row.evidence:
        base += look.evidence
    if row.chosen:
        base += look.chosen
    if row.cursor:
        base += look.cursor
    body_width = max(width - gutter_width(digits), 1)
    body = Strip(_body(row, base, look))
    length = body.cell_length
    right = left + body_width
    body = body.crop(left, right).adjust_cell_length(body_width, base)
    if left and length:
        body = Strip.join([Strip([Segment(MORE_LEFT, base + look.aside)]), body.crop(1, body_width)])
    if length > right:
        body = Strip.join([body.crop(0, body_width - 1), Strip([Segment(MORE_RIGHT, base + look.aside)])])
    return Strip.join([_gutter(row, base, look, digits), body]).adjust_cell_length(width, base)


def _gutter(row: Row, base: Style, look: Look, digits: int) -> Strip:
    sign = ">" if row.cursor else "|" if row.chosen else " "
    bar = EVIDENCE_BAR if row.evidence else " "
    return Strip(
        [
            Segment(sign, base + look.role),
            Segment(f"{row.number:>{digits}} ", base + look.number),
            Segment(f"{row.glyph[:1]}{bar} ", base + look.role),
        ]
    )


def _body(row: Row, base: Style, look: Look) -> list[Segment]:
    own = base + look.aside if row.aside else base
    segments, place = [], 0
    for start, end in row.lit:
        if start >= len(row.text):
            break
        if start > place:
            segments.append(Segment(row.text[place:start], own))
        segments.append(Segment(row.text[max(start, place) : end], own + look.hit))
        place = max(end, place)
    segments.append(Segment(row.text[place:], own))
    return [segment for segment in segments if cell_len(segment.text)]
