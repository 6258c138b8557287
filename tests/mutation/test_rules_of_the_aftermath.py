"""Each rule by which later lines clear an earlier error, at its edges; and by which a second try does."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from logdoctor.diagnosis.aftermath import (
    LEADS_TO_AT_ONCE,
    LINES_LOOKED_AT,
    MORE_WORK_LINES,
    WORK_AFTER_PASSING_OVER,
    WORK_LINES,
    failed_later,
)
from logdoctor.diagnosis.outcome import SAID_AT_ONCE, TRIES_AGAIN, tried_again
from tests.mutation.made import mark, sighting, step, timeline

AT = 10
WORK = ["drawing a plate"] * 20
STRONG, WEAK = "the plate was refused", "the plate lies outside the sheet"


class Lines:
    """Stands for the log's reader: the lines after the root."""

    def __init__(self, texts: list[str]) -> None:
        self.texts = texts
        self.asked = 0

    def after(self, _offset: int, count: int) -> list[tuple[int, int]]:
        """Their places."""
        self.asked = count
        return [(at, at + 1) for at in range(min(count, len(self.texts)))]

    def text(self, start: int, _end: int) -> str:
        """One of them."""
        return self.texts[start]


def at(line: int = AT, **more: Any) -> Any:
    told = sighting(line, **{"hit_text": "curl: no such page", "failure_phase": "resolve", **more})
    told.hit.lane, told.hit.offset = told.lane, 0
    return told


def cleared(
    texts: list[str],
    *others: Any,
    root: Any = None,
    named: Any = None,
    wrapper: Any = None,
    closing: int = 200,
    steps: Any = (),
    **marks: Any,
) -> bool:
    root = root or at()
    choice = cast("Any", SimpleNamespace(root=root, named_by=named or root, wrapper=wrapper))
    return failed_later(choice, timeline(steps, **marks), [root, *others], cast("Any", Lines(texts)), closing)


@pytest.mark.parametrize(
    ("text", "enough"), [(STRONG, WORK_LINES), (WEAK, MORE_WORK_LINES), ("ERROR quay", WORK_LINES)]
)
def test_so_much_work_before_another_error(text: str, enough: int) -> None:
    assert cleared([*WORK[:enough], text])
    assert not cleared([*WORK[: enough - 1], text])


def test_work_without_an_error_clears_nothing_that_was_not_passed_over() -> None:
    assert not cleared(WORK)


IGNORED = "curl: no such page, ignored"
GOES_ON_AT_ONCE = "continuing with the old plate"


def test_little_work_clears_what_was_passed_over() -> None:
    ignored = at(hit_text=IGNORED)
    assert cleared(WORK[:WORK_AFTER_PASSING_OVER], root=ignored)
    assert not cleared(WORK[: WORK_AFTER_PASSING_OVER - 1], root=ignored)
    assert cleared(["  drawn"] * WORK_AFTER_PASSING_OVER, root=ignored)
    assert cleared([WORK[0], STRONG], root=ignored)
    assert not cleared([STRONG], root=ignored)
    assert not cleared(["curl: drawing"] * WORK_AFTER_PASSING_OVER, root=ignored)


@pytest.mark.parametrize(("before", "passed_over"), [(0, True), (1, True), (2, False)])
def test_that_it_was_passed_over_is_said_at_once(before: int, passed_over: bool) -> None:
    assert cleared([*WORK[:before], GOES_ON_AT_ONCE, *WORK[:WORK_AFTER_PASSING_OVER]]) is passed_over


def test_a_second_try_passes_it_over_as_well() -> None:
    again = mark(AT + 1)
    again.mark.id = TRIES_AGAIN
    assert cleared(WORK[: WORK_AFTER_PASSING_OVER + 1], repair=[again])
    assert not cleared(WORK[:WORK_AFTER_PASSING_OVER], repair=[again])


@pytest.mark.parametrize(("distance", "clears"), [(1, False), (LEADS_TO_AT_ONCE, False), (LEADS_TO_AT_ONCE + 1, True)])
def test_what_it_led_to_at_once_was_not_passed_over(distance: int, clears: bool) -> None:
    root = at(hit_text=IGNORED, failure_explains=("two",))
    assert cleared(WORK[: WORK_AFTER_PASSING_OVER + 1], at(AT + distance, failure_id="two"), root=root) is clears


def test_from_what_was_passed_over_the_lines_are_counted_not_from_what_it_led_to_later() -> None:
    root, led_to = at(hit_text=IGNORED, failure_explains=("two",)), at(AT + LEADS_TO_AT_ONCE + 1, failure_id="two")
    assert cleared(WORK[: WORK_AFTER_PASSING_OVER + 1], led_to, root=root, closing=led_to.line + 2)


def test_the_last_line_of_the_failure_in_its_lane_tells_that_it_was_passed_over() -> None:
    texts = WORK[: WORK_AFTER_PASSING_OVER + 1]
    assert cleared(texts, at(AT + 5, hit_text=IGNORED))
    assert not cleared(texts, at(AT + 5, hit_text=IGNORED, lane="other"))
    assert not cleared(texts, at(AT + 5, hit_text=IGNORED, failure_id="two"))
    assert not cleared(texts, at(AT + 5), root=at(hit_text=IGNORED))


def test_a_part_of_the_line_said_again_is_no_work() -> None:
    root = at(hit_text="the press reports: no such sheet of paper, ignored")
    assert not cleared(["sheet of paper"] * WORK_AFTER_PASSING_OVER, root=root)
    assert not cleared(["eet of paper"] * WORK_AFTER_PASSING_OVER, root=root)
    assert cleared(["et of paper"] * WORK_AFTER_PASSING_OVER, root=root)


@pytest.mark.parametrize("begin", [" ", "\t"])
def test_what_stands_further_in_belongs_to_the_line_before(begin: str) -> None:
    assert not cleared([*[begin + text for text in WORK], STRONG])


@pytest.mark.parametrize("end", [".", ",", ";", ":"])
def test_prose_is_no_weak_error(end: str) -> None:
    assert not cleared([*WORK[:MORE_WORK_LINES], WEAK + end])
    assert cleared([*WORK[:MORE_WORK_LINES], WEAK])
    assert cleared([*WORK[:MORE_WORK_LINES], STRONG + end])


def test_an_error_is_no_work() -> None:
    assert not cleared([STRONG] * WORK_LINES + [STRONG])


def test_it_goes_on_after_lines_that_do_not_count() -> None:
    skipped = ["    at example.Plate.draw(Plate.java:1)", "Finished: FAILURE", "WARN ink is low", "curl: refused", ""]
    for text in skipped:
        assert not cleared([*[text] * 6, STRONG])
        assert cleared([*WORK[:WORK_LINES], text, STRONG])


at_marks: Any = cleared


@pytest.mark.parametrize("kind", ["conclude", "elsewhere", "skip", "repair"])
def test_lines_that_a_mark_met_do_not_count(kind: str) -> None:
    texts = [*WORK[:WORK_LINES], STRONG]
    assert not at_marks(texts, **{kind: [mark(AT + WORK_LINES + 1)]})
    assert not at_marks(texts, **{kind: [mark(AT + 1)]})
    assert at_marks(texts, **{kind: [mark(AT)]})


@pytest.mark.parametrize(
    ("more", "clears"),
    [
        ({"failure_id": "two"}, True),
        ({"failure_id": "two", "weight": "soft"}, False),
        ({"failure_id": "two", "apart": True}, False),
        ({"failure_id": "two", "signature_summary": True}, False),
        ({"failure_id": "two", "failure_stand_in": "last"}, False),
        ({"failure_id": "two", "failure_stand_in": "general"}, True),
    ],
)
def test_a_known_error_of_another_failure_clears_it(more: dict[str, Any], clears: bool) -> None:
    texts = [*WORK[:WORK_LINES], "the sheet is torn"]
    assert cleared(texts, at(AT + WORK_LINES + 1, **more)) is clears
    assert not cleared(texts[1:], at(AT + WORK_LINES, **more))


def test_a_known_line_that_clears_nothing_does_not_end_the_search() -> None:
    known = at(AT + WORK_LINES + 1, failure_id="two", weight="soft")
    assert cleared([*WORK[:WORK_LINES], "the ink is dry", STRONG], known)
    earlier = at(AT - 5, failure_id="two")
    assert cleared([*WORK[:WORK_LINES], STRONG], earlier)


def test_what_the_root_leads_to_moves_the_beginning() -> None:
    root = at(failure_explains=("two",))
    texts = [*WORK[:WORK_LINES], STRONG]
    assert not cleared(texts, at(AT + 6, failure_id="two"), root=root, closing=AT + 8)
    assert not cleared(texts, at(AT + 6), closing=AT + 8)
    assert not cleared(texts, wrapper=at(AT, failure_id="two"), root=at(), named=at(AT + 196))
    assert not cleared(texts, at(AT + 6, failure_id="two"), wrapper=at(AT, failure_id="two"), closing=AT + 8)
    assert cleared(texts, at(AT + 6, failure_id="two", weight="soft"), closing=AT + 8)
    assert cleared(texts, at(AT + 6, lane="other"), closing=AT + 8)
    assert cleared(texts, at(AT + 8), closing=AT + 8)
    assert cleared(texts, at(AT - 1), closing=AT + 8)


@pytest.mark.parametrize(
    "more",
    [
        {"signature_items": True},
        {"failure_phase": "compile"},
        {"step": step(phase="test"), "failure_phase": "test"},
        {"failure_id": "test-failed"},
        {"failure_stand_in": "general"},
    ],
)
def test_these_are_never_cleared(more: dict[str, Any]) -> None:
    assert cleared([*WORK, STRONG])
    assert not cleared([*WORK, STRONG], root=at(**more))


def test_nothing_from_the_closing_line_on_counts() -> None:
    texts = [*WORK[:WORK_LINES], STRONG]
    assert not cleared(texts, closing=AT + WORK_LINES + 1)
    assert cleared(texts, closing=AT + WORK_LINES + 2)
    assert not cleared(texts, closing=AT)


def test_nor_does_what_is_done_after_the_build() -> None:
    texts = [*WORK[:WORK_LINES], STRONG]
    after = AT + WORK_LINES + 1
    assert not cleared(texts, steps=[step(after, phase="post")])
    assert cleared(texts, steps=[step(after + 1, phase="post")])
    assert cleared(texts, steps=[step(after, phase="deploy")])
    assert cleared(texts, steps=[step(after, phase="post", lane="other")])
    assert cleared(texts, steps=[step(AT, phase="post")])


def test_only_so_many_lines_are_looked_at() -> None:
    lines = Lines([*WORK] * 40)
    root = at()
    choice = cast("Any", SimpleNamespace(root=root, named_by=root, wrapper=None))
    failed_later(choice, timeline(), [root], cast("Any", lines), 10_000)
    assert lines.asked == LINES_LOOKED_AT


@pytest.mark.parametrize(
    ("distance", "said"), [(-1, False), (0, True), (SAID_AT_ONCE, True), (SAID_AT_ONCE + 1, False)]
)
def test_a_second_try_is_announced_at_once(distance: int, said: bool) -> None:
    again = mark(AT + distance)
    again.mark.id = TRIES_AGAIN
    assert tried_again(at(), timeline(repair=[again])) is said
    assert not tried_again(at(), timeline(conclude=[again]))
    again.mark.id = "system/worked-after-all"
    assert not tried_again(at(), timeline(repair=[again]))


def test_a_second_try_in_another_lane_is_of_something_else() -> None:
    again = mark(AT + 1, lane="other")
    again.mark.id = TRIES_AGAIN
    assert not tried_again(at(), timeline(repair=[again]))
    assert tried_again(at(lane="other"), timeline(repair=[again]))
