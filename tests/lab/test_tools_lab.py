"""Runs the tools in their set-ups, checks what they print against the tables, and refreshes the fixtures when asked.

The tables say what each log must show; a tool that is neither here nor to be had from its registry is skipped.
"""

from __future__ import annotations

import collections
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.lab import (
    cargo_runs,
    git_checkout,
    git_workspace,
    go_runs,
    npm_install,
    npm_publish,
    npm_yarn,
    other_clusters,
    other_compilers,
    other_fine,
    other_jvm,
    other_languages,
    other_shell,
    other_tests,
    pip_install,
    pip_other,
)
from tests.lab.other_support import Log, MissingToolError, Scenario, keep, perform, problems
from tests.lab.other_tools import Chest
from tests.lab.rule_server_tls import Authority

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.lab

_TABLES = (git_checkout, git_workspace, npm_install, npm_publish, npm_yarn, pip_install, pip_other, go_runs, cargo_runs,
           other_compilers, other_shell, other_tests, other_clusters, other_jvm, other_languages, other_fine)  # fmt: skip
_SCENARIOS = [scenario for table in _TABLES for scenario in table.SCENARIOS]
# Runs that must have been executed where the tools of a build machine (git, node, python, go, cargo, gcc) are there.
_FLOOR = 150
_executed: list[Log] = []
Runs = dict[int, Future[Log]]


def _ids() -> list[str]:
    seen: collections.Counter[str] = collections.Counter()
    names = []
    for scenario in _SCENARIOS:
        seen[scenario.name] += 1
        names.append(scenario.name if seen[scenario.name] == 1 else f"{scenario.name}-{seen[scenario.name]}")
    return names


@pytest.fixture(scope="session")
def runs(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Runs]:
    """The chosen scenarios, three at a time: most of them wait for a client that waits."""
    authority = Authority(folder=tmp_path_factory.mktemp("authority")).make()
    authority.issue("localhost")
    chest = Chest.default()
    chosen = [
        item.callspec.params["scenario"]
        for item in request.session.items
        if "scenario" in getattr(getattr(item, "callspec", None), "params", {}) and item.path == Path(__file__)
    ]
    with ThreadPoolExecutor(max_workers=3) as pool:
        yield {id(each): pool.submit(perform, each, chest, authority) for each in chosen if isinstance(each, Scenario)}
        pool.shutdown(cancel_futures=True)


@pytest.mark.parametrize("scenario", _SCENARIOS, ids=_ids())
def test_tool_prints_what_the_table_says(scenario: Scenario, runs: Runs, refresh_fixtures: bool) -> None:
    try:
        log = runs[id(scenario)].result()
    except MissingToolError as reason:
        pytest.skip(str(reason))
    assert problems(scenario, log) == [], log.text
    _executed.append(log)
    if refresh_fixtures:
        keep(log)


def test_enough_runs_were_executed(request: pytest.FixtureRequest) -> None:
    """A lab that skipped everything proves nothing; a chosen part of the lab has no floor."""
    chosen = sum("test_tool_prints" in item.name for item in request.session.items)
    if chosen < len(_SCENARIOS):
        pytest.skip("only a part of the lab was asked for")
    assert len(_executed) >= _FLOOR


def test_no_two_runs_share_a_fixture() -> None:
    stems = collections.Counter(log.stem for log in _executed)
    assert [stem for stem, count in stems.items() if count > 1] == []


def test_every_expected_failure_is_in_the_catalogue() -> None:
    knowledge = Path(__file__).resolve().parents[2] / "knowledge"
    known = {f"{path.parent.name}-{path.stem}" for path in knowledge.glob("*/*.yaml")}
    wanted = {scenario.failure for scenario in _SCENARIOS if scenario.failure}
    assert wanted - known == set()
