"""Causes with their shares and clues, the checks that tell them apart, and the fix, as HTML."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from logdoctor.reports.html.track import share_bar
from logdoctor.reports.words import (
    RERUN_WORDS,
    SPEAKS_WORDS,
    answer_command,
    because,
    effort_says,
    middle_out,
    one_line,
    owner_says,
    share_basis,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.model import Cause, Finding, RankedCause, SpokenClue
    from logdoctor.reports.plain import Gate

__all__ = ["causes", "checks", "fix"]

CLUE_GLYPH = {"excludes": "✗", "strongly-against": "−−", "against": "−", "for": "+", "strongly-for": "++"}  # noqa: RUF001 - minus signs
MANY_CHECKS = 5
LONGEST = 600


def fix(root: Finding) -> Iterator[str]:
    """What to change if the first cause is the one."""
    best = root.causes[0].cause
    layer = "" if root.failure.layer == "built in" else f", from the {escape(root.failure.layer)} layer"
    which = "Fix" if len(root.causes) == 1 else "Fix for the first cause"
    yield f'<section id="fix"><h2>{which}, by {escape(owner_says(best.owner))}{layer}</h2>'
    if len(root.causes) > 1:
        share = f"{root.causes[0].share:.0%}: " if root.shares_informed else "The usual one: "
        yield f"<p>{share}{_own(best.says)}</p>"
    yield from _steps(best)
    yield "</section>"


def causes(root: Finding, gate: Gate) -> Iterator[str]:
    """Each cause with what speaks for and against it; the first one is open."""
    many = len(root.causes) > 1
    yield f'<section id="causes"><h2>{"Causes in order" if many else "Cause"}</h2>'
    if many:
        yield f'<p class="soft">{share_basis(root)}</p>'
    for number, ranked in enumerate(root.causes):
        yield from _cause(ranked, gate, first=number == 0, many=many)
    yield "</section>"


def checks(root: Finding, name: str) -> Iterator[str]:
    """The questions that tell the causes apart, the best one first; the log's name comes through the gate."""
    shown = root.next_checks[:MANY_CHECKS]
    if not shown or len(root.causes) < 2:
        return
    yield f'<section id="checks"><h2>{"Checks that tell them apart" if len(shown) > 1 else "Check that tells them apart"}</h2><ol>'
    for asked in shown:
        check = asked.check
        yield f'<li><b>{_own(check.ask)}</b> <span class="soft">(effort: {effort_says(check.effort)})</span>'
        yield f"<br>{_own(check.how)}"
        yield f"<br>Then, or with <code>=no</code>: <code>{escape(answer_command(check.id, name))}</code></li>"
    yield "</ol></section>"


def _cause(ranked: RankedCause, gate: Gate, *, first: bool, many: bool) -> Iterator[str]:
    cause = ranked.cause
    share = f'<span class="share">{ranked.share:.0%}</span>{share_bar(ranked.share)}' if many else ""
    yield f'<details{" open" if first else ""}><summary>{share}<span>{_own(cause.says)}</span></summary><div class="inner">'
    if ranked.clues:
        yield '<ul class="clues">'
        yield from (_clue(clue, gate) for clue in ranked.clues)
        yield "</ul>"
    elif many:
        yield '<p class="soft">Nothing in the log speaks for or against it.</p>'
    yield f"<p>{RERUN_WORDS[cause.rerun]} It is for {escape(owner_says(cause.owner))}.</p>"
    if not first:
        yield from _steps(cause)
    yield "</div></details>"


def _clue(clue: SpokenClue, gate: Gate) -> str:
    why = escape(middle_out(gate.text(because(clue)), LONGEST))
    return f"<li><b>{CLUE_GLYPH[clue.speaks]} {SPEAKS_WORDS[clue.speaks]}</b>: {why}</li>"


def _steps(cause: Cause) -> Iterator[str]:
    yield "<ol>"
    yield from (f"<li>{_own(step)}</li>" for step in cause.fix)
    yield "</ol>"
    if cause.caution:
        yield f'<p class="care"><b>Caution:</b> {_own(cause.caution)}</p>'
    yield f"<p><b>Fixed when:</b> {_own(cause.proof)}</p>"


def _own(text: str) -> str:
    """A text of the catalogue; one of a project's layer is as foreign as the log."""
    return escape(one_line(text))
