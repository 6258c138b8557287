"""A fixed selection of failures, each left out once: counts that the drafting room must reach (the bench measures all)."""

from __future__ import annotations

import pytest

from tests.bench.leave_one_out import Tally, by_failure, cases, measure

pytestmark = pytest.mark.long

CHOSEN = (
    "agent-disk-full",
    "setup-build-file-missing",
    "setup-java-home-wrong",
    "resolve-lockfile-out-of-date",
    "resolve-unauthorized",
)


@pytest.fixture(scope="module")
def tally() -> Tally:
    """All of the selection together."""
    everything = cases()
    logs = by_failure(everything)
    total = Tally()
    for failure in CHOSEN:
        if failure in logs:
            total.add(measure(failure, logs[failure], everything))
    return total


def test_enough_was_measured(tally: Tally) -> None:
    assert tally.logs >= 80
    assert tally.unknown >= 60
    assert tally.drafts >= 35


def test_the_root_line_is_among_the_shown(tally: Tally) -> None:
    assert tally.shown >= 0.9 * tally.unknown, tally.hidden


def test_no_stranger_takes_its_place(tally: Tally) -> None:
    assert len(tally.wrong) <= 0.05 * tally.logs, tally.wrong


def test_drafts_find_logs_in_the_same_words(tally: Tally) -> None:
    assert tally.same_wording >= 10
    assert tally.same_wording_found >= 0.7 * tally.same_wording, tally.missed


def test_drafts_leave_succeeded_logs_alone(tally: Tally) -> None:
    assert tally.green == []
    assert len(tally.touching) <= 0.1 * tally.drafts, tally.touching
