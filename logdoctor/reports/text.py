"""The verdict as text for a person in a hurry: at most 80 columns of prose, readable without colour."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from logdoctor.reports.plain import Gate
from logdoctor.reports.words import (
    MANY_CAUSES,
    OWNER_WORDS,
    RERUN_WORDS,
    SPEAKS_WORDS,
    because,
    cut_says,
    effort_says,
    owner_says,
    phase_states,
    rerun_says,
    share_basis,
    told_others,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.model import Finding, RankedCause, Verdict

__all__ = ["OWNER_WORDS", "RERUN_WORDS", "SPEAKS_WORDS", "text_report"]

WIDTH = 80
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"
STATE_GLYPH = {"passed": "+", "failed": "x", "unfinished": "?"}
MANY_ITEMS = 10
QUOTED_ROWS = 9


def text_report(verdict: Verdict, *, colour: bool = False) -> str:
    """The whole report; the first line says what stopped the build and where."""
    gate = Gate(verdict)
    lines = [_bold(line, colour=colour) for line in _wrapped(gate.text(verdict.headline))]
    root = verdict.root
    if root is not None and root.causes:
        lines += _wrapped(rerun_says(root))
    lines += ["", *_track(verdict)]
    if root is not None:
        lines += _root(root, verdict, gate, colour=colour)
    lines += _unknown(verdict, gate)
    lines += _others(verdict, gate)
    lines += _elsewhere(verdict, gate)
    lines += _secrets(verdict)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _track(verdict: Verdict) -> Iterator[str]:
    """How far it got: the phases in order with a glyph and a word."""
    if not verdict.segments:
        return
    parts = [f"{STATE_GLYPH[state]} {phase} {state}" for phase, state, _ in phase_states(verdict)]
    yield from _wrapped("How far it got:  " + "  ".join(part.replace(" ", "\u00a0") for part in parts), indent="  ")
    source = verdict.source
    cut = f"; {cut_says(source)}" if source.cut != "none" else ""
    yield from _wrapped(f"({verdict.outcome}; {source.lines} lines{cut})", indent="  ")


def _root(root: Finding, verdict: Verdict, gate: Gate, *, colour: bool) -> Iterator[str]:
    yield ""
    yield _bold("Evidence", colour=colour)

    def number(line: int) -> int:
        return verdict.source.place(line)[1]

    for evidence in root.excerpt or root.evidence:
        marker = ">" if evidence.line == root.line else " "
        yield from _quoted(number(evidence.line), gate.text(evidence.text), marker)
    shown = {e.line for e in root.excerpt}
    for evidence in root.evidence:
        if root.excerpt and evidence.line not in shown:
            yield from _quoted(number(evidence.line), gate.text(evidence.text))
    if (file := verdict.source.place(root.line)[0]) is not None:
        yield from _wrapped(f"(of {gate.text(file)})", indent="  ")
    yield from _items(root, gate)
    yield ""
    yield from _wrapped(root.failure.meaning)
    if root.causes:
        yield ""
        yield from _causes(root, gate, colour=colour)
        yield from _check(root, gate.text(verdict.source.name), colour=colour)
        yield from _fix(root.causes[0], colour=colour, layer=root.failure.layer)


def _quoted(number: int, text: str, marker: str = " ") -> Iterator[str]:
    """A line of the log with its number; a long one goes on below, its middle left out when it is very long."""
    rows = textwrap.wrap(text, WIDTH - 12, drop_whitespace=False, break_on_hyphens=False) or [""]
    if len(rows) > QUOTED_ROWS:
        rows = [*rows[: QUOTED_ROWS - 2], "[...]", rows[-1]]
    yield f"{marker} {number:>7} | {rows[0]}"
    yield from (f"{'':>9} | {row}" for row in rows[1:])


def _items(root: Finding, gate: Gate) -> Iterator[str]:
    if root.items_total < 2:
        return
    yield ""
    yield (
        f"All {root.items_total}:"
        if root.items_total <= MANY_ITEMS
        else f"The first {MANY_ITEMS} of {root.items_total}:"
    )
    for item in root.items[:MANY_ITEMS]:
        place = f"{item.file}:{item.line}: " if item.file and item.line else f"{item.file}: " if item.file else ""
        yield from _wrapped(gate.text(place + item.text), indent="      ", first="  - ")


def _causes(root: Finding, gate: Gate, *, colour: bool) -> Iterator[str]:
    yield _bold("Causes in order" if len(root.causes) > 1 else "Cause", colour=colour)
    if len(root.causes) > 1:
        yield from _wrapped(share_basis(root), indent="  ")
    for number, ranked in enumerate(root.causes[:MANY_CAUSES], start=1):
        share = f"{ranked.share:>4.0%}  " if len(root.causes) > 1 else ""
        yield from _wrapped(f"{number}. {share}{ranked.cause.says}", indent="     ", first="  ")
        for clue in ranked.clues:
            yield from _wrapped(
                f"{SPEAKS_WORDS[clue.speaks]}: {gate.text(because(clue))}", indent="         ", first="       "
            )
    if len(root.causes) > MANY_CAUSES:
        yield f"  and {len(root.causes) - MANY_CAUSES} more"


def _check(root: Finding, name: str, *, colour: bool) -> Iterator[str]:
    if not root.next_checks or len(root.causes) < 2:
        return
    check = root.next_checks[0].check
    yield ""
    yield _bold("Next check", colour=colour)
    yield from _wrapped(f"{check.ask} (effort: {effort_says(check.effort)})", indent="  ")
    yield from _wrapped(check.how, indent="    ")
    yield from _wrapped(
        f"then: logdoctor diagnose --answer {check.id}=yes (or no) {'-' if name == 'standard input' else name}",
        indent="    ",
    )


def _fix(best: RankedCause, *, colour: bool, layer: str) -> Iterator[str]:
    cause = best.cause
    yield ""
    source = "" if layer == "built in" else f", from the {layer} layer"
    yield _bold(f"Fix for cause 1, by {owner_says(cause.owner)}{source}", colour=colour)
    for number, step in enumerate(cause.fix, start=1):
        yield from _wrapped(f"{number}. {step}", indent="     ", first="  ")
    if cause.caution:
        yield from _wrapped(f"Caution: {cause.caution}", indent="    ", first="  ")
    yield from _wrapped(f"Fixed when: {cause.proof}", indent="    ", first="  ")


def _unknown(verdict: Verdict, gate: Gate) -> Iterator[str]:
    if not verdict.worth_reading:
        return
    yield ""
    yield "No entry of the catalogue explains this. Lines worth reading:"
    for line in verdict.worth_reading:
        file, number = verdict.source.place(line.line)
        yield from _quoted(number, gate.text(line.text) + (f"  ({gate.text(file)})" if file else ""))
    if verdict.nearest:
        yield "Nearest known failures (by wording only):"
        for near in verdict.nearest[:3]:
            yield f"  {near.closeness:>4.0%}  {near.title} ({near.failure})"


def _others(verdict: Verdict, gate: Gate) -> Iterator[str]:
    shown = told_others(verdict)
    if not shown:
        return
    yield ""
    yield "Also seen"
    for finding in shown[:8]:
        times = f", {finding.count} times" if finding.count > 1 else ""
        yield from _wrapped(
            f"{finding.role}: {finding.failure.title} ({gate.text(verdict.source.says(finding.line))}{times})",
            indent="    ",
            first="  ",
        )
    more = len(shown) - 8 + verdict.others_left_out
    if more > 0:
        yield f"  and {more} more"


def _elsewhere(verdict: Verdict, gate: Gate) -> Iterator[str]:
    if verdict.elsewhere:
        yield ""
        yield "More is told elsewhere"
        for place in verdict.elsewhere[-3:]:
            yield from _wrapped(f"{gate.text(place.what)}: {gate.text(place.where)}", indent="    ", first="  ")


def _secrets(verdict: Verdict) -> Iterator[str]:
    if not verdict.exposed_secrets:
        return
    yield ""
    kinds = ", ".join(sorted({s.kind for s in verdict.exposed_secrets}))
    lines = sorted({s.line for s in verdict.exposed_secrets})[:8]
    places = ", ".join(verdict.source.says(line) for line in lines)
    yield from _wrapped(
        f"Caution: the log shows secrets ({kinds}) on {places}. Whoever can read the log can use them: have them"
    )
    yield from _wrapped("replaced by the rules of your organisation, and keep them out of the log.")


def _bold(text: str, *, colour: bool) -> str:
    return f"{BOLD}{text}{PLAIN}" if colour else text


def _wrapped(text: str, indent: str = "", first: str | None = None) -> list[str]:
    return [
        line.replace("\u00a0", " ")
        for line in textwrap.wrap(
            text,
            WIDTH,
            initial_indent=indent if first is None else first,
            subsequent_indent=indent,
            break_long_words=False,
            break_on_hyphens=False,
        )
    ]
