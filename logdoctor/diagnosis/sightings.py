"""Sightings: signature hits in their context: which step, which failure they mean there, how much they weigh.

The weight is `hard` (a tool says this when it fails), `soft` (tools also say it when they go on) or `none`
(printed by something else: an echoed command, a diff, the program under test).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from logdoctor.catalogue.patterns import compiled, given_up
from logdoctor.diagnosis.timeline import ALLOWED, ALLOWED_AT_ONCE
from logdoctor.intake import LineReader, clean
from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.catalogue import Catalogue
    from logdoctor.diagnosis.timeline import Step, Timeline
    from logdoctor.model import Failure, Hit, Near, Phase, Signature
    from logdoctor.scan import Scan

__all__ = ["Sighting", "find_sightings"]

REPAIRS_LINES = 12
TEST_FAILURES = frozenset({"test-failed", "test-process-crashed"})
Weight = Literal["hard", "soft", "none"]

_ECHO = lazy(r"^\s*(?:\++ |\$ |PS [A-Z]:\\[^>]*>|#\d+ \[|(?:[*|\\/ ]+)?[0-9a-f]{7,12} (?:\([^)]*\) )?[A-Z][a-z])")
_WARNS = lazy(
    r"^\s*(?:\[\w+\] Warning: |\[?(?:WARNING|WARN|warn|warning|Warning)\]?:?\s|npm (?:WARN|warn)\b|W: |##\[warning\]|::warning|DEBUG|\[DEBUG\])"
)
_QUOTED_IN_COMMAND = lazy(r"^\s*(?:echo|printf|grep|sed|awk)\s")
_UPLOADS = lazy(
    r"\bPUT\b|\bupload(?:ing|ed)?\b|\bpublish(?:ing)?\b|maven-deploy-plugin|:deploy\b|nexus-staging|\bpush(?:ing)?\b",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """A signature hit in its context."""

    failure: Failure
    signature: Signature
    key: str
    hit: Hit
    lane: str | None
    step: Step
    weight: Weight
    apart: bool

    @property
    def line(self) -> int:
        """Its line in the log."""
        return self.hit.line


def find_sightings(scan: Scan, catalogue: Catalogue, timeline: Timeline, reader: LineReader) -> list[Sighting]:
    """All kept signature hits whose conditions hold, in order of their lines."""
    regions = [*_foreign_regions(timeline, reader), *_repaired_regions(timeline)]
    keys = [key for key in scan.hits if key.partition("/")[0] in catalogue and key not in catalogue.marks]
    found = [
        _sighting(catalogue, hit, timeline, regions)
        for key in keys
        for hit in scan.hits[key].kept()
        if all(_near_holds(near, hit, reader) for near in catalogue.signature(key).near)
    ]
    return sorted(found, key=lambda s: s.line)


def _sighting(catalogue: Catalogue, hit: Hit, timeline: Timeline, regions: list[tuple[int, int]]) -> Sighting:
    lane = timeline.lane_of(hit)
    step = timeline.step_at(hit.line, lane)
    signature = catalogue.signature(hit.rule)
    failure = catalogue.failure(hit.rule.partition("/")[0])
    if turned := failure.becomes.get(direction(hit, step)):
        failure = catalogue.failure(turned) if turned in catalogue else failure
    foreign = any(start <= hit.line <= end for start, end in regions)
    return Sighting(
        failure=failure,
        signature=signature,
        key=hit.rule,
        hit=hit,
        lane=lane,
        step=step,
        weight=_weight(signature, hit, step, foreign=foreign),
        apart=step.phase == "test" and not _concerns_tests(failure),
    )


def _concerns_tests(failure: Failure) -> bool:
    """Whether a failure seen in test output can be the tests' own, and not what a program under test says."""
    return (
        failure.phase == "test"
        or failure.outcome == "aborted"
        or failure.stand_in != "no"
        or not TEST_FAILURES.isdisjoint(failure.explains)
    )


def direction(hit: Hit, step: Step) -> Phase:
    """The phase whose request this is: what the line says of itself, then the step it stands in."""
    if step.phase in ("deploy", "checkout"):
        return step.phase
    return "deploy" if _UPLOADS.search(hit.text) else step.phase


def _weight(signature: Signature, hit: Hit, step: Step, *, foreign: bool) -> Weight:
    echoed = signature.tool != "ci" and (_ECHO.search(hit.text) or _QUOTED_IN_COMMAND.search(hit.text))
    if foreign or echoed:
        return "none"
    return "soft" if signature.soft or step.allowed or _WARNS.search(hit.text) else "hard"


def _foreign_regions(timeline: Timeline, reader: LineReader) -> Iterator[tuple[int, int]]:
    """Lines between a mark that says others talk here and the line that ends it."""
    for found in timeline.of("background"):
        until = found.mark.options.get("until")
        lasts = found.mark.options.get("lasts")
        reach = lasts if isinstance(lasts, int) else 200
        rule = compiled(until) if isinstance(until, str) else None
        end = found.line if rule is None and not isinstance(lasts, int) else found.line + reach
        if rule is not None:
            for number, (start, stop) in enumerate(reader.after(found.hit.offset, reach), start=1):
                if rule.search(clean(reader.text(start, stop)).text):
                    end = found.line + number - 1
                    break
        yield found.line, end


def _repaired_regions(timeline: Timeline) -> Iterator[tuple[int, int]]:
    """The lines before one that says that it worked after all, or that it may fail."""
    for found in timeline.of("repair"):
        if found.mark.id == ALLOWED:
            yield found.line - ALLOWED_AT_ONCE + 1, found.line
        if found.mark.outcome == "succeeded":
            yield found.line - REPAIRS_LINES, found.line


def _near_holds(near: Near, hit: Hit, reader: LineReader) -> bool:
    rule = compiled(near.line)
    if rule is None:
        return False
    places = []
    if near.where != "after":
        places += reader.before(hit.offset, near.within)
    if near.where != "before":
        places += reader.after(hit.offset, near.within)
    stands = any(rule.search(clean(reader.text(start, end)).text) for start, end in places)
    if given_up(near.line):
        return False
    return stands == (near.must == "stand")
