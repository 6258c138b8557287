"""The choice of a root where its rules meet: lists of errors, chains of failures, steps that a statement names."""

# ruff: noqa: SLF001 -- the rules are private, and each has edges of its own
from __future__ import annotations

from typing import Any

import pytest

from logdoctor.diagnosis import root as rules
from logdoctor.diagnosis.outcome import TRIES_AGAIN, Ending
from tests.mutation.made import mark, sighting, statement, step, timeline

FAILED = Ending(outcome="failed", line=100, by="ci")
UNKNOWN = Ending(outcome="unknown")
SENTENCE = "a whole sentence of thirty signs"
pick: Any = rules.pick


def chosen(ending: Ending, *live: Any, statements: Any = (), steps: Any = (), **marks: Any) -> Any:
    return rules.choose_root(ending, timeline(steps, **marks), statements, live)


def lifted(from_: Any, *live: Any) -> Any:
    return rules._lift(from_, [*live, from_], timeline())


def leading_to(failure: str, line: int, own: str = "two", **more: Any) -> Any:
    return sighting(line, failure_id=own, failure_explains=(failure,), **more)


def test_what_was_ruled_out_is_no_root_even_where_a_statement_holds_it() -> None:
    ruled_out, inner = sighting(weight="none"), sighting(step=step(inner=True))
    for one in (ruled_out, inner):
        assert chosen(FAILED, one, statements=[statement(20, [one])]) is None
    assert chosen(FAILED, one := sighting(), statements=[statement(20, [one])]).root is one


def test_without_an_end_the_first_line_may_be_the_root() -> None:
    first = sighting(1)
    assert chosen(UNKNOWN, first).root is first


def test_without_an_end_what_is_tried_again_at_once_is_no_root() -> None:
    again = mark(11)
    again.mark.id = TRIES_AGAIN
    assert chosen(UNKNOWN, sighting(10), repair=[again]) is None
    again.mark.id = "another"
    assert chosen(UNKNOWN, sighting(10), repair=[again]).root.line == 10


@pytest.mark.parametrize("more", [{"closed": "passed"}, {"phase": "test"}])
def test_without_an_end_neither_a_step_that_passed_nor_a_test_is_sure(more: dict[str, Any]) -> None:
    assert chosen(UNKNOWN, sighting(step=step(closed="failed"))) is not None
    assert chosen(UNKNOWN, sighting(step=step(**more))) is None


def test_an_error_while_cleaning_up_is_the_root_of_a_failed_build_only() -> None:
    cleaning = sighting(step=step(phase="post"))
    assert chosen(FAILED, cleaning).root is cleaning
    assert chosen(UNKNOWN, cleaning) is None


def test_the_step_of_the_goal_that_a_statement_names_is_looked_at_first() -> None:
    deploying = step(40, goal="deploy", followed=True)
    inside, elsewhere = sighting(50, step=deploying), sighting(10)
    said = statement(60, goal="deploy")
    assert chosen(FAILED, elsewhere, inside, statements=[said], steps=[deploying]).root is inside
    assert chosen(FAILED, elsewhere, inside, statements=[statement(60)], steps=[deploying]).root is elsewhere


def test_a_general_error_of_the_failed_step_says_more_than_a_warning_elsewhere() -> None:
    own = step()
    last, general = (sighting(10, step=own, failure_stand_in=kind) for kind in ("last", "general"))
    warning = sighting(5, weight="soft")
    assert chosen(FAILED, warning, general, statements=[statement(60, step=own)]).root is general
    assert chosen(FAILED, warning, last, statements=[statement(60, step=own)]).root is warning
    assert chosen(FAILED, last, statements=[statement(60, step=own)]).root is last


def test_only_the_command_s_own_name_makes_it_the_helper_s_step() -> None:
    for goal, own_step in (("git push", True), ("/usr/bin/git push", True), ("make git", False), (None, False)):
        one = sighting(10, signature_tool="git", step=step(1, 90, goal=goal))
        assert rules._went_on(one, Ending(outcome="failed"), []) is not own_step


def test_a_wrapper_that_explains_what_stands_inside_wins_however_far_below() -> None:
    outer = sighting(60, failure_id="outer", failure_wrapper=True, failure_explains=("one",))
    assert pick([sighting(10), outer]) is outer
    mutual = sighting(60, failure_id="outer", failure_wrapper=True, failure_explains=("one",))
    assert pick([sighting(10, failure_explains=("outer",)), mutual]) is mutual


def test_of_two_errors_in_a_list_the_first_decides() -> None:
    first, next_line = sighting(10, signature_items=True), leading_to("one", 11, signature_items=True)
    assert pick([first, next_line]) is first
    assert lifted(first, next_line) is first
    assert lifted(first, same_line := leading_to("one", 10, signature_items=True)) is same_line


def test_an_error_in_the_list_below_is_the_detail_of_a_line_that_is_none() -> None:
    for told, listed in ((False, True), (True, False)):
        line = sighting(10, signature_items=told)
        detail = leading_to("one", 13, signature_items=listed)
        assert pick([line, detail]) is detail
        assert lifted(line, detail) is detail


def test_within_a_lane_an_earlier_failure_leads_to_a_later_one() -> None:
    later = sighting(50, lane="web")
    assert lifted(later, earlier := leading_to("one", 10, lane="web")) is earlier
    assert lifted(later, leading_to("one", 10, lane="core")) is later


def test_of_three_in_the_same_step_the_last_one_leads() -> None:
    later = sighting(50)
    reasons = [leading_to("one", line, step=later.step) for line in (10, 20, 30)]
    assert lifted(later, *reasons) is reasons[2]


def test_a_ring_of_failures_that_lead_to_each_other_has_an_end() -> None:
    later = sighting(50)
    ring = [leading_to(to, 10, own) for own, to in (("three", "two"), ("four", "three"))]
    two = sighting(10, failure_id="two", failure_explains=("one", "four"))
    assert lifted(later, two, *ring) is ring[1]


def test_a_chosen_failure_gives_way_to_what_led_to_it_unless_that_was_put_right() -> None:
    left = step(1, 20, phase="setup", followed=True, tool="npm")
    reason, later = leading_to("one", 10, step=left), sighting(50, step=step(40))
    assert chosen(FAILED, reason, later).root is reason
    assert chosen(FAILED, reason, later, conclude=[mark(30, tool="npm")]).root is later
    assert chosen(FAILED, reason, later, conclude=[mark(60, tool="npm")]).root is reason


def test_a_checkout_between_keeps_the_agent_s_trouble_open() -> None:
    left, later = step(1, 100, phase="agent", followed=True), step(200)
    between = [step(120, phase="checkout"), step(150, phase="compile")]
    early, late = sighting(10, step=left), sighting(250, step=later)
    assert rules._still_open(early, late, timeline(between))
    assert not rules._still_open(early, late, timeline([*between, step(170, phase="test")]))


def test_a_bare_code_gives_its_place_to_the_words_below_it() -> None:
    own = step()
    code = sighting(10, hit_text="npm ERR! code E401", step=own)
    words = sighting(12, hit_text="npm ERR! 401 Unauthorized", step=own)
    assert chosen(FAILED, code, words).root is words
    assert chosen(FAILED, code).root is code


@pytest.mark.parametrize("lead", ["again: ", "[ERROR] ", "zone: "])
def test_a_sentence_is_known_again_whatever_stands_before_it(lead: str) -> None:
    for texts in ((SENTENCE, lead + SENTENCE), (lead + SENTENCE, SENTENCE)):
        assert rules._repeats(*(sighting(hit_text=text) for text in texts))
