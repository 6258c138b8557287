"""Each rule by which a root is chosen, at its edges."""

# ruff: noqa: SLF001 -- the rules are private, and each has edges of its own
from __future__ import annotations

from typing import Any

import pytest

from logdoctor.diagnosis import root as rules
from logdoctor.diagnosis.outcome import Ending
from tests.mutation.made import mark, sighting, statement, step, timeline

pick: Any = rules.pick
hard_first: Any = rules._hard_first
FAILED = Ending(outcome="failed", line=100, by="ci")
SENTENCE = "a whole sentence of thirty signs"


def test_a_sure_sighting_is_hard_of_its_own_and_in_a_step_that_nothing_followed() -> None:
    assert rules._sure(sighting())
    assert not rules._sure(sighting(weight="soft"))
    assert not rules._sure(sighting(apart=True))
    assert not rules._sure(sighting(step=step(followed=True)))
    assert not rules._sure(sighting(failure_phase="test"))
    assert not rules._sure(sighting(failure_phase="post"))


@pytest.mark.parametrize(
    ("lane", "inner", "answer"),
    [(None, "a", True), (None, None, True), ("a", "a", True), ("a", "a / #7", True), ("a", "ab", False), ("a", None, False),
     ("a", "b", False), ("a", "a #7", False)],
)  # fmt: skip
def test_a_lane_holds_lanes_within_it(lane: str | None, inner: str | None, answer: bool) -> None:
    assert rules._same_or_outer(lane, inner) is answer


def test_commands_are_the_same_by_their_first_two_words() -> None:
    assert rules._same_command("npm ci -x", "npm ci -y")
    assert not rules._same_command("npm ci", "npm run")
    assert not rules._same_command("npm ci", "pip ci")
    assert not rules._same_command(None, "npm ci")
    assert not rules._same_command("npm ci", None)
    assert not rules._same_command(None, None)


def test_goals_are_the_same_by_their_ends() -> None:
    assert rules._same_goal("a:b", "a:b")
    assert rules._same_goal("x:a:b", "a:b")
    assert rules._same_goal("a:b", "x:a:b")
    assert not rules._same_goal("a:b", "a:c")


def test_the_better_stand_in_is_the_more_specific_one() -> None:
    general, last = sighting(failure_stand_in="general"), sighting(failure_stand_in="last")
    assert rules._better(None, last) is last
    assert rules._better(general, None) is general
    assert rules._better(None, None) is None
    assert rules._better(last, general) is general
    assert rules._better(general, last) is general
    assert rules._better(general, sighting(failure_stand_in="general")) is general


def _repaired(earlier: Any, chosen: Any, *steps: Any, **marks: Any) -> bool:
    return rules._repaired(earlier, chosen, timeline(steps, **marks))


def test_what_was_tried_again_is_repaired() -> None:
    earlier, chosen = sighting(10, step=step(goal="npm ci")), sighting(50)
    assert not _repaired(earlier, chosen)
    assert _repaired(earlier, chosen, step(30, goal="npm ci -f"))
    assert not _repaired(earlier, chosen, step(30, goal="npm run"))
    assert not _repaired(earlier, chosen, step(30, goal="npm ci", lane="b"))
    for start, answer in ((10, False), (11, True), (49, True), (50, False)):
        assert _repaired(earlier, chosen, step(start, goal="npm ci")) is answer


def test_what_its_tool_said_to_have_worked_is_repaired() -> None:
    earlier, chosen = sighting(10, signature_tool="npm", step=step(tool="bash")), sighting(50)
    for tool, answer in (("npm", True), ("bash", True), ("maven", False)):
        assert _repaired(earlier, chosen, conclude=[mark(30, tool=tool)]) is answer
    assert not _repaired(earlier, chosen, conclude=[mark(30, "failed", tool="npm")])
    assert not _repaired(earlier, chosen, close=[mark(30, tool="npm")])
    for line, answer in ((10, False), (11, True), (49, True), (50, False)):
        assert _repaired(earlier, chosen, conclude=[mark(line, tool="npm")]) is answer


@pytest.mark.parametrize(("line", "answer"), [(9, False), (10, False), (11, True), (16, True), (17, False)])
def test_a_mark_of_repair_counts_a_few_lines_further_down(line: int, answer: bool) -> None:
    assert _repaired(sighting(10), sighting(50), repair=[mark(line)]) is answer


def _open(earlier: Any, chosen: Any, *steps: Any, **marks: Any) -> bool:
    return rules._still_open(earlier, chosen, timeline(steps, **marks))


def test_what_stands_in_one_step_or_was_not_left_is_open() -> None:
    one = step(1, 100, followed=True)
    assert _open(sighting(10, step=one), sighting(50, step=one))
    assert _open(sighting(10, step=step(1, 100, phase="test")), sighting(50, step=step(40)))


@pytest.mark.parametrize(("end", "answer"), [(40, True), (39, True), (41, False), (100, False)])
def test_what_a_left_step_ended_with_is_open(end: int, answer: bool) -> None:
    left, later = step(1, end, phase="test", followed=True), step(120)
    assert _open(sighting(10, step=left), sighting(150, step=later)) is answer


@pytest.mark.parametrize("more", [{"weight": "soft"}, {"apart": True}])
def test_what_did_not_give_up_is_not_open(more: dict[str, Any]) -> None:
    left, later = step(1, 20, phase="test", followed=True), step(120)
    assert not _open(sighting(10, step=left, **more), sighting(150, step=later))


def test_what_was_repaired_is_not_open() -> None:
    left, later = step(1, 20, phase="test", followed=True), step(120)
    assert not _open(sighting(10, step=left), sighting(150, step=later), repair=[mark(12)])


@pytest.mark.parametrize(
    ("own", "between", "answer"),
    [("agent", "checkout", True), ("checkout", "agent", True), ("agent", "compile", True), ("setup", "agent", False), ("agent", "test", False)],
)  # fmt: skip
def test_only_preparation_between_keeps_it_open(own: str, between: str, answer: bool) -> None:
    left, later = step(1, 100, phase=own, followed=True), step(200)
    early, late = sighting(10, step=left), sighting(250, step=later)
    assert _open(early, late, step(150, phase=between)) is answer
    assert _open(early, late, step(150, phase="test", lane="b")) is (own != "setup")
    assert _open(early, late, step(1, phase="test")) is (own != "setup")
    assert _open(early, late, step(200, phase="test")) is (own != "setup")


def test_a_repetition_holds_the_whole_sentence_or_names_the_same_place() -> None:
    assert rules._repeats(sighting(hit_text=SENTENCE), sighting(hit_text=f"again: {SENTENCE}"))
    assert rules._repeats(sighting(hit_text=f"again: {SENTENCE}"), sighting(hit_text=f" {SENTENCE} "))
    assert not rules._repeats(
        sighting(hit_text=SENTENCE), sighting(hit_text="another sentence of more than thirty signs")
    )
    thirty = "x" * 30
    assert rules._repeats(sighting(hit_text=thirty), sighting(hit_text=f"{thirty}y"))
    assert not rules._repeats(sighting(hit_text=thirty[1:]), sighting(hit_text=thirty))
    place = {"file": "A.java", "at": "3", "text": "x"}
    assert rules._repeats(sighting(hit_groups=place), sighting(hit_groups=dict(place), hit_text="other"))
    for key in place:
        changed = {**place, key: "other"}
        assert not rules._repeats(sighting(hit_groups=place), sighting(hit_groups=changed, hit_text="other"))
    assert not rules._repeats(sighting(hit_text="a"), sighting(hit_text="b"))


def test_requests_are_the_same_where_what_both_name_is_equal() -> None:
    for key in ("url", "host", "module"):
        assert rules._same_request(sighting(hit_groups={key: "a"}), sighting(hit_groups={key: "a"}))
        assert not rules._same_request(sighting(hit_groups={key: "a"}), sighting(hit_groups={key: "b"}))
        assert rules._same_request(sighting(hit_groups={key: "a"}), sighting())
        assert rules._same_request(sighting(), sighting(hit_groups={key: "b"}))


def test_a_statement_speaks_of_the_steps_of_its_goal_and_module() -> None:
    said = statement(goal="x:deploy", module="web")
    assert rules._speaks_of(said, sighting(step=step(goal="deploy", module="web")))
    assert rules._speaks_of(said, sighting(step=step(goal="deploy", module=None)))
    assert not rules._speaks_of(said, sighting(step=step(goal="deploy", module="core")))
    assert rules._speaks_of(statement(goal="deploy"), sighting(step=step(goal="deploy", module="core")))
    assert not rules._speaks_of(said, sighting(step=step(goal="compile", module="web")))
    assert not rules._speaks_of(said, sighting(step=step(goal=None)))
    assert not rules._speaks_of(statement(goal=None), sighting(step=step(goal="deploy")))


def test_the_steps_a_statement_names_are_the_last_of_its_goal_before_it() -> None:
    steps = [
        step(1, goal="deploy"),
        step(5, goal="deploy", module="web"),
        step(20, goal="deploy"),
        step(30, goal="deploy"),
        step(7, goal=None),
    ]
    own = step(3)
    assert rules._named_steps(statement(20, goal="deploy", step=own), timeline(steps)) == [steps[2]]
    assert rules._named_steps(statement(19, goal="deploy", step=own), timeline(steps)) == [steps[1]]
    assert rules._named_steps(statement(19, goal="deploy", module="core", step=own), timeline(steps)) == [steps[0]]
    assert rules._named_steps(statement(19, goal="package", step=own), timeline(steps)) == [own]
    assert rules._named_steps(statement(19, step=own), timeline(steps)) == [own]


def test_picking_prefers_the_specific_the_reason_and_the_earliest() -> None:
    assert pick([]) is None
    general, last = sighting(1, failure_stand_in="general"), sighting(1, failure_stand_in="last")
    late, early = sighting(20), sighting(10)
    assert pick([general, last]) is general
    assert pick([last, general, late]) is late
    assert pick([late, early]) is early
    wrapper = sighting(1, failure_id="outer", failure_wrapper=True)
    assert pick([wrapper, late]) is late
    assert pick([wrapper]) is wrapper
    plain = sighting(1, failure_id="outer", failure_wrapper=True, failure_explains=("one",))
    assert pick([plain, late]) is plain
    assert pick([sighting(5, weight="soft"), late]) is late
    assert pick([soft := sighting(5, weight="soft")]) is soft
    first = sighting(12, failure_id="two", failure_explains=("one",))
    assert pick([early, first]) is first
    assert pick([early, sighting(17, failure_id="two", failure_explains=("one",))]) is early
    assert pick([sighting(10), at_edge := sighting(16, failure_id="two", failure_explains=("one",))]) is at_edge
    both = sighting(9, failure_explains=("two",)), sighting(12, failure_id="two", failure_explains=("one",))
    assert pick(both) is both[0]
    listed = (
        sighting(10, signature_items=True),
        sighting(12, failure_id="two", failure_explains=("one",), signature_items=True),
    )
    assert pick(listed) is listed[0]


def test_a_test_reports_its_reason_many_lines_further_down() -> None:
    report = sighting(10, failure_phase="test")
    for line, answer in ((50, True), (51, False)):
        reason = sighting(line, failure_id="two", failure_explains=("one",))
        assert (pick([report, reason]) is reason) is answer


def test_of_equals_on_one_line_the_one_that_fits_the_step_wins() -> None:
    deploying = step(phase="deploy", tool="npm")
    plain = sighting(10, step=deploying, failure_phase="resolve")
    assert pick([plain, fits := sighting(10, step=deploying, failure_phase="deploy")]) is fits
    assert (
        pick([plain, fits := sighting(10, step=deploying, failure_phase="resolve", signature_prefers=("deploy",))])
        is fits
    )
    assert pick([plain, own := sighting(10, step=deploying, failure_phase="resolve", signature_tool="npm")]) is own
    counted = sighting(10, step=deploying, failure_phase="resolve", signature_summary=True)
    assert pick([counted, plain]) is plain
    longer = sighting(10, step=deploying, failure_phase="resolve", signature_literals=("abcdef", "x"))
    assert pick([plain, longer]) is longer
    assert rules._longest_literal(sighting(signature_literals=())) == 0


def test_errors_come_before_warnings_but_a_notice_of_another_try_tells() -> None:
    soft, hard = sighting(5, weight="soft"), sighting(9)
    again = sighting(3, weight="soft", hit_text="Retrying in 5 s")
    assert hard_first([soft, hard]) == [hard, soft]
    assert hard_first([hard, soft, again]) == [again, hard, soft]
    assert hard_first([sighting(9), early := sighting(4)])[0] is early


def test_the_words_of_a_bare_code_stand_a_little_further_down() -> None:
    code = sighting(10, hit_text="npm ERR! code E401")
    for line, answer in ((10, False), (11, True), (18, True), (19, False)):
        words = sighting(line, hit_text="npm ERR! 401 Unauthorized")
        assert (rules._in_words(code, [code, words]) is words) is answer
    two = [sighting(15, hit_text="b"), sighting(12, hit_text="a"), sighting(11, hit_text="npm error errno 1")]
    assert rules._in_words(code, two) is two[1]
    assert rules._in_words(code, [code]) is code
    plain = sighting(10)
    assert rules._in_words(plain, [sighting(12)]) is plain


def test_the_wrapper_is_the_nearest_one_of_another_failure_in_the_lane() -> None:
    chosen = sighting(20)
    for line, answer in ((8, True), (7, False), (32, True), (33, False)):
        near = sighting(line, failure_id="outer", failure_wrapper=True)
        assert (rules._wrapper_of(chosen, [near]) is near) is answer
    far, near = (sighting(line, failure_id="outer", failure_wrapper=True) for line in (10, 18))
    assert rules._wrapper_of(chosen, [far, near]) is near
    assert rules._wrapper_of(chosen, [sighting(18, failure_id="outer")]) is None
    assert rules._wrapper_of(chosen, [sighting(18, failure_wrapper=True)]) is None
    assert rules._wrapper_of(chosen, [sighting(18, failure_id="outer", failure_wrapper=True, lane="b")]) is None


def test_a_separate_failure_stands_in_another_lane_or_module() -> None:
    root = sighting(10, step=step(module="core"))

    def found(*others: Any, **more: Any) -> list[Any]:
        return rules._separate(root, [statement(20 + n, [one], **more) for n, one in enumerate(others)], list(others))

    web = step(module="web")
    other = sighting(30, failure_id="two", step=web)
    assert found(other) == [other]
    assert found(other, refers=True) == []
    assert found(lane := sighting(30, failure_id="two", lane="b", step=step(module="core"))) == [lane]
    assert found(sighting(30, failure_id="two", step=step(module="core"))) == []
    assert found(sighting(30, failure_id="two", step=step(module=None))) == []
    assert found(sighting(30, failure_id="two", step=web, failure_stand_in="general")) == []
    assert found(sighting(10, failure_id="two", step=web)) == []
    assert found(other, sighting(40, failure_id="two", step=web)) == [other]
    third = sighting(50, failure_id="three", step=web)
    assert found(sighting(5, failure_id="two", step=web), third) == [third]
    explaining = sighting(10, failure_explains=("two",))
    assert rules._separate(explaining, [statement(20, [other])], [other]) == []
    assert rules._separate(root, [statement(20, [root, other])], [root, other]) == []


def test_the_earlier_sighting_that_explains_takes_its_place() -> None:
    chosen = sighting(50)

    def lifted(*live: Any, **marks: Any) -> Any:
        return rules._lift(chosen, [*live, chosen], timeline(**marks))

    reason = sighting(10, failure_id="two", failure_explains=("one",))
    assert lifted(reason) is reason
    first = sighting(5, failure_id="three", failure_explains=("two",))
    assert lifted(first, reason) is first
    assert lifted(sighting(10, failure_id="two")) is chosen
    assert lifted(sighting(10, failure_id="two", failure_explains=("one",), failure_stand_in="last")) is chosen
    assert lifted(sighting(10, failure_id="two", failure_explains=("one",), lane="b")) is chosen
    assert lifted(at := sighting(56, failure_id="two", failure_explains=("one",))) is at
    assert lifted(sighting(57, failure_id="two", failure_explains=("one",))) is chosen
    left = step(1, 100, phase="test", followed=True)
    assert lifted(sighting(10, failure_id="two", failure_explains=("one",), step=left)) is chosen
    assert lifted(one := sighting(8, failure_id="two", failure_explains=("one",)), reason) is one


def test_of_several_in_the_same_step_the_last_one_leads() -> None:
    chosen = sighting(50)
    a, b = (sighting(line, failure_id="two", failure_explains=("one",), step=chosen.step) for line in (10, 20))
    assert rules._lift(chosen, [a, b, chosen], timeline()) is b


def test_two_that_explain_each_other_do_not_change_places() -> None:
    chosen = sighting(50, failure_explains=("two",))
    assert rules._lift(chosen, [sighting(10, failure_id="two", failure_explains=("one",))], timeline()) is chosen


@pytest.mark.parametrize(
    ("weight", "more", "answer"),
    [("hard", 19, False), ("hard", 20, True), ("soft", 5, False), ("soft", 6, True)],
)
def test_a_script_went_on_after_a_helper(weight: str, more: int, answer: bool) -> None:
    for tool in ("curl", "wget", "git", "ssh"):
        one = sighting(10, weight=weight, signature_tool=tool, step=step(1, 10 + more))
        assert rules._went_on(one, Ending(outcome="failed"), []) is answer
        assert not rules._went_on(sighting(10, signature_tool=tool, failure_phase="test", step=step(1, 90)), FAILED, [])
        own = sighting(10, signature_tool=tool, step=step(1, 90, goal=f"/usr/bin/{tool} -x"))
        assert not rules._went_on(own, FAILED, [])


@pytest.mark.parametrize(
    ("weight", "more", "answer"), [("hard", 39, False), ("hard", 40, True), ("soft", 9, False), ("soft", 10, True)]
)
def test_a_script_went_on_after_a_warning(weight: str, more: int, answer: bool) -> None:
    made = {"weight": weight, "signature_tool": "npm", "hit_text": "npm warning: it does not work"}
    one = sighting(10, step=step(1, 10 + more), **made)
    assert rules._went_on(one, Ending(outcome="failed"), []) is answer
    assert rules._went_on(one, Ending(outcome="failed", line=12), []) is False
    assert not rules._went_on(one, Ending(outcome="failed"), [statement(11, step=one.step, tool="npm")])
    assert not rules._went_on(one, Ending(outcome="failed"), [statement(11, step=one.step, tool="maven")])
    assert rules._went_on(one, Ending(outcome="failed"), [statement(11, step=one.step, tool="git")]) is answer
    assert rules._went_on(one, Ending(outcome="failed"), [statement(10, step=one.step, tool="npm")]) is answer
    assert rules._went_on(one, Ending(outcome="failed"), [statement(11, tool="npm")]) is answer
    assert not rules._went_on(sighting(10, step=step(1, 90), signature_tool="npm"), FAILED, [])
    assert not rules._went_on(sighting(10, step=step(1, 90), hit_text="warning: x"), FAILED, [])


def test_what_the_server_calls_a_warning_did_not_end_it() -> None:
    assert rules._went_on(sighting(hit_text="##[warning]x"), FAILED, [])
    assert rules._went_on(sighting(hit_text="::warning x"), FAILED, [])
    assert not rules._went_on(sighting(hit_text="##[error]x"), FAILED, [])


def test_the_last_words_are_those_of_steps_that_nothing_followed() -> None:
    last, followed, inner, cleaning = (
        statement(),
        statement(step=step(followed=True)),
        statement(step=step(inner=True)),
        statement(step=step(phase="post")),
    )
    assert rules._last_words([followed, inner, cleaning, last]) == [last]
    assert rules._last_words([followed, cleaning]) == [cleaning]
    assert rules._last_words([followed, inner]) == []


def test_a_step_of_an_image_that_was_built_is_no_last_word() -> None:
    said = statement(20, lane="#7 2/4")
    built = timeline(conclude=[mark(30, tool="docker")])
    assert rules._inside_a_built_image(said, built)
    assert not rules._inside_a_built_image(statement(20, lane="web"), built)
    assert not rules._inside_a_built_image(statement(20), built)
    assert not rules._inside_a_built_image(said, timeline(conclude=[mark(20, tool="docker")]))
    assert not rules._inside_a_built_image(said, timeline(conclude=[mark(30, "failed", tool="docker")]))
    assert not rules._inside_a_built_image(said, timeline(conclude=[mark(30)]))


def test_what_a_statement_holds_decides_when_it_is_specific() -> None:
    general, one, two = sighting(5, failure_stand_in="general"), sighting(10), sighting(12)
    assert rules._from_statements([statement(20, [general]), statement(21, [two])], [general, one, two]) is two
    assert rules._from_statements([statement(20, [general])], [general, one]) is None
    assert rules._from_statements([], [one]) is None


def _stepwise(*live: Any, statements: Any = (), outcome: Any = "failed") -> Any:
    return rules._from_steps(Ending(outcome=outcome), timeline(), statements, live)


def test_named_steps_come_before_open_steps_and_those_before_any_other() -> None:
    named = step(goal="deploy", followed=True)
    said = statement(goal=None, step=named)
    inside, still = sighting(30, step=named), sighting(10)
    assert _stepwise(inside, still, statements=[said]) is inside
    assert _stepwise(inside, still) is still
    assert _stepwise(inside) is None
    cleaning = sighting(5, step=step(phase="post"))
    assert _stepwise(cleaning, still) is still
    assert _stepwise(cleaning) is cleaning
    assert _stepwise(cleaning, outcome="unknown") is None
    assert _stepwise(sighting(5, step=step(phase="post"), weight="soft")) is None
    assert _stepwise(sighting(5, step=step(phase="post"), apart=True)) is None


def test_within_steps_errors_come_before_warnings_and_own_words_before_others() -> None:
    soft, apart, hard = sighting(1, weight="soft"), sighting(2, apart=True), sighting(3)
    assert _stepwise(soft, apart, hard) is hard
    assert _stepwise(soft, apart) is apart
    assert _stepwise(soft) is soft
    general = sighting(2, failure_stand_in="general")
    assert _stepwise(general, soft) is general
    last = sighting(2, failure_stand_in="last")
    assert _stepwise(last, soft) is soft
    assert _stepwise(last) is last
    assert _stepwise(last, sighting(5, weight="soft", failure_stand_in="general")).failure.stand_in == "general"


def _first(chosen: Any, *live: Any, statements: Any = ()) -> Any:
    return rules._first_place(chosen, live, statements)


def test_the_first_place_is_an_error_of_the_same_failure_in_the_failed_step() -> None:
    own = step()
    chosen = sighting(50, step=own)
    said = statement(60, step=own)
    early, soft = sighting(20, step=own), sighting(10, step=own, weight="soft")
    assert _first(chosen, soft, early, chosen, statements=[said]) is early
    assert _first(chosen, sighting(20, step=own, lane="b"), chosen) is chosen
    assert _first(chosen, sighting(20, step=own, failure_id="two"), chosen) is chosen
    assert _first(chosen, sighting(20, step=own, signature_summary=True), chosen) is chosen
    assert _first(chosen, sighting(20, step=step()), chosen) is chosen
    again = sighting(20, step=step(), hit_text=SENTENCE)
    assert _first(sighting(50, hit_text=f"so: {SENTENCE}"), again) is again
    named = sighting(20, step=step(goal="deploy"))
    assert _first(chosen, named, chosen, statements=[statement(60, [chosen], goal="deploy")]) is named
    assert _first(chosen, named, chosen, statements=[statement(60, goal="deploy")]) is chosen
    asked = sighting(50, step=own, hit_groups={"url": "a"})
    assert _first(asked, sighting(20, step=own, hit_groups={"url": "b"}), asked) is asked


def test_a_summary_points_at_its_module_or_anywhere() -> None:
    chosen = sighting(50, signature_summary=True, step=step(module="web"))
    web, core, free = (sighting(line, step=step(module=name)) for line, name in ((20, "web"), (10, "core"), (15, None)))
    assert _first(chosen, core, web) is web
    assert _first(chosen, core, web, free) is free
    assert _first(chosen, core) is core
    assert _first(chosen) is chosen


def _chosen(ending: Ending, *live: Any, statements: Any = (), **marks: Any) -> Any:
    return rules.choose_root(ending, timeline(**marks), statements, live)


def test_the_root_of_each_outcome() -> None:
    one = sighting(50)
    assert _chosen(Ending(outcome="succeeded"), one) is None
    told = _chosen(FAILED, one)
    assert (told.root, told.named_by, told.wrapper, told.separate) == (one, one, None, ())
    assert _chosen(FAILED) is None
    assert _chosen(FAILED, sighting(weight="none"), sighting(step=step(inner=True))) is None
    assert _chosen(Ending(outcome="failed", after=50), one) is None
    assert _chosen(Ending(outcome="failed", after=49), one).root is one
    assert _chosen(Ending(outcome="unknown"), one).root is one
    assert _chosen(Ending(outcome="unknown"), one, conclude=[mark(49)]).root is one
    assert _chosen(Ending(outcome="unknown"), one, conclude=[mark(50)]) is None
    assert _chosen(Ending(outcome="unknown"), one, close=[mark(60, "passed")]) is None
    assert _chosen(Ending(outcome="unknown"), one, close=[mark(60, "failed")]).root is one
    assert _chosen(Ending(outcome="unknown"), sighting(weight="soft")) is None
    assert _chosen(Ending(outcome="failed"), sighting(weight="soft")).root.weight == "soft"


def test_what_ended_an_aborted_build_is_its_root() -> None:
    ending = Ending(outcome="aborted")
    limit = sighting(60, failure_outcome="aborted")
    assert _chosen(ending, sighting(10), limit).root is limit
    assert _chosen(ending, sighting(10)) is None
    left = sighting(20, failure_outcome="aborted", step=step(followed=True))
    assert _chosen(ending, left, limit).named_by is limit
    assert _chosen(ending, left).root is left
    assert _chosen(ending, sighting(60, failure_outcome="aborted", weight="soft")) is None


def test_statements_of_an_earlier_build_do_not_count() -> None:
    early, late = sighting(50, failure_id="two"), sighting(60)
    said = statement(70, [late])
    assert _chosen(FAILED, early, late, statements=[said]).root is late
    assert _chosen(Ending(outcome="failed", after=40), early, late, statements=[statement(40, [late])]).root is early


def test_a_choice_tells_its_wrapper_and_what_is_separate() -> None:
    wrapper = sighting(48, failure_id="outer", failure_wrapper=True)
    one, other = sighting(50), sighting(70, failure_id="two", lane="b")
    told = _chosen(FAILED, wrapper, one, other, statements=[statement(55, [one, wrapper]), statement(75, [other])])
    assert (told.root, told.wrapper, told.separate) == (one, wrapper, (other,))


def test_a_summary_that_a_statement_holds_leads_to_its_first_place() -> None:
    own = step()
    count, first = sighting(50, signature_summary=True, step=own), sighting(20, step=own)
    assert _chosen(FAILED, first, count, statements=[statement(60, [count], step=own)]).root is first
