"""A step that failed without a word of why: the failure is named as a last resort, and the lines worth reading are shown."""

from __future__ import annotations

import pytest

from tests.support import verdict_of

HEAD = "+ make all\ncc -c -o tides.o tides.c\n"
FOOT = "make: *** [Makefile:7: tides.o] Error 1\nERROR: script returned exit code 2\n"


@pytest.mark.parametrize(
    ("shown", "stand_in"),
    [
        ("tidec: plate 4 does not fit the hull\n", "last"),
        ("tides.c:4:12: error: expected ';' before 'return'\n", "no"),
    ],
)
def test_step_that_only_counts_is_a_last_resort(shown: str, stand_in: str) -> None:
    verdict = verdict_of(HEAD + shown + FOOT)
    assert verdict.root is not None
    assert (verdict.root.failure.id, verdict.root.failure.stand_in) == ("compile-source-error", stand_in)
    assert bool(verdict.worth_reading) == (stand_in == "last")


def test_line_that_tells_is_among_those_shown() -> None:
    verdict = verdict_of(HEAD + "tidec: plate 4 does not fit the hull\n" + FOOT)
    assert 3 in [line.line for line in verdict.worth_reading]
