from __future__ import annotations

from logdoctor.model import Finding
from logdoctor.terminal.answering import Standing
from logdoctor.terminal.wording import change, share_words, sureness
from tests.terminal import made


def finding() -> Finding:
    root = made.VERDICT.root
    assert root is not None
    return root


def test_a_no_moves_the_shares_and_the_check_is_not_asked_again() -> None:
    before = Standing(diagnosed=finding())
    assert before.next_check is not None
    after = before.answered(False)
    assert after.shares_before == {r.cause.id: r.share for r in before.finding.causes}
    assert {r.cause.id: r.share for r in after.finding.causes} != after.shares_before
    assert after.next_check is None or after.next_check.check.id != before.next_check.check.id


def test_cannot_tell_asks_the_next_check_and_leaves_the_order() -> None:
    before = Standing(diagnosed=finding())
    after = before.answered(None)
    assert after.finding.causes == before.finding.causes
    assert [n.check.id for n in after.finding.next_checks] == [n.check.id for n in before.finding.next_checks[1:]]
    assert change(after, str).endswith("The order stays.")


def test_undoing_all_answers_gives_the_diagnosis_again() -> None:
    standing = Standing(diagnosed=finding()).answered(True).answered(None)
    assert standing.undone().undone().finding == finding()
    assert Standing(diagnosed=finding()).undone().given == ()


def test_all_checks_can_be_answered_and_then_none_is_left() -> None:
    standing = Standing(diagnosed=finding())
    for _ in finding().failure.checks:
        standing = standing.answered(None)
    assert standing.next_check is None
    assert standing.answered(True) is standing


def test_the_change_is_told_with_both_shares() -> None:
    before = Standing(diagnosed=finding())
    after = before.answered(False)
    first = after.finding.causes[0]
    told = change(after, str)
    assert told.startswith("You said no: ")
    assert share_words(after.shares_before[first.cause.id]) in told
    assert share_words(first.share) in told


def test_a_share_that_is_not_nothing_is_not_called_nothing() -> None:
    assert [share_words(s) for s in (0.0, 0.004, 0.096, 0.5, 0.996, 1.0)] == ["0%", "<1%", "10%", "50%", ">99%", "100%"]


def test_sureness_speaks_of_the_failure_and_of_the_cause() -> None:
    assert sureness(finding()) == "Failure: known by its wording. Cause: the first of 3 is nearly settled (97%)."
