"""The verdict as Markdown for a job summary or a ticket: CommonMark with the tables of GitHub Flavored Markdown, no HTML.

Lines of the log stand in fenced blocks (CommonMark 0.31.2, section 4.5) whose fence is longer than any run of backticks
in them; words that renderers make links, mentions or references of stand in code spans (section 6.1).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.reports.message import pointed_line
from logdoctor.reports.places import log_link
from logdoctor.reports.plain import Gate
from logdoctor.reports.words import (
    MANY_CAUSES,
    SPEAKS_WORDS,
    answer_command,
    because,
    cut_says,
    effort_says,
    middle_out,
    one_line,
    owner_says,
    phase_states,
    place_of,
    rerun_says,
    secrets_say,
    share_basis,
    told_others,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from logdoctor.model import Finding, RankedCause, Verdict
    from logdoctor.reports.teams import Team

__all__ = ["inline", "markdown_report"]

STATE_GLYPH = {"passed": "✓", "failed": "✗", "unfinished": "?"}
LONGEST_LINE = 500
LONGEST_TEXT = 400
LONGEST_OWN = 1500
MANY_ITEMS, MANY_OTHERS, MANY_CLUES, MANY_LINES = 20, 8, 8, 40

_MARKUP = re.compile(r"[\\`*_\[\]<>|~&!$^{}]|#(?![A-Za-z])")
_BLOCK_START = re.compile(r"^(\s*)(?:([-+=#])|(\d{1,9})([.)]))")
# Addresses, names of hosts and files, mail addresses, mentions, references to issues, short codes of pictures, entities.
_ACTIVE = re.compile(r"(?i)://|\bwww\.|\w\.[a-z]{2}|@|#\d|\bGH-\d|:[\w+-]+:|\b(?:mailto|xmpp|javascript|data):|&#?\w+;")
_AROUND = ".,!?()\"'"
_RUN = re.compile(r"`+")


def markdown_report(verdict: Verdict, *, log_url: str | None = None, team: Team | None = None) -> str:
    """The whole report, in the order of the text report."""
    return _Report(verdict, log_url, team).render()


def _own(text: str) -> str:
    """A text of the catalogue; one of a project's layer is as foreign as the log."""
    return inline(one_line(text), LONGEST_OWN)


def inline(text: str, most: int = LONGEST_TEXT) -> str:
    """Words of a log within a paragraph: nothing in them is markup, and none becomes a link or a mention."""
    words = middle_out(" ".join(text.split()), most).split(" ")
    return _BLOCK_START.sub(_escaped_start, " ".join(_word(word) for word in words))


def _word(word: str) -> str:
    """A word with its markup escaped, or in a code span where a renderer would act on it."""
    if not _ACTIVE.search(word):
        return _MARKUP.sub(r"\\\g<0>", word)
    core = word.strip(_AROUND) or word
    inner = core.strip(_AROUND + ":;")
    core = inner if _ACTIVE.search(inner) else core
    before, _, after = word.partition(core)
    return _MARKUP.sub(r"\\\g<0>", before) + _span(core) + _MARKUP.sub(r"\\\g<0>", after)


def _escaped_start(match: re.Match[str]) -> str:
    sign = f"\\{match[2]}" if match[2] else f"{match[3]}\\{match[4]}"
    return match[1] + sign


def _span(text: str) -> str:
    """A code span that holds exactly this text."""
    fence = "`" * (max((len(run) for run in _RUN.findall(text)), default=0) + 1)
    space = " " if text.startswith("`") or text.endswith("`") else ""
    return f"{fence}{space}{text}{space}{fence}"


def _fenced(rows: Sequence[str]) -> list[str]:
    """A code block; its fence is longer than any run of backticks inside."""
    longest = max((len(run) for row in rows for run in _RUN.findall(row)), default=0)
    fence = "`" * max(3, longest + 1)
    return [f"{fence}text", *rows, fence]


class _Report:
    """One rendering; the gate keeps what it learned from part to part."""

    def __init__(self, verdict: Verdict, log_url: str | None, team: Team | None) -> None:
        self._verdict = verdict
        self._gate = Gate(verdict)
        self._log_url = log_url
        self._team = team

    def render(self) -> str:
        verdict = self._verdict
        root = verdict.root
        blocks: list[list[str]] = [[f"## {self._inline(verdict.headline)}"]]
        blocks += self._first()
        blocks += self._track()
        if root is not None:
            blocks += self._evidence(root)
            blocks += self._items(root)
            blocks.append([_own(root.failure.meaning)])
            if root.causes:
                blocks += self._causes(root)
                blocks += self._check(root)
                blocks += self._fix(root.causes[0], root.failure.layer)
        blocks += self._reading()
        blocks += self._others()
        blocks += self._elsewhere()
        return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"

    def _inline(self, text: str) -> str:
        """A text that holds words of the log."""
        return inline(self._gate.text(text))

    def _place(self, line: int) -> str:
        """A line's place in words, linked where the log's address is known."""
        said = self._inline(self._verdict.source.says(line))
        link = log_link(self._log_url, self._verdict.source.place(line)[1], self._gate)
        return f"[{said}](<{_target(link)}>)" if link else said

    def _first(self) -> Iterator[list[str]]:
        verdict, root = self._verdict, self._verdict.root
        if root is not None and root.causes:
            yield [f"**{rerun_says(root)}**"]
        if self._team is not None and verdict.outcome != "succeeded":
            yield [f"For: {self._inline(self._team.says())}."]
        line = pointed_line(verdict)
        if self._log_url and line:
            yield [f"In the log: {self._place(line)}."]
        if verdict.exposed_secrets:
            yield [f"**Caution:** {self._inline(secrets_say(verdict))}"]

    def _track(self) -> Iterator[list[str]]:
        verdict = self._verdict
        states = phase_states(verdict)
        if states:
            yield ["### How far it got"]
            yield [
                f"| {' | '.join(phase for phase, _, _ in states)} |",
                "|" + " --- |" * len(states),
                f"| {' | '.join(f'{STATE_GLYPH[state]} {state}' for _, state, _ in states)} |",
            ]
        cut = f"; {cut_says(verdict.source)}" if verdict.source.cut != "none" else ""
        name = _span(middle_out(self._gate.text(verdict.source.name), 200))
        yield [f"{verdict.outcome.capitalize()}; {verdict.source.lines} lines in {name}{cut}."]

    def _evidence(self, root: Finding) -> Iterator[list[str]]:
        yield ["### Evidence"]
        shown = {e.line: e.text for e in (*root.evidence, *root.excerpt)}
        lines = sorted(shown, key=lambda line: abs(line - root.line))[:MANY_LINES]
        yield self._quoted([(line, shown[line]) for line in sorted(lines)], root.line)
        if (file := self._verdict.source.place(root.line)[0]) is not None:
            yield [f"(of {self._inline(file)})"]

    def _quoted(self, lines: Iterable[tuple[int, str]], pointed: int | None = None) -> list[str]:
        source = self._verdict.source
        return _fenced(
            [
                f"{'>' if line == pointed else ' '} {source.place(line)[1]:>6} | "
                + middle_out(self._gate.text(text), LONGEST_LINE)
                for line, text in lines
            ]
        )

    def _items(self, root: Finding) -> Iterator[list[str]]:
        if root.items_total < 2:
            return
        shown = root.items[:MANY_ITEMS]
        yield [
            f"All {len(shown)}:" if len(shown) == root.items_total else f"The first {len(shown)} of {root.items_total}:"
        ]
        rows = []
        for item in shown:
            place = place_of(item.file, item.line)
            at = f"{_span(middle_out(self._gate.text(place), LONGEST_TEXT))}: " if place else ""
            rows.append(f"- {at}{self._inline(item.text)}")
        yield rows

    def _causes(self, root: Finding) -> Iterator[list[str]]:
        many = len(root.causes) > 1
        yield ["### Causes in order" if many else "### Cause"]
        if many:
            yield [share_basis(root)]
        rows = []
        for number, ranked in enumerate(root.causes[:MANY_CAUSES], start=1):
            share = f"**{ranked.share:.0%}** " if many else ""
            rows.append(f"{number}. {share}{_own(ranked.cause.says)}")
            rows += [
                f"   - {SPEAKS_WORDS[clue.speaks]}: {self._inline(because(clue))}" for clue in ranked.clues[:MANY_CLUES]
            ]
        yield rows
        if len(root.causes) > MANY_CAUSES:
            yield [f"And {len(root.causes) - MANY_CAUSES} more."]

    def _check(self, root: Finding) -> Iterator[list[str]]:
        if not root.next_checks or len(root.causes) < 2:
            return
        check = root.next_checks[0].check
        yield ["### Next check"]
        yield [f"{_own(check.ask)} (effort: {effort_says(check.effort)})"]
        yield [_own(check.how)]
        command = answer_command(check.id, self._gate.text(self._verdict.source.name))
        yield [f"Then (or with `=no`): {_span(command)}"]

    def _fix(self, best: RankedCause, layer: str) -> Iterator[list[str]]:
        cause = best.cause
        source = "" if layer == "built in" else f", from the {layer} layer"
        yield [f"### Fix for cause 1, by {inline(owner_says(cause.owner))}{source}"]
        yield [f"{number}. {_own(step)}" for number, step in enumerate(cause.fix, start=1)]
        if cause.caution:
            yield [f"**Caution:** {_own(cause.caution)}"]
        yield [f"**Fixed when:** {_own(cause.proof)}"]

    def _reading(self) -> Iterator[list[str]]:
        verdict = self._verdict
        if not verdict.worth_reading:
            return
        yield ["### Lines worth reading"]
        yield ["No entry of the catalogue explains this."]
        yield self._quoted([(w.line, w.text) for w in verdict.worth_reading])
        if verdict.nearest:
            yield ["Nearest known failures (by wording only):"]
            yield [f"- {near.closeness:.0%} {_own(near.title)}" for near in verdict.nearest[:3]]

    def _others(self) -> Iterator[list[str]]:
        shown = told_others(self._verdict)
        if not shown:
            return
        yield ["### Also seen"]
        rows = []
        for finding in shown[:MANY_OTHERS]:
            times = f", {finding.count} times" if finding.count > 1 else ""
            title = _own(finding.failure.title)
            rows.append(f"- {finding.role}: {title} ({self._place(finding.line)}{times})")
        more = len(shown) - MANY_OTHERS + self._verdict.others_left_out
        yield [*rows, f"- and {more} more"] if more > 0 else rows

    def _elsewhere(self) -> Iterator[list[str]]:
        places = self._verdict.elsewhere[-3:]
        if places:
            yield ["### More is told elsewhere"]
            yield [f"- {self._inline(place.what)}: {self._inline(place.where)}" for place in places]


def _target(link: str) -> str:
    """A link's target in angle brackets; what would end it is percent-encoded already."""
    return link.replace("\\", "%5C").replace("<", "%3C").replace(">", "%3E")
