"""A verdict as plain values: the shape of the JSON contract, every text masked, made printable and clipped."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

from logdoctor.intake import printable
from logdoctor.masking import Masker

if TYPE_CHECKING:
    from collections.abc import Mapping

    from logdoctor.model import Evidence, Finding, RankedCause, Segment, Source, Verdict

__all__ = ["SCHEMA", "Gate", "plain_verdict"]

SCHEMA = "logdoctor-verdict/1"
CLIP = 2000
ELLIPSIS = "…"


class Gate:
    """What every text passes on its way out: masked, control characters replaced, clipped."""

    def __init__(self, verdict: Verdict | None = None) -> None:
        self._masker = Masker()
        if verdict is not None:
            self._masker.learn_apart(verdict.log_texts)

    def text(self, text: str) -> str:
        """A text safe to show."""
        shown = printable(self._masker.mask(text))
        return shown if len(shown) <= CLIP else shown[: CLIP - 1] + ELLIPSIS

    def maybe(self, text: str | None) -> str | None:
        """The same for a text that may be missing."""
        return None if text is None else self.text(text)

    def value(self, value: Any) -> Any:
        """The same for a fact's value."""
        return self.text(value) if isinstance(value, str) else value


def plain_verdict(verdict: Verdict) -> dict[str, Any]:
    """The verdict as one JSON-ready object (contract version 1)."""
    gate = Gate(verdict)
    at = _Places(verdict.source, gate).at
    return {
        "schema": SCHEMA,
        "source": _source(verdict, gate),
        "outcome": verdict.outcome,
        "headline": gate.text(verdict.headline),
        "fingerprint": verdict.fingerprint,
        "segments": [_segment(s, gate, at) for s in verdict.segments],
        "root": _finding(verdict.root, gate, at, explained=True) if verdict.root else None,
        "others": [
            {
                "role": f.role,
                **_finding(f, gate, at, explained=f.role == "separate"),
                **at(f.last_line, "last_line", "last_file"),
                "count": f.count,
            }
            for f in verdict.others
        ],
        "others_left_out": verdict.others_left_out,
        "worth_reading": [{**at(w.line), "text": gate.text(w.text), "why": w.why} for w in verdict.worth_reading],
        "nearest": [{"failure": n.failure, "closeness": n.closeness} for n in verdict.nearest],
        "elsewhere": [{"what": gate.text(e.what), "where": gate.text(e.where)} for e in verdict.elsewhere],
        "exposed_secrets": [{**at(s.line), "kind": s.kind} for s in verdict.exposed_secrets],
    }


class At(Protocol):
    """Says where a line stands, as keys of a JSON object."""

    def __call__(self, line: int, key: str = "line", file_key: str = "file") -> dict[str, Any]:
        """The number under `key`, and in a log of several files the file's name under `file_key`."""
        ...


class _Places:
    """The places of one source; the file is told only where there are several."""

    def __init__(self, source: Source, gate: Gate) -> None:
        self._source = source
        self._gate = gate

    def at(self, line: int, key: str = "line", file_key: str = "file") -> dict[str, Any]:
        file, number = self._source.place(line)
        return {key: number} if file is None else {file_key: self._gate.text(file), key: number}


def _source(verdict: Verdict, gate: Gate) -> dict[str, Any]:
    source = verdict.source
    return {
        "name": gate.text(source.name),
        "bytes": source.bytes,
        "lines": source.lines,
        "encoding": source.encoding,
        "cut": source.cut,
    }


def _segment(segment: Segment, gate: Gate, at: At) -> dict[str, Any]:
    return {
        "phase": segment.phase,
        "lane": gate.maybe(segment.lane),
        "module": gate.maybe(segment.module),
        **at(segment.start, "start", "file"),
        **at(segment.end, "end", "end_file"),
        "lines": segment.lines,
        "state": segment.state,
        "seconds": segment.seconds,
    }


def _finding(finding: Finding, gate: Gate, at: At, *, explained: bool) -> dict[str, Any]:
    plain = {
        "failure": finding.failure.id,
        "title": finding.failure.title,
        "phase": finding.failure.phase,
        "struck_in": finding.struck_in,
        "tool": finding.tool,
        "signature": finding.signature,
        "stand_in": finding.failure.stand_in,
        **at(finding.line),
        "evidence": _evidence(finding.evidence, gate, at),
        "facts": _facts(finding.facts, gate),
        "items": [{"text": gate.text(i.text), "file": gate.maybe(i.file), "line": i.line} for i in finding.items],
        "items_total": finding.items_total,
    }
    if explained:
        plain["causes"] = [_cause(c, gate) for c in finding.causes]
        plain["shares_informed"] = finding.shares_informed
        plain["next_checks"] = [
            {
                "id": n.check.id,
                "ask": n.check.ask,
                "how": n.check.how,
                "effort": n.check.effort,
                "gain_bits": round(n.gain_bits, 4),
            }
            for n in finding.next_checks
        ]
    return plain


def _evidence(evidence: tuple[Evidence, ...], gate: Gate, at: At) -> list[dict[str, Any]]:
    return [{**at(e.line), "text": gate.text(e.text)} for e in evidence]


def _facts(facts: Mapping[str, Any], gate: Gate) -> dict[str, Any]:
    return {key: gate.value(value) for key, value in facts.items()}


def _cause(ranked: RankedCause, gate: Gate) -> dict[str, Any]:
    cause = ranked.cause
    return {
        "id": cause.id,
        "says": cause.says,
        "share": round(ranked.share, 4),
        "clues": [
            {"fact": c.fact, "value": gate.value(c.value), "speaks": c.speaks, "why": c.why} for c in ranked.clues
        ],
        "rerun": cause.rerun,
        "owner": cause.owner,
        "fix": list(cause.fix),
        "caution": cause.caution,
        "proof": cause.proof,
    }
