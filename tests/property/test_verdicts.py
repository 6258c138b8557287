"""Whatever goes in, a verdict of the contract's shape comes out, and its numbers lie within the log."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any

import jsonschema
from hypothesis import given, settings
from hypothesis import strategies as st

from logdoctor.errors import InputError
from logdoctor.intake import open_log
from logdoctor.model import Verdict
from logdoctor.reports.json_report import json_object
from logdoctor.reports.plain import SCHEMA
from tests.support import catalogue, diagnoser

EXAMPLES = sorted(e.text for f in catalogue() for s in f.signatures for e in s.examples)
MARKS = sorted(text for m in catalogue().marks for text in catalogue().mark_examples(m))
PIECES = st.one_of(
    st.sampled_from(EXAMPLES),
    st.sampled_from(MARKS),
    st.text(max_size=40),
    st.binary(max_size=20).map(lambda b: b.decode("latin-1")),
    st.sampled_from(
        ["", "\r", "\x1b[31m", "\x1b[0m", "[linux] ", "2026-03-02T10:11:12Z ", "web_1 | ", "#1 0.1 ", '{"log":"']
    ),
)
LOGS = st.lists(st.lists(PIECES, min_size=1, max_size=3).map("".join), max_size=40).map("\n".join)


@cache
def schema() -> Any:
    """The schema that ships with the package."""
    for found in (each for room in ("logdoctor", "logdoctor.reports") for each in files(room).iterdir()):
        if found.name.endswith(".json") and SCHEMA.partition("/")[0] in found.read_text("utf-8")[:2000]:
            return jsonschema.Draft202012Validator(json.loads(found.read_text("utf-8")))
    raise LookupError("no schema ships with the package")


def verdict_of(data: bytes) -> Verdict | None:
    try:
        with open_log(data, name="x.log") as log:
            return diagnoser().diagnose(log)
    except InputError:
        return None


def refuse(name: str) -> None:
    raise ValueError(name)


def held(verdict: Verdict) -> None:
    """What is true of every verdict."""
    last = max(1, verdict.source.lines)
    told = json.loads(json_object(verdict), parse_constant=refuse)
    schema().validate(told)
    for finding in (f for f in (verdict.root, *verdict.others) if f is not None):
        assert 1 <= finding.line <= finding.last_line <= last
        assert all(1 <= e.line <= last for e in (*finding.evidence, *finding.excerpt))
        assert not finding.causes or abs(sum(c.share for c in finding.causes) - 1) < 1e-9
        assert all(0 <= c.share <= 1 for c in finding.causes)
    assert all(1 <= w.line <= last for w in verdict.worth_reading)
    assert all(1 <= s.line <= last for s in verdict.exposed_secrets)
    assert len(verdict.worth_reading) <= 5
    for segment in verdict.segments:
        assert 1 <= segment.start <= segment.end <= last
        assert 1 <= segment.lines <= segment.end - segment.start + 1


def covered(verdict: Verdict) -> set[int]:
    return {number for s in verdict.segments for number in range(s.start, s.end + 1)}


@given(LOGS)
@settings(max_examples=120, deadline=None)
def test_any_lines(text: str) -> None:
    data = text.encode("utf-8", "replace")
    verdict = verdict_of(data)
    if verdict is None:
        return
    held(verdict)
    assert verdict.source.lines == data.count(b"\n") + (not data.endswith(b"\n") if data else 0) or data[:2] in {
        b"\xff\xfe",
        b"\xfe\xff",
    }
    assert covered(verdict) == set(range(1, verdict.source.lines + 1))


@given(st.binary(max_size=2000))
@settings(max_examples=100, deadline=None)
def test_any_bytes(data: bytes) -> None:
    verdict = verdict_of(data)
    if verdict is not None:
        held(verdict)


@given(LOGS)
@settings(max_examples=40, deadline=None)
def test_the_same_log_gets_the_same_verdict(text: str) -> None:
    data = text.encode("utf-8", "replace")
    first, second = verdict_of(data), verdict_of(data)
    assert first == second
