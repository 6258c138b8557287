from __future__ import annotations

import pytest

from tests.support import verdict_of

MAVEN_OK = "[INFO] Scanning for projects...\n[INFO] BUILD SUCCESS\n"
MAVEN_BAD = (
    "[INFO] Scanning for projects...\n"
    "[INFO] --- maven-compiler-plugin:3.11.0:compile (default-compile) @ fares ---\n"
    "[ERROR] COMPILATION ERROR : \n"
    "[ERROR] /home/ci/agent/work/fares/src/main/java/Fare.java:[12,8] cannot find symbol\n"
    "[INFO] BUILD FAILURE\n"
    "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-compiler-plugin:3.11.0:compile (default-compile)"
    " on project fares: Compilation failure\n"
)


@pytest.mark.parametrize(
    ("log", "outcome"),
    [
        pytest.param(MAVEN_OK, "succeeded", id="the tool's last word"),
        pytest.param(MAVEN_BAD, "failed", id="the tool's last word is bad"),
        pytest.param(MAVEN_BAD + "Finished: SUCCESS\n", "succeeded", id="the CI server's closing line wins"),
        pytest.param(MAVEN_OK + "Finished: FAILURE\n", "failed", id="the CI server's closing line wins over success"),
        pytest.param(MAVEN_OK + "Finished: UNSTABLE\n", "failed", id="unstable counts as failed"),
        pytest.param(MAVEN_OK + "Finished: ABORTED\n", "aborted", id="aborted"),
        pytest.param(MAVEN_OK + "ERROR: Job failed: exit code 1\n", "failed", id="job failed"),
        pytest.param(MAVEN_BAD + "+ mvn -B package\n" + MAVEN_OK, "succeeded", id="a later try worked"),
        pytest.param("hello\nworld\n", "unknown", id="nothing that closes"),
        pytest.param("", "unknown", id="empty"),
        pytest.param("+ ./run.sh\n##[error]Process completed with exit code 3.\n", "failed", id="a step's end"),
        pytest.param(
            "+ ./run.sh\n##[error]Process completed with exit code 3.\nPost job cleanup.\n",
            "failed",
            id="cleaning up after",
        ),
    ],
)
def test_outcome_follows_the_closing_lines(log: str, outcome: str) -> None:
    assert verdict_of(log).outcome == outcome


def test_succeeded_log_has_no_root() -> None:
    verdict = verdict_of(MAVEN_BAD + "Finished: SUCCESS\n")
    assert verdict.root is None
    assert verdict.others
    assert {f.role for f in verdict.others} <= {"recovered", "background"}


def test_failure_without_closing_line_is_the_tool_s_last_statement() -> None:
    log = "+ git clone https://git.brackwater.example/fares.git\nfatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\n"
    assert verdict_of(log).outcome == "failed"


def test_failure_left_behind_by_a_later_step_is_no_failure() -> None:
    log = (
        "+ git describe --tags\nfatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\n"
        "+ mvn -B package\n" + MAVEN_OK
    )
    verdict = verdict_of(log)
    assert (verdict.outcome, verdict.root) == ("succeeded", None)
