"""Sightings to findings: the root with its causes, and the others with their roles."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from logdoctor.diagnosis.causes import next_checks, rank_causes
from logdoctor.diagnosis.items import items_of
from logdoctor.model import Evidence, FactValue, Finding, Phase, Role, Segment

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from logdoctor.diagnosis.outcome import Ending
    from logdoctor.diagnosis.root import Choice
    from logdoctor.diagnosis.sightings import Sighting

__all__ = ["MAX_OTHERS", "Known", "other_findings", "root_finding", "separate_finding"]

MAX_OTHERS = 50
MAX_EVIDENCE = 5
NEAR = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of one failure besides its own line: facts by name, answers by check."""

    facts: Mapping[str, FactValue]
    answers: Mapping[str, bool] = field(default_factory=dict)


def root_finding(choice: Choice, sightings: Sequence[Sighting], segments: Sequence[Segment], known: Known) -> Finding:
    """The root as the verdict shows it."""
    items, total = items_of(choice.root, sightings)
    explained = _explained(choice.root, sightings, segments, known)
    same = [s for s in sightings if s.failure.id == choice.root.failure.id]
    if all(s.signature.bare for s in same):  # the step failed, and no line that was understood says why
        explained = replace(explained, failure=replace(explained.failure, stand_in="last"))
    evidence = _evidence(choice.root, choice.named_by, same)
    return replace(explained, role="root", evidence=evidence, items=items, items_total=total)


def separate_finding(sighting: Sighting, sightings: Sequence[Sighting], segments: Sequence[Segment]) -> Finding:
    """A second, independent failure, with causes of its own."""
    return _explained(sighting, sightings, segments, Known(facts=dict(sighting.hit.groups)))


def _explained(sighting: Sighting, sightings: Sequence[Sighting], segments: Sequence[Segment], known: Known) -> Finding:
    same = [s for s in sightings if s.failure.id == sighting.failure.id]
    ranked, informed = rank_causes(sighting.failure, known.facts, known.answers)
    return Finding(
        failure=sighting.failure,
        signature=str(sighting.signature.id),
        tool=tool_of(sighting),
        role="separate",
        line=sighting.line,
        last_line=max(s.line for s in same),
        count=len(same),
        struck_in=phase_at(segments, sighting),
        evidence=_evidence(sighting, sighting, same),
        facts=dict(known.facts),
        causes=ranked,
        shares_informed=informed,
        next_checks=next_checks(sighting.failure, ranked, known.facts, known.answers),
    )


def other_findings(
    choice: Choice | None, ending: Ending, sightings: Sequence[Sighting], segments: Sequence[Segment]
) -> tuple[list[Finding], int]:
    """All other sightings, the same failure and wording folded, and how many did not fit."""
    taken = {choice.root.failure.id, *(s.failure.id for s in choice.separate)} if choice else set()
    groups: dict[tuple[str, str], list[Sighting]] = {}
    for sighting in sightings:
        if sighting.failure.id not in taken:
            groups.setdefault((sighting.failure.id, sighting.key), []).append(sighting)
    findings = [_folded(group, _role(group, choice, ending), segments) for group in groups.values()]
    findings.sort(key=lambda f: f.line)
    return findings[:MAX_OTHERS], max(0, len(findings) - MAX_OTHERS)


def _folded(group: Sequence[Sighting], role: Role, segments: Sequence[Segment]) -> Finding:
    first = group[0]
    return Finding(
        failure=first.failure,
        signature=str(first.signature.id),
        tool=tool_of(first),
        role=role,
        line=first.line,
        last_line=group[-1].line,
        count=len(group),
        struck_in=phase_at(segments, first),
        evidence=(Evidence(line=first.line, text=first.hit.text),),
        facts={k: v for k, v in first.hit.groups.items() if v},
    )


def _role(group: Sequence[Sighting], choice: Choice | None, ending: Ending) -> Role:
    if all(s.weight == "none" or s.apart for s in group):
        return "background"
    if ending.outcome == "succeeded" or choice is None:
        return "recovered" if any(s.weight != "none" for s in group) else "background"
    root = choice.root
    last = group[-1]
    if last.failure.id in root.failure.explains or (choice.wrapper and last.failure.id == choice.wrapper.failure.id):
        return "follow-on"
    beside = not last.step.followed and abs(last.line - choice.named_by.line) <= NEAR
    if last.line >= root.line or beside:
        return "follow-on"
    return "recovered" if last.step.followed else "background"


def _evidence(sighting: Sighting, named_by: Sighting, same: Sequence[Sighting]) -> tuple[Evidence, ...]:
    lines = {sighting.line: sighting.hit.text, named_by.line: named_by.hit.text}
    for other in same:
        if len(lines) >= MAX_EVIDENCE:
            break
        if other.weight != "none" and 0 <= other.line - sighting.line <= NEAR:
            lines.setdefault(other.line, other.hit.text)
    ordered = [sighting.line, *sorted(number for number in lines if number != sighting.line)]
    return tuple(Evidence(line=number, text=lines[number]) for number in ordered)


def tool_of(sighting: Sighting) -> str:
    """The tool whose wording it is."""
    return sighting.signature.tool


def phase_at(segments: Sequence[Segment], sighting: Sighting) -> Phase:
    """The phase of the segment that holds a sighting, its own lane first."""
    holding = [s for s in segments if s.start <= sighting.line <= s.end]
    for lane in (sighting.lane, None):
        for segment in holding:
            if segment.lane == lane:
                return segment.phase
    return sighting.step.phase
