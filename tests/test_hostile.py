"""Any input gives a verdict or one clear error."""

from __future__ import annotations

import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logdoctor.errors import InputError
from logdoctor.intake import open_log
from logdoctor.model import Verdict
from logdoctor.reports.json_report import json_object
from logdoctor.reports.text import text_report
from tests.support import catalogue, diagnoser

LINES = sorted(e.text for f in catalogue() for s in f.signatures for e in s.examples)
MARKS = sorted(text for m in catalogue().marks for text in catalogue().mark_examples(m))


def verdict_or_error(data: bytes) -> Verdict | InputError:
    try:
        with open_log(data, name="hostile.log") as log:
            return diagnoser().diagnose(log)
    except InputError as error:
        return error


def looked_at(data: bytes) -> None:
    verdict = verdict_or_error(data)
    if isinstance(verdict, InputError):
        assert len(str(verdict).splitlines()) == 1
        return
    json.loads(json_object(verdict))
    assert text_report(verdict)
    for segment in verdict.segments:
        assert 1 <= segment.start <= segment.end <= max(1, verdict.source.lines)
    if verdict.root:
        assert 1 <= verdict.root.line <= verdict.source.lines
        assert abs(sum(c.share for c in verdict.root.causes) - 1) < 1e-9 or not verdict.root.causes


@given(st.binary(max_size=3000))
@settings(max_examples=150, deadline=None)
def test_random_bytes(data: bytes) -> None:
    looked_at(data)


@given(
    st.lists(
        st.one_of(
            st.sampled_from(LINES),
            st.sampled_from(MARKS),
            st.text(max_size=60),
            st.sampled_from(["", "\r", "\x1b[31m", "[linux] ", "2026-03-02T10:11:12Z ", "#12 3.4 ", "web_1  | "]),
        ),
        max_size=60,
    )
)
@settings(max_examples=200, deadline=None)
def test_lines_of_all_tools_in_any_order(lines: list[str]) -> None:
    looked_at("\n".join(lines).encode("utf-8", "replace"))


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(b"x" * 5_000_000, id="one long line"),
        pytest.param(b"fatal: " * 500_000, id="one long line of literals"),
        pytest.param(b"\n" * 2_000_000, id="only line ends"),
        pytest.param(b"\r" * 2_000_000, id="only carriage returns"),
        pytest.param(b"\x1b[" * 1_000_000, id="unfinished escape codes"),
        pytest.param(b"\x1b]0;" + b"a" * 1_000_000, id="unfinished title"),
        pytest.param(b"fatal: couldn't find remote ref main\n" * 30_000, id="thirty thousand findings"),
        pytest.param(b"[a] [b] [c] [d] [e] [f] [g] " * 50_000, id="prefixes without end"),
        pytest.param(b"[INFO] --- maven-jar-plugin:3.1:jar (d) @ m ---\n" * 30_000, id="thirty thousand goals"),
        pytest.param(b"".join(b"[lane%d] + npm ci\n" % n for n in range(20_000)), id="twenty thousand lanes"),
    ],
)
def test_large_and_odd(data: bytes) -> None:
    looked_at(data)


def test_noise_around_a_real_failure_does_not_hide_it() -> None:
    rng = random.Random(11)
    noise = "".join(f"{rng.random()} {'=' * rng.randrange(40)}\n" for _ in range(2000))
    log = f"{noise}+ git fetch\nfatal: couldn't find remote ref main\n{noise[:2000]}Finished: FAILURE\n"
    with open_log(log.encode(), name="noise.log") as opened:
        root = diagnoser().diagnose(opened).root
    assert root is not None
    assert (root.failure.id, root.line) == ("checkout-ref-not-found", 2002)
