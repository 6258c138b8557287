"""How far a build got, as a row of arrows drawn in SVG: one a phase, with the state as a glyph and as a word."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from logdoctor.model import PHASES
from logdoctor.reports.words import phase_states

if TYPE_CHECKING:
    from logdoctor.model import Phase, Segment, Verdict

__all__ = ["share_bar", "track"]

# Within a box of 112 by 56, the arrow's tip on the right.
_SHAPE = "M2 3 H98 L110 28 L98 53 H2 L14 28 Z"
_GLYPHS = {
    "passed": '<path class="glyph" d="M17 20 l4 5 l7 -10"/>',
    "failed": '<path class="glyph" d="M17 14 l10 10 M27 14 l-10 10"/>',
    "unfinished": '<circle class="dot" cx="16.5" cy="19" r="1.8"/><circle class="dot" cx="22" cy="19" r="1.8"/>'
    '<circle class="dot" cx="27.5" cy="19" r="1.8"/>',
    "unseen": "",
}
_TEXT_AT = 34


def track(verdict: Verdict) -> str:
    """All nine phases in order; those the log does not show are drawn dashed."""
    found = {phase: (state, segments) for phase, state, segments in phase_states(verdict)}
    if not found:
        return ""
    arrows = [_arrow(phase, *found.get(phase, ("unseen", []))) for phase in PHASES]
    return f'<ol class="track">{"".join(arrows)}</ol>'


def _arrow(phase: Phase, state: str, segments: list[Segment]) -> str:
    word = "not seen" if state == "unseen" else state
    lines = sum(segment.lines for segment in segments)
    # Lanes that run at the same time would be counted twice, so only one lane's time is told.
    times = [segment.seconds for segment in segments if segment.seconds is not None]
    told = f"{phase}: {word}" + (f", {lines:,} lines" if segments else "")
    if times and len({segment.lane for segment in segments}) == 1:
        told += f", {sum(times):,.1f} s"
    return (
        f'<li class="{state}"><svg viewBox="0 0 112 56" role="img" aria-label="{escape(told)}"><title>{escape(told)}</title>'
        f'<path class="shape" d="{_SHAPE}"/>{_GLYPHS[state]}<text x="{_TEXT_AT}" y="24">{phase}</text>'
        f'<text class="state" x="{_TEXT_AT}" y="42">{word}</text></svg></li>'
    )


def share_bar(share: float) -> str:
    """A share of 1 as a bar; its number stands beside it."""
    part = max(0.0, min(1.0, share)) * 100
    return (
        '<svg class="bar" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect class="whole" width="100" height="10"/><rect class="part" width="{part:.1f}" height="10"/></svg>'
    )
