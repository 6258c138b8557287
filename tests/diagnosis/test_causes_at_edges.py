"""Causes at their edges: facts told as a word or as a truth value, and checks that no answer can come of."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logdoctor.diagnosis.causes import answered_by_fact, gain_of, rank_causes
from logdoctor.model import CheckFact, Clue, FactValue, SpokenClue
from tests.diagnosis.test_causes import cause, check, clue, failure

FITS: list[tuple[FactValue, FactValue, bool]] = [
    (True, "true", True),
    ("true", True, True),
    (False, "false", True),
    (True, False, False),
    ("True", True, False),
    (403, "403", True),
    ("Releases", "Releases", True),
    ("Releases", "releases", False),
]


def first(speaking: Clue, value: FactValue) -> bool:
    """Whether the clue puts its cause before one that is as usual."""
    ranked, spoke = rank_causes(failure((cause("other"), cause("one", clues=(speaking,)))), {"seen": value})
    assert (ranked[0].cause.id == "one") is spoke
    return spoke


@pytest.mark.parametrize(("value", "accepted", "fits"), FITS)
def test_a_fact_fits_by_its_words_and_in_upper_or_lower_case_as_told(
    value: FactValue, accepted: FactValue, fits: bool
) -> None:
    speaking = replace(clue("seen", "for"), accepts=(accepted,))
    assert first(speaking, value) is fits
    assert answered_by_fact(check("ask", {}, {}, CheckFact(name="seen", accepts=(accepted,))), {"seen": value}) is fits


def test_a_pattern_is_searched_in_the_words_of_a_fact() -> None:
    matching = replace(clue("seen", "for"), matches="^(?:true|Releases)$", accepts=())
    assert first(matching, True)
    assert first(matching, "Releases")
    assert not first(matching, "releases")
    assert not first(matching, False)


def test_a_check_whose_answers_would_rule_out_every_cause_tells_nothing() -> None:
    out = check("ask", dict.fromkeys(("one", "two"), "excludes"), dict.fromkeys(("one", "two"), "excludes"))
    assert gain_of(out, {"one": 0.5, "two": 0.5}) == 0.0


def test_a_check_of_a_failure_without_causes_tells_nothing() -> None:
    assert gain_of(check("ask", {"one": "for"}, {}), {}) == 0.0
    assert gain_of(check("ask", {"one": "for"}, {}), {"one": 0.0}) == 0.0


def test_what_was_confirmed_before_stands_on_top_of_the_author_s_weight() -> None:
    entry = failure((cause("one", "occasional"), cause("two", "rare")))
    ranked, spoke = rank_causes(entry, {}, counts={"two": 4.0, "elsewhere": 9.0})
    assert [one.cause.id for one in ranked] == ["two", "one"]
    assert [one.share for one in ranked] == pytest.approx([5 / 7, 2 / 7])
    assert not spoke


@pytest.mark.parametrize(("said", "word"), [(True, "yes"), (False, "no")])
def test_an_answer_is_told_with_its_question(said: bool, word: str) -> None:
    entry = failure((cause("one"),), (check("ask", {"one": "for"}, {"one": "for"}),))
    ((told,),) = [one.clues for one in rank_causes(entry, {}, {"ask": said})[0]]
    assert told == SpokenClue(fact="ask", value=said, speaks="for", why=f"answered {word}: ask")


def test_a_clue_that_spoke_is_told_with_its_fact_and_reason() -> None:
    entry = failure((cause("one", clues=(clue("seen", "against"),)),))
    ((told,),) = [one.clues for one in rank_causes(entry, {"seen": True})[0]]
    assert told == SpokenClue(fact="seen", value=True, speaks="against", why="seen is True")
