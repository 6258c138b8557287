"""Answers given with a log: they rank the causes anew, and those that do not fit the failure are told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.intake import open_log
from tests.support import diagnoser

if TYPE_CHECKING:
    from logdoctor.model import Verdict

FORBIDDEN = (
    "+ mvn -B deploy\n[INFO] Scanning for projects...\n[INFO] BUILD FAILURE\n"
    "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-deploy-plugin:3.1.1:deploy (default-deploy) on project fares: "
    "Failed to deploy artifacts: Could not transfer artifact example.brackwater:fares:jar:1.4.0 from/to releases "
    "(https://repo.brackwater.example/maven/releases): status code: 403, reason phrase: Forbidden (403) -> [Help 1]\n"
)


def verdict(text: str, answers: dict[str, bool]) -> Verdict:
    with open_log(text.encode(), name="test.log") as log:
        return diagnoser().diagnose(log, answers=answers)


def test_an_answer_puts_another_cause_first_and_its_check_is_gone() -> None:
    plain = verdict(FORBIDDEN, {}).root
    told = verdict(FORBIDDEN, {"version-there-already": True}).root
    assert plain is not None
    assert told is not None
    assert plain.causes[0].cause.id == "write-right-missing"
    assert told.causes[0].cause.id == "redeploy-off-told-as-403"
    assert "version-there-already" in {n.check.id for n in plain.next_checks}
    assert "version-there-already" not in {n.check.id for n in told.next_checks}
    assert verdict(FORBIDDEN, {"version-there-already": True}).notices == ()


def test_an_answer_to_a_check_of_another_failure_is_told() -> None:
    found = verdict(FORBIDDEN, {"no-such-check": True, "version-there-already": False})
    assert len(found.notices) == 1
    assert "no-such-check" in found.notices[0]
    assert "deploy-forbidden" in found.notices[0]
    assert "version-there-already" in found.notices[0]


def test_an_answer_without_a_failure_is_told() -> None:
    found = verdict("+ echo hello\nhello\nFinished: SUCCESS\n", {"some-check": True})
    assert [n for n in found.notices if "some-check" in n]
