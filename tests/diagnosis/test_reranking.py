"""Ranking anew gives what a diagnosis with the same answers gives."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logdoctor.diagnosis import rerank
from logdoctor.intake import open_log
from logdoctor.model import Finding
from tests.support import ROOT, diagnoser

LOG = ROOT / "sample_logs" / "fares-deploy-403.log"


def root(answers: dict[str, bool]) -> Finding:
    with open_log(LOG) as log:
        found = diagnoser().diagnose(log, answers=answers).root
    assert found is not None
    return found


@pytest.mark.parametrize(
    "answers",
    [
        {},
        {"browse-with-that-account": False},
        {"browse-with-that-account": True, "same-account-uploads-elsewhere": True},
        {"version-there-already": True},
    ],
)
def test_it_equals_a_diagnosis_with_the_same_answers(answers: dict[str, bool]) -> None:
    assert rerank(root({}), answers) == root(answers)


def test_answers_are_taken_back_by_leaving_them_out() -> None:
    assert rerank(root({"version-there-already": True}), {}) == root({})


def test_a_check_set_aside_is_not_asked_and_moves_nothing() -> None:
    plain = root({})
    first = plain.next_checks[0].check.id
    aside = rerank(plain, {}, set_aside=[first])
    assert first not in {n.check.id for n in aside.next_checks}
    assert replace(aside, next_checks=plain.next_checks) == plain
