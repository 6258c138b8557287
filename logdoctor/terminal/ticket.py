"""A verdict as plain text for a ticket: what happened, the evidence, and what whom is asked to do. All masked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.terminal.wording import (
    OUTCOMES,
    clue_words,
    layer_words,
    owner_words,
    rerun_words,
    share_words,
    size_words,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from logdoctor.model import Finding, RankedCause, Verdict
    from logdoctor.terminal.answering import Standing

__all__ = ["ticket_text"]

MANY_ITEMS = 10


def ticket_text(
    verdict: Verdict, show: Callable[[str], str], standing: Standing | None = None, chosen: str | None = None
) -> str:
    """The text; `chosen` is the id of the cause whose fix is asked for, else the first."""
    lines = [show(verdict.headline)]
    lines.append(f"Log: {show(verdict.source.name)} ({OUTCOMES[verdict.outcome][2:]}, {size_words(verdict)})")
    if standing is not None:
        lines += _explained(standing, show, chosen)
    if verdict.worth_reading:
        lines += ["", "Lines worth reading"]
        lines += [f"  {w.line} | {show(w.text)}" for w in verdict.worth_reading]
    if verdict.elsewhere:
        lines += ["", "More is told elsewhere"]
        lines += [f"  {show(e.what)}: {show(e.where)}" for e in verdict.elsewhere[-3:]]
    lines += ["", f"Fingerprint: {verdict.fingerprint}"]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _explained(standing: Standing, show: Callable[[str], str], chosen: str | None) -> Iterator[str]:
    finding = standing.finding
    if finding.causes:
        yield rerun_words(finding)
    yield ""
    yield "Evidence"
    for evidence in finding.evidence:
        yield f"  {evidence.line} | {show(evidence.text)}"
    yield from _items(finding, show)
    if not finding.causes:
        return
    cause = next((r for r in finding.causes if r.cause.id == chosen), finding.causes[0])
    yield from _cause(cause, finding, show)
    answers = [a for a in standing.given if a.said is not None]
    if answers:
        yield ""
        yield "Checked"
        yield from (f"  {show(a.check.ask)} {a.word}" for a in answers)
    yield from _fix(cause, finding, show)
    yield from _others(cause, finding, show)


def _items(finding: Finding, show: Callable[[str], str]) -> Iterator[str]:
    if finding.items_total < 2:
        return
    yield f"  {finding.items_total} in all:"
    for item in finding.items[:MANY_ITEMS]:
        yield f"  - {show(item.text)}"


def _cause(ranked: RankedCause, finding: Finding, show: Callable[[str], str]) -> Iterator[str]:
    yield ""
    share = f" ({share_words(ranked.share)}, estimated)" if len(finding.causes) > 1 else ""
    yield f"Cause{share}"
    yield f"  {show(ranked.cause.says)}"
    yield from (f"  {clue_words(clue, show)}" for clue in ranked.clues)


def _fix(ranked: RankedCause, finding: Finding, show: Callable[[str], str]) -> Iterator[str]:
    cause = ranked.cause
    layer = layer_words(finding.failure.layer)
    yield ""
    yield f"To do, by {owner_words(cause.owner)}{f' ({layer})' if layer else ''}"
    yield from (f"  {number}. {show(step)}" for number, step in enumerate(cause.fix, start=1))
    if cause.caution:
        yield f"  Caution: {show(cause.caution)}"
    yield f"  Fixed when: {show(cause.proof)}"


def _others(chosen: RankedCause, finding: Finding, show: Callable[[str], str]) -> Iterator[str]:
    others = [r for r in finding.causes if r is not chosen and r.share >= 0.05]
    if others:
        yield ""
        yield "If that is not it"
        yield from (f"  {share_words(r.share)}  {show(r.cause.says)}" for r in others)
