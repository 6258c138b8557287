"""Each rule by which a log's outcome is told, at its edges."""

# ruff: noqa: SLF001 -- the rules are private, and each has edges of its own
from __future__ import annotations

from typing import Any

import pytest

from logdoctor.diagnosis import outcome as rules
from logdoctor.diagnosis.outcome import Ending, find_ending
from tests.mutation.made import mark, sighting, statement, step, timeline


def ending(steps: Any = (), statements: Any = (), sightings: Any = (), lines: int = 200, **marks: Any) -> Ending:
    return find_ending(timeline(steps, lines, **marks), statements, sightings)


def test_nothing_tells_nothing() -> None:
    assert ending() == Ending(outcome="unknown", after=0, line=None, by="nothing")


@pytest.mark.parametrize(
    ("told", "outcome"),
    [
        ("failed", "failed"),
        ("succeeded", "succeeded"),
        ("aborted", "aborted"),
        (None, "unknown"),
        ("unstable", "unknown"),
    ],
)
def test_the_closing_line_of_the_server_decides(told: str | None, outcome: Any) -> None:
    tool = [mark(10, "succeeded" if outcome == "failed" else "failed")]
    assert ending(conclude=[*tool, mark(90, told, by="ci")]) == Ending(outcome=outcome, line=90, by="ci")
    assert ending(conclude=[mark(80, "failed", by="ci"), mark(90, told, by="ci")]).line == 90


def test_an_end_from_outside_beats_all_but_a_success() -> None:
    limit = sighting(50, failure_outcome="aborted")
    assert ending(sightings=[limit]) == Ending(outcome="aborted", line=50, by="ci")
    assert ending(sightings=[limit], conclude=[mark(90, "failed", by="ci")]) == Ending(
        outcome="aborted", line=50, by="ci"
    )
    assert ending(sightings=[limit], conclude=[mark(90, by="ci")]).outcome == "succeeded"
    for other in ({"weight": "soft"}, {"apart": True}, {"failure_outcome": None}):
        assert (
            ending(sightings=[sighting(50, **{"failure_outcome": "aborted", **other})], lines=500).outcome == "unknown"
        )
    first, second = (sighting(line, failure_outcome="aborted") for line in (50, 60))
    assert ending(sightings=[first, second]).line == 50


def test_a_build_that_went_on_was_not_ended_from_outside() -> None:
    limit = sighting(50, failure_outcome="aborted")
    early, late = step(1), step(60)
    assert ending([early, late], sightings=[limit]).outcome != "aborted"
    assert ending([early, step(60, phase="post")], sightings=[limit]).outcome == "aborted"
    assert ending([early, step(60, inner=True)], sightings=[limit]).outcome == "aborted"
    assert ending([early, step(50)], sightings=[limit]).outcome == "aborted"
    assert ending([early, step(51)], sightings=[limit]).outcome != "aborted"


def test_of_two_builds_the_last_one_counts() -> None:
    steps = [step(1), step(60)]
    assert ending(steps, conclude=[mark(50, "failed", by="ci")]) == Ending(outcome="unknown", after=50)
    assert ending(steps, conclude=[mark(50, "failed", by="cleanup"), mark(90, by="ci")]) == Ending(
        outcome="succeeded", after=50, line=90, by="ci"
    )
    assert ending(steps, conclude=[mark(50, "failed", by="tool")]).after == 0
    assert ending(steps, conclude=[mark(40, "failed", by="ci"), mark(50, "failed", by="ci")]).after == 50
    said, seen = statement(50), sighting(50, signature_ends=True)
    assert ending(steps, [said], [seen], conclude=[mark(50, "failed", by="ci")]).outcome == "unknown"
    assert ending(steps, [statement(61, step=steps[1])], conclude=[mark(50, "failed", by="ci")]) == Ending(
        outcome="failed", after=50, line=61, by="tool"
    )
    assert (
        ending(steps, sightings=[sighting(61, signature_ends=True)], conclude=[mark(50, "failed", by="ci")]).line == 61
    )


def test_the_end_of_the_last_step_tells_where_the_server_does_not() -> None:
    assert ending(conclude=[mark(90, "failed", by="step")]) == Ending(outcome="failed", line=90, by="step")
    assert ending([step(1), step(95)], conclude=[mark(90, "failed", by="step")]).by != "step"
    assert ending(conclude=[mark(80, "failed", by="step"), mark(90, by="step")]) == Ending(
        outcome="succeeded", line=90, by="step"
    )
    assert ending(conclude=[mark(90, by="cleanup")]) == Ending(outcome="succeeded", line=90, by="ci")
    assert ending(conclude=[mark(80, "failed", by="step"), mark(90, by="cleanup")]).outcome == "failed"


@pytest.mark.parametrize(("lines", "outcome"), [(93, "succeeded"), (94, "unknown"), (90, "succeeded")])
def test_a_word_that_it_is_over_counts_at_the_very_end(lines: int, outcome: str) -> None:
    told = ending(lines=lines, conclude=[mark(90, None, by="over")])
    assert told.outcome == outcome
    if outcome == "succeeded":
        assert (told.line, told.by) == (90, "step")
    steps = [step(1), step(70)]
    assert (
        ending(steps, lines=lines, conclude=[mark(60, "failed", by="step"), mark(90, None, by="over")]).outcome
        == "unknown"
    )


def test_the_last_statements_of_tools_decide_without_a_server() -> None:
    assert ending(conclude=[mark(90)]) == Ending(outcome="succeeded", line=90, by="tool")
    assert ending(conclude=[mark(90, "failed")]) == Ending(outcome="failed", line=90, by="tool")
    assert ending(conclude=[mark(80, "failed"), mark(90)]).outcome == "succeeded"
    assert ending(conclude=[mark(80), mark(90, "failed")]).outcome == "failed"
    assert ending(conclude=[mark(90, "failed"), mark(90)]).outcome == "succeeded"
    assert ending(conclude=[mark(80), mark(85), mark(82, "failed")]) == Ending(outcome="succeeded", line=85, by="tool")
    assert ending(statements=[statement(95)], conclude=[mark(90)]) == Ending(outcome="failed", line=95, by="tool")
    assert ending(statements=[statement(95, step=step(inner=True))], conclude=[mark(90)]).outcome == "succeeded"
    assert ending([step(1), step(95)], conclude=[mark(90, "failed")]).outcome == "unknown"
    assert ending(conclude=[mark(90, "failed", by="other")]).outcome == "unknown"
    inner = step(1, inner=True)
    assert ending([inner], conclude=[mark(90, "failed")]).outcome == "unknown"
    assert ending([inner], conclude=[mark(90)]).outcome == "unknown"
    lane = [step(1), step(1, lane="b", inner=True)]
    assert ending(lane, conclude=[mark(90, lane="b")]).outcome == "unknown"


def test_a_server_that_wrote_into_the_log_must_close_it_itself() -> None:
    assert ending(conclude=[mark(90)], open=[mark(5, None, tool="ci")]) == Ending(outcome="unknown")
    assert ending(conclude=[mark(90)], open=[mark(5, None, tool="maven")]).outcome == "succeeded"
    assert ending(conclude=[mark(90)], close=[mark(5, None, tool="ci")]).outcome == "succeeded"
    steps = [step(1), step(60)]
    closed = mark(50, "failed", by="ci")
    for line, outcome in ((50, "succeeded"), (51, "unknown")):
        assert ending(steps, conclude=[closed, mark(90)], open=[mark(line, None, tool="ci")]).outcome == outcome


@pytest.mark.parametrize(
    ("more", "lines", "answer"),
    [({}, 50, True), ({}, 51, False), ({"failure_phase": "test"}, 20, False), ({"failure_phase": "test", "signature_ends": True}, 20, True),
     ({"signature_ends": True}, 500, True), ({"weight": "soft"}, 20, False), ({"apart": True}, 20, False), ({"step": step(inner=True)}, 20, False)],
)  # fmt: skip
def test_a_tool_gives_up_with_a_hard_sighting_near_the_end(more: dict[str, Any], lines: int, answer: bool) -> None:
    one = sighting(10, **more)
    assert rules._gives_up(one, timeline(lines=lines)) is answer
    assert (ending(sightings=[one], lines=lines) == Ending(outcome="failed", line=10, by="tool")) is answer


def test_work_in_the_own_lane_leaves_a_line_behind() -> None:
    steps = [step(1), step(5, lane="b"), step(60, lane="b")]
    told = timeline(steps)
    assert rules._left_behind(told, 10, "b")
    assert rules._left_behind(told, 10, "unknown lane")
    assert not rules._left_behind(told, 60, "b")
    assert not rules._left_behind(timeline([step(1)]), 10, None)


@pytest.mark.parametrize(
    ("more", "answer"), [({"closed": "passed"}, False), ({"closed": "failed"}, True), ({"allowed": True}, False)]
)
def test_what_a_step_that_worked_or_may_fail_says_is_no_end(more: dict[str, Any], answer: bool) -> None:
    one = sighting(150, step=step(**more))
    assert rules._gives_up(one, timeline(lines=160)) is answer


def test_a_command_that_may_fail_tells_nothing_by_failing() -> None:
    allowed = [step(1, allowed=True)]
    assert ending(allowed, conclude=[mark(90, "failed")]).outcome == "unknown"
    assert ending(allowed, conclude=[mark(90)]).outcome == "succeeded"
