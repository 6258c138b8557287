"""Every kept log gets its expected verdict: outputs of real tools (fixtures/lab) and hand-made ones (fixtures/logs).

A fixture is NAME.log with NAME.yaml beside it: failure, line, phase and outcome, and in `also` other failures that are right, too.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from logdoctor.model import Verdict
from tests.support import FIXTURES, verdict_of

NAMES = sorted(p for p in FIXTURES.rglob("*.log"))
OPEN = yaml.safe_load((FIXTURES / "open.yaml").read_text())
LINES_OFF = 2
SHOWN = 5


@cache
def verdict(path: Path) -> Verdict:
    return verdict_of(path.read_bytes())


def expected(path: Path) -> dict[str, Any]:
    data: dict[str, Any] = yaml.safe_load(path.with_suffix(".yaml").read_text())
    return data


def params(kind: str, *, failed: bool | None = None) -> list[Any]:
    """The fixtures (all, those with a root, or those without), the open ones marked as such."""
    found = []
    for path in NAMES:
        if failed is not None and bool(expected(path).get("failure")) != failed:
            continue
        reason = OPEN.get(kind, {}).get(path.stem)
        marks = [pytest.mark.xfail(reason=reason, strict=True)] if reason else []
        found.append(pytest.param(path, id=path.stem, marks=marks))
    return found


def test_there_are_many_fixtures_and_each_has_an_expectation() -> None:
    assert len(NAMES) > 1000
    assert [p.name for p in NAMES if not p.with_suffix(".yaml").is_file()] == []
    assert {name for kind in OPEN.values() for name in kind} <= {p.stem for p in NAMES}


@pytest.mark.parametrize("path", params("outcome"))
def test_outcome(path: Path) -> None:
    assert verdict(path).outcome == expected(path)["outcome"]


@pytest.mark.parametrize("path", params("failure", failed=True))
def test_failure_and_phase(path: Path) -> None:
    want, root = expected(path), verdict(path).root
    assert root is not None
    assert root.failure.id in {want["failure"], *(want.get("also") or [])}
    if root.failure.id == want["failure"]:
        assert root.failure.phase == want["phase"]


@pytest.mark.parametrize("path", params("line", failed=True))
def test_line(path: Path) -> None:
    root = verdict(path).root
    assert root is not None
    assert abs(root.line - expected(path)["line"]) <= LINES_OFF


@pytest.mark.parametrize("path", params("unknown", failed=False))
def test_nothing_is_blamed_that_is_not_to_blame(path: Path) -> None:
    """A succeeded log has no root; an unknown failure none but a last resort, and its line is among the few shown."""
    want, root = expected(path), verdict(path).root
    if want["outcome"] == "succeeded":
        assert root is None
        return
    assert root is None or root.failure.stand_in == "last"
    shown = [line.line for line in verdict(path).worth_reading]
    assert len(shown) <= SHOWN
    if want.get("line"):
        assert any(abs(line - want["line"]) <= 1 for line in shown)
