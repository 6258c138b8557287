from __future__ import annotations

import pytest

from tests.support import verdict_of

FAILED = "[ERROR] Failed to execute goal x:y:1:z (d) on project fares: There are test failures.\nFinished: FAILURE\n"


@pytest.mark.parametrize(
    ("line", "where"),
    [
        (
            "[ERROR] Please refer to /home/ci/agent/work/fares/target/surefire-reports for the individual test results.",
            "/home/ci/agent/work/fares/target/surefire-reports",
        ),
        (
            "npm error A complete log of this run can be found in: /home/ci/.npm/_logs/2026-03-02T10_11_12_345Z-debug-0.log",
            "/home/ci/.npm/_logs/2026-03-02T10_11_12_345Z-debug-0.log",
        ),
        (
            "> There were failing tests. See the report at: file:///home/ci/agent/work/fares/build/reports/tests/test/index.html",
            "home/ci/agent/work/fares/build/reports/tests/test/index.html",
        ),
    ],
)
def test_other_places_that_the_log_names_are_told(line: str, where: str) -> None:
    verdict = verdict_of(f"{line}\n{FAILED}")
    assert any(where in place.where for place in verdict.elsewhere)


def test_nothing_is_elsewhere_when_the_build_succeeded() -> None:
    line = "See the report at: file:///home/ci/agent/work/fares/build/reports/tests/test/index.html"
    assert verdict_of(f"{line}\nFinished: SUCCESS\n").elsewhere == ()


@pytest.mark.parametrize(
    ("log", "cut"),
    [
        pytest.param("one\ntwo\n", "none", id="whole"),
        pytest.param("Skipping 5,061 KB..\none\ntwo\nthree\nfour\n", "head", id="skipped at the beginning"),
        pytest.param("one\ntwo\n" * 5 + "[...log truncated...]\n" + "three\nfour\n" * 5, "middle", id="in the middle"),
        pytest.param("one\ntwo\n" * 5 + "Job's log exceeded limit of 4194304 bytes.\n", "tail", id="at the end"),
        pytest.param("\tat example.brackwater.Fare.of(Fare.java:12)\none\n", "head", id="begins inside a stack trace"),
    ],
)
def test_cut_logs_are_recognised(log: str, cut: str) -> None:
    assert verdict_of(log).source.cut == cut


def test_child_build_is_named() -> None:
    log = "Starting building: fares-integration #412\nfares-integration #412 completed with status FAILURE\nFinished: FAILURE\n"
    verdict = verdict_of(log)
    assert verdict.root is not None
    assert verdict.root.failure.id == "agent-downstream-failed"
    assert "fares-integration #412" in verdict.headline
