"""Runs real Maven versions in set-ups made to fail, and checks that each prints what its fixture stands for."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest
import yaml

from tests.lab import maven_lab
from tests.lab.maven_lab import FIXTURES, SCENARIOS
from tests.lab.maven_stage import Played, Scenario, play
from tests.lab.scrub import Scrubber, leaks
from tests.support import verdict_of

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.lab

FLOOR = 150
"""Runs that must really have executed where the tools are there."""

NEAR = 2
"""Lines that the pointed-at line may be away from the expected one."""

Runs = dict[str, "Future[Played]"]


@pytest.fixture(scope="session")
def runs(request: pytest.FixtureRequest) -> Iterator[Runs]:
    """Every selected scenario, started once; two run at the same time."""
    if not maven_lab.available():
        pytest.skip("needs Maven, two JDKs and openssl")
    names = {
        item.callspec.id
        for item in request.session.items
        if "runs" in getattr(item, "fixturenames", ()) and hasattr(item, "callspec")
    }
    pool = ThreadPoolExecutor(2)
    yield {each.name: pool.submit(play, each) for each in SCENARIOS if each.name in names}
    pool.shutdown(cancel_futures=True)


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_run_prints_what_its_row_says(scenario: Scenario, runs: Runs, *, refresh_fixtures: bool) -> None:
    played = runs[scenario.name].result()
    assert not maven_lab.problems(scenario, played), played.output[-3000:]
    if refresh_fixtures:
        maven_lab.keep(scenario, played)


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_diagnosis_of_the_run_agrees(scenario: Scenario, runs: Runs) -> None:
    played = runs[scenario.name].result()
    verdict = verdict_of(played.output)
    found = str(verdict.root.failure.id) if verdict.root else None
    assert (found, str(verdict.outcome)) == (scenario.failure, scenario.outcome)
    wanted = played.line_of(scenario.root) if scenario.root else None
    if verdict.root and wanted is not None:
        assert abs(verdict.root.line - wanted) <= NEAR


def test_enough_runs_executed(request: pytest.FixtureRequest, runs: Runs) -> None:
    done = [future.result() for future in runs.values()]
    selected = [item for item in request.session.items if item.name.startswith("test_run_prints_what")]
    if len(selected) < len(SCENARIOS):
        pytest.skip("only some scenarios were selected")
    assert sum(1 for each in done if each.output) >= FLOOR


def test_every_scenario_has_its_fixture_and_every_fixture_its_scenario() -> None:
    kept = {path.stem for path in FIXTURES.glob("maven-*.yaml")}
    assert kept == {each.name for each in SCENARIOS}
    assert {path.stem for path in FIXTURES.glob("maven-*.log")} == kept


def test_names_are_unique() -> None:
    assert len({each.name for each in SCENARIOS}) == len(SCENARIOS)


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_kept_fixture_fits_its_row(scenario: Scenario) -> None:
    expected = yaml.safe_load((FIXTURES / f"{scenario.name}.yaml").read_text(encoding="utf-8"))
    output = (FIXTURES / f"{scenario.name}.log").read_bytes().decode()
    assert leaks(output) == []
    assert (expected["failure"], expected["phase"], expected["outcome"]) == (
        scenario.failure,
        scenario.phase,
        scenario.outcome,
    )
    assert (expected["line"] is None) == (scenario.failure is None)
    if scenario.root:
        played = Played.of_text(output)
        assert expected["line"] == played.line_of(scenario.root)


@pytest.mark.parametrize(
    "text",
    [
        "at /root/.m2/settings.xml",
        "http://127.0.0.1:8081/x",
        "Connect to localhost:8443",
        "https://repo.real-company.com/maven",
        "/tmp/lab-abc/x",
    ],
)
def test_leaks_are_noticed(text: str) -> None:
    assert leaks(text)


def test_scrubber_leaves_no_trace_of_a_server() -> None:
    scrub = Scrubber(ports={40123: "repo.brackwater.example"})
    text = "GET https://127.0.0.1:40123/a failed: Connect to repo.brackwater.example:40123 [repo.brackwater.example/127.0.0.1] failed\n"
    wanted = "GET https://repo.brackwater.example/a failed: Connect to repo.brackwater.example:443 [repo.brackwater.example/192.0.2.40] failed\n"
    assert scrub(text) == wanted
