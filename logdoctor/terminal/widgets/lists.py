"""The lists beside the causes: items, other findings, lines worth reading. Row ids say what a row stands for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.terminal.widgets.prose import Para
from logdoctor.terminal.widgets.rows import Row, Rows
from logdoctor.terminal.wording import item_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from logdoctor.model import Finding, Verdict

__all__ = ["ItemRows", "MoreRows", "ReadingRows", "more_count"]

ROLE_WORDS = {
    "follow-on": "follows from it",
    "recovered": "was got over",
    "separate": "a second failure",
    "background": "background",
    "root": "root",
}
SECRETS = (
    "The log shows secrets; whoever can read it can use them. Have them replaced by the rules of your organisation, "
    "and keep them out of the log."
)


class ItemRows(Rows):
    """Failing tests, compiler errors, missing artifacts; ids are `item-N`."""

    def show_items(self, finding: Finding, show: Callable[[str], str]) -> None:
        """Fill the list."""
        total = finding.items_total
        self.border_title = (
            f"{total} in all" if total <= len(finding.items) else f"the first {len(finding.items)} of {total}"
        )
        self.border_subtitle = "Enter: find in the log"
        rows = []
        for number, item in enumerate(finding.items):
            text, place = item_words(item, show)
            tail = [Para(place, "  ", "$foreground 80%")] if place else []
            rows.append((f"item-{number}", [Para(text, "- "), *tail]))
        self.fill(rows)


class ReadingRows(Rows):
    """For an unknown failure; ids are `line-N` for lines and `entry-ID` for known failures that come near."""

    def show_reading(self, verdict: Verdict, show: Callable[[str], str]) -> None:
        """Fill the list."""
        self.border_title = "No entry of the catalogue explains this: lines worth reading"
        self.border_subtitle = "Enter: go to the line, or open the entry"
        self.fill(_reading(verdict, show))


class MoreRows(Rows):
    """All else; ids are `line-N-…` for lines; what leads nowhere is a heading."""

    def show_more(self, verdict: Verdict, show: Callable[[str], str]) -> None:
        """Fill the list."""
        self.border_title = "Also seen in this log"
        self.border_subtitle = "Enter: go to the line   e: catalogue entry"
        self.fill(_more(verdict, show))


def more_count(verdict: Verdict) -> int:
    """How many remarks the list holds."""
    secrets = {s.line for s in verdict.exposed_secrets}
    parts = (_told_others(verdict), verdict.elsewhere, secrets, verdict.notices)
    return sum(map(len, parts)) + verdict.others_left_out


def _reading(verdict: Verdict, show: Callable[[str], str]) -> Iterator[Row]:
    for worth in verdict.worth_reading:
        why = [Para(show(worth.why), "  ", "$foreground 80%")] if worth.why else []
        yield (f"line-{worth.line}", [Para(show(worth.text), f"line {worth.line}: ", under=2), *why])
    if verdict.nearest:
        yield _heading("Nearest known failures, by wording only")
    for near in verdict.nearest:
        yield (f"entry-{near.failure}", [Para(show(near.title), f"{near.closeness:>4.0%} close: ")])


def _more(verdict: Verdict, show: Callable[[str], str]) -> Iterator[Row]:
    for number, finding in enumerate(_told_others(verdict)):
        times = f", {finding.count} times to line {finding.last_line}" if finding.count > 1 else ""
        where = f"line {finding.line}{times} ({ROLE_WORDS[finding.role]}): "
        yield (
            f"line-{finding.line}-{number}-{finding.failure.id}",
            [Para(show(finding.failure.title), where, under=2)],
        )
    if verdict.others_left_out:
        yield (None, [Para(f"and {verdict.others_left_out} more findings that are not listed")])
    yield from _headed("More is told elsewhere", [f"{show(e.what)}: {show(e.where)}" for e in verdict.elsewhere])
    secrets = {s.line: s.kind for s in verdict.exposed_secrets}
    if secrets:
        yield _heading(SECRETS)
    for line, kind in secrets.items():
        yield (f"line-{line}-secret", [Para(f"line {line}: {kind}")])
    yield from _headed("About this reading", [show(notice) for notice in verdict.notices])


def _headed(title: str, rows: Sequence[str]) -> Iterator[Row]:
    if rows:
        yield _heading(title)
    yield from ((None, [Para(row, "  ")]) for row in rows)


def _heading(text: str) -> Row:
    return (None, [Para(text, style="bold")])


def _told_others(verdict: Verdict) -> list[Finding]:
    """What bears on the outcome first; background last."""
    order = ("separate", "follow-on", "recovered", "background")
    return sorted(verdict.others, key=lambda f: (order.index(f.role), f.line))
