"""The arithmetic of the differential: against SciPy, a published example of Bayes' rule, and by its properties."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import groupby
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.stats import entropy as scipy_entropy

from logdoctor.diagnosis import causes as differential
from logdoctor.diagnosis.causes import (
    PRIOR,
    RATIO,
    contradicted,
    entropy,
    gain_of,
    next_checks,
    rank_causes,
    shares_of,
)
from logdoctor.model import Cause, Check, CheckFact, Clue, FactValue, Failure, FailureId, RankedCause, Speaks
from tests.support import verdict_of

SPEAKS: tuple[Speaks, ...] = get_args(Speaks)
MILD = [s for s in SPEAKS if s != "excludes"]
FACTS = [f"fact_{n}" for n in range(6)]
FACT_SETS = st.dictionaries(st.sampled_from(FACTS), st.booleans())


def clue(fact: str, speaks: Speaks, group: str = "", *, value: bool = True) -> Clue:
    return Clue(fact=fact, accepts=(value,), matches=None, speaks=speaks, group=group or fact, why=f"{fact} is {value}")


def cause(name: str, usual: Any = "common", clues: tuple[Clue, ...] = ()) -> Cause:
    return Cause(
        id=name, says=name, usual=usual, rerun="may", clues=clues, owner="job-owner", fix=(), caution=None, proof=""
    )


def check(name: str, yes: dict[str, Speaks], no: dict[str, Speaks], fact: CheckFact | None = None) -> Check:
    return Check(id=name, ask=name, how=name, effort="seconds", yes=yes, no=no, fact=fact)


def failure(causes: tuple[Cause, ...], checks: tuple[Check, ...] = ()) -> Failure:
    return Failure(id=FailureId("test-failure"), phase="test", title="t", meaning="m", causes=causes, checks=checks)


@st.composite
def failures(draw: st.DrawFn, speaks: Any = SPEAKS) -> Failure:
    """A failure with one to six causes, clues in a few groups, and some checks."""
    names = [f"cause-{n}" for n in range(draw(st.integers(1, 6)))]
    clues = st.builds(
        clue, st.sampled_from(FACTS), st.sampled_from(speaks), st.sampled_from(["a", "b", "c"]), value=st.booleans()
    )
    told = st.dictionaries(st.sampled_from(names), st.sampled_from(speaks))
    return failure(
        tuple(cause(n, draw(st.sampled_from(sorted(PRIOR))), tuple(draw(st.lists(clues, max_size=6)))) for n in names),
        tuple(check(f"check-{n}", draw(told), draw(told)) for n in range(draw(st.integers(0, 4)))),
    )


def shares(ranked: tuple[RankedCause, ...]) -> dict[str, float]:
    return {r.cause.id: r.share for r in ranked}


def same(one: dict[str, float], other: dict[str, float]) -> bool:
    return one.keys() == other.keys() and all(math.isclose(one[k], other[k], abs_tol=1e-12) for k in one)


# --- against the outside ---------------------------------------------------------------------------


@given(st.lists(st.floats(0.0, 1e6), min_size=1, max_size=8).filter(any))
def test_entropy_is_that_of_scipy(weights: list[float]) -> None:
    found = shares_of({str(n): w for n, w in enumerate(weights)}).values()
    assert entropy(found) == pytest.approx(float(scipy_entropy(weights, base=2)), abs=1e-9)


def test_the_screening_example_of_bayes_rule(monkeypatch: pytest.MonkeyPatch) -> None:
    """Gigerenzer and Hoffrage, Psychological Review 102 (1995), 684-704, numbers from memory.

    One woman in a hundred has the illness; the test finds 80 % of the ill and wrongly 9.6 % of the others. Of those
    whose test is positive, 7.8 % are ill.
    """
    monkeypatch.setitem(differential.PRIOR, "rare", 0.01)
    monkeypatch.setitem(differential.PRIOR, "common", 0.99)
    monkeypatch.setitem(differential.RATIO, "strongly-for", 0.8)
    monkeypatch.setitem(differential.RATIO, "for", 0.096)
    positive = failure(
        (
            cause("ill", "rare", (clue("positive", "strongly-for"),)),
            cause("well", "common", (clue("positive", "for"),)),
        )
    )
    ranked, informed = rank_causes(positive, {"positive": True})
    assert informed
    assert shares(ranked)["ill"] == pytest.approx(0.078, abs=0.0005)
    assert sum(shares(ranked).values()) == pytest.approx(1.0)


@given(failures(), FACT_SETS)
def test_shares_are_prior_times_the_strongest_ratio_of_each_group(entry: Failure, facts: dict[str, bool]) -> None:
    """The same, worked out on arrays of logarithms."""
    logs = []
    for each in entry.causes:
        spoken = sorted((c for c in each.clues if facts.get(c.fact) == c.accepts[0]), key=lambda c: c.group)
        total = np.log(PRIOR[each.usual])
        for _, members in groupby(spoken, key=lambda c: c.group):
            with np.errstate(divide="ignore"):
                found = np.log([RATIO[m.speaks] for m in members])
            total += min(found, key=lambda x: (-abs(x), x))
        logs.append(total)
    weights = np.exp(np.array(logs))
    ranked, _ = rank_causes(entry, facts)
    if weights.sum() > 0:
        wanted = weights / weights.sum()
        assert same(shares(ranked), {c.id: float(w) for c, w in zip(entry.causes, wanted, strict=True)})
    else:
        assert contradicted(ranked)


@settings(deadline=None)
@given(failures(), FACT_SETS)
def test_gain_is_the_most_that_yes_and_no_can_tell(entry: Failure, facts: dict[str, bool]) -> None:
    """The best scales by linear programming, the divergences by SciPy, the new shares as an answer really moves them."""
    ranked, _ = rank_causes(entry, facts)
    if contradicted(ranked):
        return
    before = shares(ranked)
    for each in entry.checks:
        live = [c for c in before if before[c] > 0]
        weight = {
            said: [RATIO[told[c]] if c in told else 1.0 for c in live]
            for said, told in ((True, each.yes), (False, each.no))
        }
        worth = []
        for said in (True, False):
            after, _ = rank_causes(entry, facts, {each.id: said})
            chance = math.fsum(before[c] * w for c, w in zip(live, weight[said], strict=True))
            if chance == 0:  # the answer would contradict what is known
                worth.append(0.0)
                continue
            moved = scipy_entropy([shares(after)[c] for c in live], [before[c] for c in live], base=2)
            worth.append(chance * float(moved))
        best = linprog(
            [-w for w in worth],
            A_ub=np.array([weight[True], weight[False]]).T,
            b_ub=np.ones(len(live)),
            bounds=[(0, 100), (0, 100)],
        )
        assert best.fun is not None
        assert gain_of(each, before) == pytest.approx(-best.fun, abs=1e-6)


# --- properties ------------------------------------------------------------------------------------


@given(failures(), FACT_SETS, st.dictionaries(st.sampled_from(["check-0", "check-1", "check-9"]), st.booleans()))
def test_shares_sum_to_one_and_stand_in_order(entry: Failure, facts: dict[str, bool], answers: dict[str, bool]) -> None:
    ranked, _ = rank_causes(entry, facts, answers)
    found = [r.share for r in ranked]
    assert math.fsum(found) == pytest.approx(1.0)
    assert found == sorted(found, reverse=True)
    assert {r.cause.id for r in ranked} == {c.id for c in entry.causes}


@given(failures(), FACT_SETS, st.randoms(use_true_random=False))
def test_order_of_clues_and_causes_does_not_matter(entry: Failure, facts: dict[str, bool], chance: Any) -> None:
    shuffled = [replace(c, clues=tuple(chance.sample(c.clues, len(c.clues)))) for c in entry.causes]
    chance.shuffle(shuffled)
    one, informed = rank_causes(entry, facts)
    other, informed_too = rank_causes(replace(entry, causes=tuple(shuffled)), facts)
    assert same(shares(one), shares(other))
    assert informed == informed_too
    told = {r.cause.id: {(c.fact, c.speaks) for c in r.clues} for r in one}
    assert told == {r.cause.id: {(c.fact, c.speaks) for c in r.clues} for r in other}


@given(failures(), FACT_SETS)
def test_an_excluded_cause_has_share_zero_unless_all_are(entry: Failure, facts: dict[str, bool]) -> None:
    ranked, _ = rank_causes(entry, facts)
    out = [r for r in ranked if any(c.speaks == "excludes" for c in r.clues)]
    if contradicted(ranked):
        assert len(out) == len(ranked)
        assert same(shares(ranked), shares_of({c.id: PRIOR[c.usual] for c in entry.causes}))
    else:
        assert all((r in out) == (r.share == 0) for r in ranked)


def test_all_causes_excluded_is_a_contradiction() -> None:
    entry = failure(
        (cause("one", clues=(clue("a", "excludes"),)), cause("two", "rare", (clue("b", "excludes"),))),
        (check("ask", {"two": "excludes"}, {}),),
    )
    assert not contradicted(rank_causes(entry, {"a": True})[0])
    assert not contradicted(rank_causes(entry, {"b": True})[0])
    for facts, answers in (({"a": True, "b": True}, {}), ({"a": True}, {"ask": True})):
        ranked, _ = rank_causes(entry, facts, answers)
        assert contradicted(ranked)
        assert shares(ranked) == {"one": pytest.approx(6 / 7), "two": pytest.approx(1 / 7)}
        assert all(r.clues for r in ranked)


@given(failures(), FACT_SETS)
def test_gains_are_between_nothing_and_the_entropy_left(entry: Failure, facts: dict[str, bool]) -> None:
    ranked, _ = rank_causes(entry, facts)
    left = entropy(r.share for r in ranked)
    for each in entry.checks:
        assert 0.0 <= gain_of(each, shares(ranked)) <= left + 1e-12
    assert all(0.0 < n.gain_bits <= left + 1e-12 for n in next_checks(entry, ranked, facts))


@given(failures(), FACT_SETS)
def test_a_check_is_worth_asking_exactly_when_an_answer_can_move_the_shares(
    entry: Failure, facts: dict[str, bool]
) -> None:
    ranked, _ = rank_causes(entry, facts)
    if contradicted(ranked):
        return
    for each in entry.checks:
        moves = [rank_causes(entry, facts, {each.id: said})[0] for said in (True, False)]
        can = any(not contradicted(after) and not same(shares(after), shares(ranked)) for after in moves)
        assert (gain_of(each, shares(ranked)) > 1e-12) == can


def test_only_the_strongest_clue_of_a_group_counts() -> None:
    def share(*clues: Clue) -> float:
        facts = {c.fact: True for c in clues}
        return shares(rank_causes(failure((cause("one", clues=clues), cause("two"))), facts)[0])["one"]

    weak, strong, against = clue("a", "for", "g"), clue("b", "strongly-for", "g"), clue("c", "strongly-against", "g")
    assert share(weak, strong) == share(strong) == pytest.approx(0.9)
    assert share(weak, clue("d", "for", "g")) == share(weak) == pytest.approx(0.75)
    assert share(weak, clue("d", "for", "other")) == pytest.approx(0.9)
    assert share(strong, against) == share(against, strong) == share(against) == pytest.approx(0.1)
    assert share(strong, clue("x", "excludes", "g")) == 0.0


# --- answers ---------------------------------------------------------------------------------------


@given(failures(MILD), FACT_SETS, st.booleans())
def test_an_answer_multiplies_by_its_ratios(entry: Failure, facts: dict[str, bool], said: bool) -> None:
    before = shares(rank_causes(entry, facts)[0])
    for each in entry.checks:
        told = each.yes if said else each.no
        wanted = shares_of({c: s * (RATIO[told[c]] if c in told else 1.0) for c, s in before.items()})
        assert same(shares(rank_causes(entry, facts, {each.id: said})[0]), wanted)


def test_an_answer_ranks_anew_and_is_not_asked_again() -> None:
    entry = failure(
        (cause("one"), cause("two", "occasional")),
        (check("ask", {"two": "strongly-for"}, {"two": "against"}), check("more", {"one": "for"}, {})),
    )
    ranked, informed = rank_causes(entry, {})
    assert not informed
    assert ranked[0].cause.id == "one"
    assert [n.check.id for n in next_checks(entry, ranked, {})] == ["ask", "more"]
    ranked, informed = rank_causes(entry, {}, {"ask": True})
    assert informed
    assert ranked[0].cause.id == "two"
    assert [c.why for c in ranked[0].clues] == ["answered yes: ask"]
    assert [n.check.id for n in next_checks(entry, ranked, {}, {"ask": True})] == ["more"]


def test_a_check_that_a_fact_answers_is_not_asked() -> None:
    known = CheckFact(name="seen", accepts=("yes", True))
    entry = failure((cause("one"), cause("two")), (check("ask", {"two": "for"}, {}, known),))
    ranked, _ = rank_causes(entry, {})
    facts: list[dict[str, FactValue]] = [{}, {"seen": "perhaps"}, {"other": True}, {"seen": "yes"}, {"seen": True}]
    assert [len(next_checks(entry, ranked, f)) for f in facts] == [1, 1, 1, 0, 0]
    any_value = replace(entry, checks=(replace(entry.checks[0], fact=CheckFact(name="seen")),))
    facts = [{}, {"seen": False}, {"seen": "perhaps"}]
    assert [len(next_checks(any_value, ranked, f)) for f in facts] == [1, 0, 0]


def test_a_quick_check_goes_before_a_slow_one_that_tells_as_much() -> None:
    slow = replace(check("slow", {"two": "for"}, {}), effort="someone-else")
    entry = failure((cause("one"), cause("two")), (slow, check("quick", {"two": "for"}, {})))
    assert [n.check.id for n in next_checks(entry, rank_causes(entry, {})[0], {})] == ["quick", "slow"]


def test_a_check_about_a_cause_that_is_ruled_out_is_not_asked() -> None:
    entry = failure(
        (cause("one"), cause("two", clues=(clue("a", "excludes"),)), cause("three")),
        (check("about-two", {"two": "for"}, {"two": "against"}), check("about-three", {"three": "for"}, {})),
    )
    ranked, _ = rank_causes(entry, {"a": True})
    assert [n.check.id for n in next_checks(entry, ranked, {"a": True})] == ["about-three"]


@pytest.mark.parametrize(
    ("line", "first"),
    [
        (" ! [rejected]        main -> main (fetch first)", "branch-moved-on"),
        (" ! [rejected]        main -> main (non-fast-forward)", "branch-moved-on"),
        (" ! [remote rejected] main -> main (protected branch hook declined)", "branch-or-tag-protected"),
        ("ERROR: The key you are authenticating with has been marked as read only.", "write-right-or-scope-missing"),
    ],
)
def test_the_words_of_a_line_speak_where_its_pattern_has_no_part_for_them(line: str, first: str) -> None:
    log = (
        f"+ git push origin main\nTo git.brackwater.example:ferries/fares.git\n{line}\nERROR: Job failed: exit code 1\n"
    )
    root = verdict_of(log).root
    assert root is not None
    assert root.failure.id == "deploy-git-push-rejected"
    assert root.causes[0].cause.id == first
    assert root.causes[0].share > 2 * root.causes[1].share
