"""The weights against a table of fact sets with the cause that a practitioner would put first (tests/diagnosis/weights.yaml)."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from logdoctor.catalogue.vetting import known_facts
from logdoctor.diagnosis.causes import rank_causes
from logdoctor.model import FailureId
from tests.support import TESTS, catalogue

TABLE = yaml.safe_load((TESTS / "diagnosis" / "weights.yaml").read_text(encoding="utf-8"))
CASES = [
    pytest.param(failure, case, id=f"{failure}-{number}")
    for failure, cases in TABLE["failures"].items()
    for number, case in enumerate(cases, start=1)
]
# Several causes that no fact tells apart so far: only the checks do.
ONLY_CHECKS = {
    "deploy-migration-failed",
    "deploy-second-factor-required",
    "deploy-state-locked",
    "package-bundle-too-large",
}


@pytest.mark.parametrize(("failure", "case"), CASES)
def test_the_expected_cause_comes_first(failure: str, case: dict[str, Any]) -> None:
    entry = catalogue().failure(FailureId(failure))
    expected = case["first"] if isinstance(case["first"], list) else [case["first"]]
    ranked, _ = rank_causes(entry, case.get("facts", {}), case.get("answers", {}))
    rest = max((r.share for r in ranked if r.cause.id not in expected), default=0.0)
    assert ranked[0].cause.id in expected, {r.cause.id: round(r.share, 3) for r in ranked}
    assert ranked[0].share > rest


@pytest.mark.parametrize(("failure", "case"), CASES)
def test_the_table_names_what_exists(failure: str, case: dict[str, Any]) -> None:
    entry = catalogue().failure(FailureId(failure))
    expected = case["first"] if isinstance(case["first"], list) else [case["first"]]
    assert case.get("facts", {}).keys() <= set(known_facts(catalogue(), entry))
    assert case.get("answers", {}).keys() <= {check.id for check in entry.checks}
    assert set(expected) < {cause.id for cause in entry.causes}


def test_the_table_is_large_and_says_where_it_is_from() -> None:
    assert TABLE["source"] == "common practice, no source"
    assert len(CASES) >= 80
    assert len(TABLE["failures"]) >= 35


def test_failures_with_several_causes_have_checks_and_clues() -> None:
    several = [f for f in catalogue() if len(f.causes) > 1]
    assert [f.id for f in several if not f.checks] == []
    assert {f.id for f in several if not any(c.clues for c in f.causes)} <= ONLY_CHECKS
