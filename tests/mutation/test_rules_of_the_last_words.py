"""The rules for logs that no server closes, at their edges: last words, rows of a table, cleaning up, the last step with an error."""

# ruff: noqa: SLF001 -- the rules are private, and each has edges of its own
from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from logdoctor.diagnosis import outcome as rules
from logdoctor.diagnosis import root as roots
from logdoctor.diagnosis.outcome import ROWS_OF_A_TABLE, TRIES_AGAIN, Ending, find_ending
from logdoctor.diagnosis.root import LINES_BEFORE_END
from tests.mutation.made import mark, sighting, statement, step, timeline

if TYPE_CHECKING:
    from collections.abc import Sequence


def ending(*conclude: Any, steps: Any = (), sightings: Any = (), lines: int = 200) -> Ending:
    return find_ending(timeline(steps, lines, conclude=conclude), (), sightings)


@pytest.mark.parametrize("by", ["step", "cleanup", "over"])
def test_the_last_words_behind_what_a_mark_told_decide(by: str) -> None:
    asked: list[int] = []

    def says(since: int) -> Any:
        asked.append(since)
        return "failed", 500

    told = [mark(30, "failed"), mark(40, by=by), mark(20, by=by)]
    assert find_ending(timeline(conclude=told), (), (), says) == Ending(outcome="failed", line=200, by="step")
    assert find_ending(timeline(conclude=[mark(40)]), (), (), says).outcome == "failed"
    assert asked == [400, -1]
    assert find_ending(timeline(conclude=[mark(90, by="ci")]), (), (), says).outcome == "succeeded"


@pytest.mark.parametrize(
    ("more", "believed"),
    [
        ({"hit_offset": 501}, False),
        ({"hit_offset": 500}, True),
        ({"hit_offset": 501, "weight": "soft"}, True),
        ({"hit_offset": 501, "apart": True}, True),
    ],
)
def test_well_said_counts_unless_a_tool_gave_up_behind_it(more: dict[str, Any], believed: bool) -> None:
    one = sighting(190, failure_phase="test", **more)
    told = find_ending(timeline(conclude=[]), (), [one], lambda _: ("succeeded", 500))
    assert (told.outcome == "succeeded") is believed
    assert find_ending(timeline(conclude=[]), (), [one], lambda _: ("failed", 500)).outcome == "failed"


def test_a_step_that_reports_says_nothing_of_the_build_by_being_done() -> None:
    work, report = step(1), step(60, phase="post")
    done = mark(90, by="step")
    assert ending(done, steps=[work]).outcome == "succeeded"
    assert ending(done, steps=[work, report]).outcome == "unknown"
    assert ending(mark(50, "failed", by="step"), done, steps=[work, report]).outcome == "failed"
    assert ending(mark(90, "failed", by="step"), steps=[work, report]).outcome == "failed"
    in_lane = mark(90, by="step", lane="b")
    assert ending(in_lane, steps=[work, step(60, phase="post", lane="b")]).outcome == "unknown"


def together(line: int, outcome: str, tool: str = "maven") -> Any:
    row = mark(line, outcome, tool=tool)
    row.mark.options = {"together": True}
    return row


@pytest.mark.parametrize(
    ("distance", "outcome"), [(1, "failed"), (ROWS_OF_A_TABLE, "failed"), (ROWS_OF_A_TABLE + 1, "succeeded")]
)
def test_a_good_row_below_a_bad_one_of_its_table_tells_nothing(distance: int, outcome: str) -> None:
    bad = together(50, "failed")
    assert ending(bad, together(50 + distance, "succeeded")).outcome == outcome
    assert ending(bad, mark(50 + distance)).outcome == "succeeded"
    assert ending(mark(50, "failed"), together(50 + distance, "succeeded")).outcome == "succeeded"
    assert ending(together(50, "failed", tool="npm"), together(50 + distance, "succeeded")).outcome == "succeeded"
    assert ending(together(50, "succeeded"), together(50 + distance, "succeeded")).outcome == "succeeded"
    assert ending(together(50 + distance, "failed"), together(50, "succeeded")).outcome == "failed"


def test_both_rows_on_one_line_are_no_table() -> None:
    assert ending(together(50, "failed"), together(50, "succeeded")).outcome == "succeeded"


@pytest.mark.parametrize(
    ("more", "counts"),
    [
        ({"phase": "post", "tool": "ci"}, False),
        ({"phase": "post", "tool": "bash"}, True),
        ({"tool": "ci"}, True),
        ({}, True),
    ],
)
def test_what_tools_say_in_a_step_that_the_server_cleans_up_in_does_not_count(
    more: dict[str, Any], counts: bool
) -> None:
    steps = [step(1, **more)]
    assert (ending(mark(90), steps=steps).outcome == "succeeded") is counts
    assert (ending(mark(90, "failed"), steps=steps).outcome == "failed") is counts
    one = sighting(190, step=step(1, **more))
    assert rules._gives_up(one, timeline(lines=200)) is counts
    own = sighting(190, step=step(1, **more), failure_phase="post")
    assert rules._gives_up(own, timeline(lines=200))


def test_what_is_tried_again_has_not_given_up() -> None:
    again = mark(191)
    again.mark.id = TRIES_AGAIN
    assert not rules._gives_up(sighting(190), timeline(lines=200, repair=[again]))
    again.mark.id = "another"
    assert rules._gives_up(sighting(190), timeline(lines=200, repair=[again]))


from_steps: Any = roots._from_steps
from_statements: Any = roots._from_statements
FAILED = Ending(outcome="failed", line=200, by="ci")


def last_step(*live: Any, end: Ending = FAILED, later: Sequence[Any] = ()) -> list[Any]:
    belongs = roots._in_last_step_with_any(live, end, timeline([*(one.step for one in live), *later]))
    return [one for one in live if belongs(one)]


def test_the_last_step_with_an_error_is_looked_at_where_nothing_else_explains_the_end() -> None:
    left = {"failure_phase": "resolve", "step": step(100, followed=True)}
    one = sighting(190, **left)
    earlier = sighting(180, failure_phase="resolve", step=step(90, followed=True))
    assert last_step(one, earlier) == [one]
    assert last_step(earlier) == [earlier]
    assert last_step() == []
    for more in ({"weight": "soft"}, {"apart": True}, {"failure_stand_in": "general"}):
        assert last_step(sighting(190, **{**left, **more}), earlier) == [earlier]
    for phase in ("compile", "test", "post"):
        assert last_step(sighting(190, **{**left, "failure_phase": phase})) == []
    assert last_step(sighting(190, failure_phase="resolve", step=step(100, phase="test"))) == []


@pytest.mark.parametrize(
    ("line", "near"), [(200, True), (200 - LINES_BEFORE_END, True), (199 - LINES_BEFORE_END, False), (201, False)]
)
def test_it_must_stand_near_the_end_of_a_failed_build(line: int, near: bool) -> None:
    one = sighting(line, failure_phase="resolve", step=step(100, followed=True))
    assert (last_step(one) == [one]) is near
    assert last_step(one, end=Ending(outcome="unknown", line=200)) == []
    assert last_step(one, end=Ending(outcome="failed")) == []


@pytest.mark.parametrize(
    ("more", "went_on"),
    [
        ({"opened_as": "bash/command", "goal": "mvn deploy"}, True),
        ({"opened_as": "bash/command", "goal": "df -h"}, False),
        ({"opened_as": "bash/command", "goal": "mvn deploy", "phase": "post"}, False),
        ({"opened_as": "ci/stage", "goal": "Deploy"}, False),
    ],
)
def test_a_shell_that_shows_another_command_went_on(more: dict[str, Any], went_on: bool) -> None:
    one = sighting(190, failure_phase="resolve", step=step(100, followed=True))
    assert (last_step(one, later=[step(195, **more)]) == []) is went_on


def test_that_error_is_the_root() -> None:
    one: Any = sighting(190, failure_phase="resolve", step=step(100, followed=True))
    assert from_steps(FAILED, timeline(), (), [one]) is one
    assert from_steps(Ending(outcome="unknown", line=200), timeline(), (), [one]) is None


def test_the_server_s_word_for_a_status_is_not_what_a_statement_holds() -> None:
    status = sighting(10, signature_summary=True, signature_tool="ci")
    count, ci_error = sighting(12, signature_summary=True), sighting(14, signature_tool="ci")
    for held, wanted in ((status, None), (count, count), (ci_error, ci_error)):
        assert from_statements([statement(20, [held])], [held]) is wanted


def test_what_a_reporting_step_misses_of_the_tests_is_not_what_a_statement_holds() -> None:
    for phase, failure_phase, counts in (("post", "test", False), ("post", "deploy", True), ("test", "test", True)):
        held: Any = sighting(10, step=step(phase=phase), failure_phase=failure_phase)
        assert (from_statements([statement(20, [held])], [held]) is held) is counts


def test_a_statement_made_while_cleaning_up_is_followed_last() -> None:
    cleaning = step(phase="post", followed=True)
    said = statement(20, step=cleaning)
    inside: Any = sighting(15, step=cleaning)
    still_open: Any = sighting(18)
    unknown = Ending(outcome="unknown")
    assert from_steps(unknown, timeline(), [said], [inside]) is inside
    assert from_steps(unknown, timeline(), [], [inside]) is None
    assert from_steps(unknown, timeline(), [said], [inside, still_open]) is still_open
