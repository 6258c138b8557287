"""From a log to its verdict: the stages in order, in one place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING

from logdoctor.catalogue.limiting import given_up_in
from logdoctor.diagnosis.aftermath import failed_later
from logdoctor.diagnosis.causes import contradicted
from logdoctor.diagnosis.closing import last_words
from logdoctor.diagnosis.facts import facts_of
from logdoctor.diagnosis.findings import Known, other_findings, root_finding, separate_finding
from logdoctor.diagnosis.outcome import Ending, find_ending
from logdoctor.diagnosis.pointers import excerpt, find_cut, find_elsewhere
from logdoctor.diagnosis.root import Choice, choose_root
from logdoctor.diagnosis.segments import count_lanes, make_segments
from logdoctor.diagnosis.sightings import Sighting, find_sightings
from logdoctor.diagnosis.statements import Statement, find_statements
from logdoctor.diagnosis.timeline import Timeline, build_timeline
from logdoctor.diagnosis.unknown import nearest_failures, worth_reading
from logdoctor.diagnosis.wording import fingerprint, headline
from logdoctor.intake import LineReader, Log
from logdoctor.model import Cut, ExposedSecret, FactValue, Finding, Segment, Source, Verdict
from logdoctor.scan import RuleBook, Scan, scan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from logdoctor.catalogue import Catalogue
    from logdoctor.scan import Watch

__all__ = ["Diagnoser"]

MOST_DOUBTS = 6


@dataclass(frozen=True)
class Diagnoser:
    """Diagnoses logs against one catalogue; the rules are prepared once.

    `watch` names the kinds of secrets that a line shows.
    """

    catalogue: Catalogue
    watch: Watch | None = None

    @cached_property
    def book(self) -> RuleBook:
        """The rules by literal."""
        return RuleBook(self.catalogue.picking(), self.watch.literals if self.watch else ())

    def diagnose(
        self,
        log: Log,
        *,
        facts: Mapping[str, FactValue] | None = None,
        answers: Mapping[str, bool] | None = None,
        witness: Callable[[Mapping[str, FactValue]], Mapping[str, FactValue]] | None = None,
        exit_status: int | None = None,
    ) -> Verdict:
        """Read the log once and explain it.

        `facts` are known beforehand, `answers` are those to checks by id; the `witness` (set-up files) is asked with
        the facts of the root. With a non-zero `exit_status` of the command the build failed, whatever the log says.
        """
        found = scan(log, self.book, self.watch)
        reader = LineReader(log)
        timeline = build_timeline(found, self.catalogue)
        sightings = find_sightings(found, self.catalogue, timeline, reader)
        statements = find_statements(timeline, sightings, reader)
        ending = find_ending(timeline, statements, sightings, partial(last_words, reader, found.bytes))
        if exit_status and ending.outcome in ("unknown", "succeeded"):
            ending = replace(ending, outcome="failed")
        choice = _choose(ending, timeline, statements, sightings, reader)
        if choice is not None and choice.root.failure.outcome == "aborted":
            ending = replace(ending, outcome="aborted")  # ended from outside, whatever the closing line calls it
        segments = self._segments(timeline, found, reader, (ending, choice))
        root = None
        if choice is not None:
            known = {**facts_of(choice, sightings, found, timeline, reader), **(facts or {})}
            known |= witness(known) if witness else {}
            root = root_finding(choice, sightings, segments, Known(facts=known, answers=answers or {}))
            root = replace(root, excerpt=excerpt(reader, choice.root.hit))
        verdict = self._verdict(log, found, reader, timeline, (ending, choice, root, sightings, segments))
        return replace(verdict, notices=(*verdict.notices, *_unused_answers(answers or {}, root)))

    def _segments(
        self, timeline: Timeline, found: Scan, reader: LineReader, told: tuple[Ending, Choice | None]
    ) -> tuple[Segment, ...]:
        ending, choice = told
        downloads = [t for t in found.tallies if self.catalogue.marks[t.rule].does == "download"]
        root = choice.root if choice else None
        return make_segments(timeline, downloads, ending, root, count_lanes(timeline, reader))

    def _verdict(
        self,
        log: Log,
        found: Scan,
        reader: LineReader,
        timeline: Timeline,
        parts: tuple[Ending, Choice | None, Finding | None, list[Sighting], tuple[Segment, ...]],
    ) -> Verdict:
        ending, choice, root, sightings, segments = parts
        separate = [separate_finding(s, sightings, segments) for s in choice.separate] if choice else []
        others, left_out = other_findings(choice, ending, sightings, segments)
        elsewhere = find_elsewhere(timeline, ending)
        unknown = (
            ending.outcome != "succeeded" and found.lines > 0 and (root is None or root.failure.stand_in == "last")
        )
        closing, begin = _failed_step(timeline, ending)
        source = _source(log, found, find_cut(timeline, reader, found))
        if source.cut == "none" and (log.damage is not None or log.truncated_at_limit):
            source = replace(source, cut="tail")
        worth = worth_reading(reader, found.lines, found.bytes, closing, begin) if unknown else ()
        return Verdict(
            source=source,
            outcome=ending.outcome,
            headline=headline(ending.outcome, root, segments, elsewhere, source.says(root.line) if root else ""),
            fingerprint=fingerprint(None if unknown and worth else root, worth[0].text if worth else ending.outcome),
            segments=segments,
            root=root,
            others=(*separate, *others),
            others_left_out=left_out,
            worth_reading=worth,
            nearest=nearest_failures(self.catalogue, worth) if worth else (),
            elsewhere=elsewhere,
            exposed_secrets=tuple(dict.fromkeys(ExposedSecret(line=n, kind=k) for n, k, _ in sorted(found.watched))),
            secret_lines=tuple(dict.fromkeys(text for _, _, text in found.watched)),
            notices=_notices(log, found, root, self.catalogue),
        )


def _choose(
    ending: Ending, timeline: Timeline, statements: list[Statement], sightings: list[Sighting], reader: LineReader
) -> Choice | None:
    """The root, without what the failed step went on after."""
    closing, _ = _failed_step(timeline, ending)
    end = closing[0] if closing else timeline.lines + 1
    for _ in range(MOST_DOUBTS):
        choice = choose_root(ending, timeline, statements, sightings)
        if ending.outcome != "failed" or choice is None or not failed_later(choice, timeline, sightings, reader, end):
            return choice
        passed = choice.root
        sightings = [s for s in sightings if s.failure.id != passed.failure.id or s.lane != passed.lane]
    return None


def _source(log: Log, found: Scan, cut: Cut) -> Source:
    bundle = log.bundle
    return Source(
        name=log.name,
        bytes=bundle.bytes if bundle else found.bytes,
        lines=bundle.lines if bundle else found.lines,
        encoding=log.encoding,
        cut=cut,
        parts=tuple(bundle.parts) if bundle else (),
    )


def _failed_step(timeline: Timeline, ending: Ending) -> tuple[tuple[int, int] | None, int]:
    """The line that closes the failed step (number and offset), and the step's first line."""
    work = [s for s in timeline.steps if s.phase != "post" and s.start <= (ending.line or timeline.lines)]
    begin = work[-1].start if work else 1
    for mark in timeline.of("conclude"):
        if mark.line >= begin and mark.mark.outcome != "succeeded":
            return (mark.line, mark.hit.offset), begin
    return None, begin


def _notices(log: Log, found: Scan, root: Finding | None, catalogue: Catalogue) -> tuple[str, ...]:
    notices = [f"the pattern of {key} is not valid and was left out" for key in sorted(found.unusable)]
    notices += [f"a pattern of {key} takes too long and was left out" for key in given_up_in(catalogue)]
    if log.damage is not None:
        notices.append(f"the log could not be read to its end: {log.damage}")
    if log.truncated_at_limit:
        notices.append("the log is larger than the limit; what lies beyond it was not read")
    notices += [f"left out: {what}" for what in (log.bundle.passed_over if log.bundle else ())]
    if root is not None and contradicted(root.causes):
        notices.append("what is known excludes every cause; one of the facts or answers must be wrong")
    return tuple(notices)


def _unused_answers(answers: Mapping[str, bool], root: Finding | None) -> Iterator[str]:
    """Answers to checks that the root does not have."""
    if root is None:
        yield from (f"the answer to {check} was not used: no failure was found that has checks" for check in answers)
        return
    known = [check.id for check in root.failure.checks]
    for check in answers:
        if check not in known:
            has = f"its checks are {', '.join(known)}" if known else "it has no checks"
            yield f"the answer to {check} was not used: {root.failure.id} has no such check; {has}"
