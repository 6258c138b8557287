"""What the failed step printed after an error decides whether that error ended it."""

from __future__ import annotations

import pytest

from tests.support import root_of, verdict_of

BEFORE = "+ ./ci/layout.sh\nlayout of the quay, edition 7\n"
PASSED_OVER = "curl: (22) The requested URL returned error: 404\n"
WORK = "drawing plate 1\ndrawing plate 2\ndrawing plate 3\ndrawing plate 4\ndrawing plate 5\n"
CLOSING = "ERROR: script returned exit code 1\nFinished: FAILURE\n"
KNOWN = "resolve-artifact-not-found"


def root(*parts: str) -> str | None:
    verdict = verdict_of(BEFORE + "".join(parts) + CLOSING)
    return verdict.root.failure.id if verdict.root and verdict.root.failure.stand_in != "last" else None


def test_error_that_ended_the_step_is_the_root() -> None:
    assert root_of(BEFORE + PASSED_OVER + CLOSING) == (KNOWN, 3)


@pytest.mark.parametrize("late", ["Error: plate 6 overlaps plate 2", "Plate 6 lies outside the sheet"])
def test_error_that_work_and_another_error_followed_is_not(late: str) -> None:
    assert root(PASSED_OVER, WORK, late, "\n") is None


def test_the_later_line_is_shown_instead() -> None:
    verdict = verdict_of(BEFORE + PASSED_OVER + WORK + "Error: plate 6 overlaps plate 2\n" + CLOSING)
    assert 9 in [line.line for line in verdict.worth_reading]
    assert KNOWN in [other.failure.id for other in verdict.others]


def test_another_error_at_once_does_not_clear_it() -> None:
    assert root(PASSED_OVER, "Error: plate 6 overlaps plate 2\n") == KNOWN


def test_work_alone_does_not_clear_it() -> None:
    assert root(PASSED_OVER, WORK) == KNOWN


def test_what_is_done_after_the_build_does_not_count() -> None:
    assert root(PASSED_OVER, "Archiving artifacts\n", WORK, "Error: no plate was found\n") == KNOWN


def test_lines_that_begin_alike_are_one_report() -> None:
    report = "E: Unable to locate package quay-maps\n"
    prose = "".join(f"E: note {n} on it\n" for n in range(6)) + "E: cannot go on\n"
    assert root(report) == root(report, prose) == KNOWN


def test_a_known_error_after_the_work_is_the_root() -> None:
    later = "./ci/layout.sh: line 9: ./plot.sh: Permission denied\n"
    assert root(PASSED_OVER, WORK, later) == "agent-script-not-executable"
