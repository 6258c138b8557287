"""The sentences of the screens, made from values; every text of a log passes the `show` it is given."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.reports.text import OWNER_WORDS, RERUN_WORDS, SPEAKS_WORDS

if TYPE_CHECKING:
    from collections.abc import Callable

    from logdoctor.model import Finding, Item, Outcome, SpokenClue, Verdict
    from logdoctor.terminal.answering import Standing

__all__ = [
    "OUTCOMES",
    "basis",
    "change",
    "clue_words",
    "effort_words",
    "item_words",
    "layer_words",
    "owner_words",
    "rerun_words",
    "share_words",
    "size_words",
    "sureness",
]

OUTCOMES: dict[Outcome, str] = {
    "failed": "x failed",
    "aborted": "! aborted",
    "succeeded": "+ succeeded",
    "unknown": "? unknown",
}
SETTLED, LIKELY, CLOSE = 0.9, 0.6, 0.05


def sureness(finding: Finding) -> str:
    """How sure the answer is, of the failure and of its cause."""
    if finding.failure.stand_in == "last":
        return "Failure: only the end of it was recognised, not the reason."
    what = "known by its wording" if finding.failure.stand_in == "no" else "only its general kind was recognised"
    return f"Failure: {what}. Cause: {_cause_sureness(finding)}."


def _cause_sureness(finding: Finding) -> str:
    causes = finding.causes
    if not causes:
        return "none is known"
    if len(causes) == 1:
        return "only one is known"
    if not finding.shares_informed:
        return f"open, the log alone doesn't tell which of {len(causes)}"
    first = causes[0].share
    if first - causes[1].share < CLOSE:
        return f"open, several of {len(causes)} are about as likely"
    word = "nearly settled" if first >= SETTLED else "likely" if first >= LIKELY else "ahead"
    return f"the first of {len(causes)} is {word} ({share_words(first)})"


def rerun_words(finding: Finding) -> str:
    """Whether it is any use to run the build again unchanged."""
    if not finding.causes:
        return ""
    best = finding.causes[0].cause.rerun
    if {r.cause.rerun for r in finding.causes} == {best}:
        return RERUN_WORDS[best]
    return f"{RERUN_WORDS[best][:-1]}, if the first cause is the one."


def basis(finding: Finding) -> str:
    """Where the shares come from."""
    if finding.shares_informed:
        return "Shares: the authors' weights with what is known so far; not measured."
    return "From the log alone these can't be told apart; the order is what is usual."


def share_words(share: float) -> str:
    """A share in whole per cent; what is not nothing is never called 0 %."""
    if share <= 0:
        return "0%"
    return "<1%" if share < 0.01 else ">99%" if 0.99 < share < 1 else f"{share:.0%}"


def clue_words(clue: SpokenClue, show: Callable[[str], str]) -> str:
    """What a clue says, and how strongly."""
    return f"{SPEAKS_WORDS[clue.speaks]}: {show(clue.why or f'{clue.fact} is {clue.value}')}"


def change(standing: Standing, show: Callable[[str], str]) -> str:
    """What the last answer did to the ranking, in one sentence; empty when none was given."""
    if not standing.given:
        return ""
    last = standing.given[-1]
    said = f"You said {last.word}: {show(last.check.ask)}"
    if last.said is None:
        return f"{said} The order stays."
    before, now = standing.shares_before, standing.finding.causes
    first = now[0]
    moved = f"{share_words(before[first.cause.id])} → {share_words(first.share)}"
    was_first = max(before, key=lambda cause: before[cause])
    if not standing.moved:
        return f"{said} That leaves the shares as they are."
    if first.cause.id == was_first:
        return f"{said} The first cause stays first, {moved}."
    return f"{said} Another cause is first now, {moved}."


def effort_words(effort: str) -> str:
    """How much a check asks of the person."""
    return {"seconds": "takes seconds", "minutes": "takes minutes"}.get(effort, "needs someone else")


def owner_words(owner: str) -> str:
    """Who can do a fix."""
    return OWNER_WORDS.get(owner, owner)


def layer_words(layer: str) -> str:
    """Where an entry comes from, when it is not built in."""
    return "" if layer == "built in" else f"from the {layer} layer of the catalogue"


def item_words(item: Item, show: Callable[[str], str]) -> tuple[str, str]:
    """An item's text, and its place in the sources."""
    place = f"{item.file}:{item.line}" if item.file and item.line else item.file or ""
    return show(item.text), show(place)


def size_words(verdict: Verdict) -> str:
    """How long the log is, and whether a part is missing."""
    lines = f"{verdict.source.lines:,} line{'' if verdict.source.lines == 1 else 's'}".replace(",", " ")
    if verdict.source.cut == "none":
        return lines
    return f"{lines}; cut at its {verdict.source.cut}, the reason may be in the missing part"
