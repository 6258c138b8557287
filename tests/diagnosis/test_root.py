from __future__ import annotations

import pytest

from tests.support import root_of, verdict_of

GOAL = "[INFO] --- maven-{plugin}-plugin:3.1.0:{goal} (default-{goal}) @ {module} ---\n"
FAILED = (
    "[INFO] BUILD FAILURE\n"
    "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-{plugin}-plugin:3.1.0:{goal} (default-{goal})"
    " on project {module}: {why} -> [Help 1]\n"
)


def goal(plugin: str, name: str, module: str = "fares") -> str:
    return GOAL.format(plugin=plugin, goal=name, module=module)


def failed(plugin: str, name: str, why: str, module: str = "fares") -> str:
    return FAILED.format(plugin=plugin, goal=name, why=why, module=module)


FORBIDDEN = (
    "Could not transfer artifact example.brackwater:fares:jar:1.4.0 from/to releases"
    " (https://repo.brackwater.example/maven/releases): status code: 403, reason phrase: Forbidden (403)"
)
FORBIDDEN_READ = (
    "Failed to retrieve remote metadata example.brackwater:fares/maven-metadata.xml: Could not transfer metadata"
    " example.brackwater:fares/maven-metadata.xml from/to releases (https://repo.brackwater.example/maven/releases):"
    " status code: 403, reason phrase: Forbidden (403)"
)


def test_same_words_on_upload_are_a_deploy_failure() -> None:
    log = goal("deploy", "deploy") + failed("deploy", "deploy", f"Failed to deploy artifacts: {FORBIDDEN}")
    assert root_of(log) == ("deploy-forbidden", 3)


def test_same_words_on_download_are_a_resolve_failure() -> None:
    log = goal("compiler", "compile") + failed("compiler", "compile", f"Could not resolve dependencies: {FORBIDDEN}")
    assert root_of(log) == ("resolve-forbidden", 3)


def test_read_made_by_an_upload_goal_is_a_deploy_failure() -> None:
    verdict = verdict_of(goal("deploy", "deploy") + failed("deploy", "deploy", FORBIDDEN_READ))
    assert verdict.root is not None
    assert (verdict.root.failure.id, verdict.root.facts["request"]) == ("deploy-forbidden", "read")


def test_reason_inside_a_wrapper_is_the_root() -> None:
    log = (
        "[INFO] Scanning for projects...\n"
        "[ERROR] Plugin org.apache.maven.plugins:maven-clean-plugin:3.2.0 or one of its dependencies could not be resolved:"
        " Failed to read artifact descriptor for org.apache.maven.plugins:maven-clean-plugin:jar:3.2.0: Could not transfer"
        " artifact org.apache.maven.plugins:maven-clean-plugin:pom:3.2.0 from/to brackwater"
        " (https://repo.brackwater.example/maven/public): status code: 401, reason phrase: Unauthorized (401) -> [Help 1]\n"
    )
    verdict = verdict_of(log)
    assert verdict.root is not None
    assert verdict.root.failure.id == "resolve-unauthorized"
    assert verdict.root.facts["wrapper"] == "resolve-plugin-not-found"
    assert [(f.failure.id, f.role) for f in verdict.others] == [("resolve-plugin-not-found", "follow-on")]


def test_wrapper_around_a_plain_not_found_is_the_root_itself() -> None:
    log = (
        "[INFO] Scanning for projects...\n"
        "[ERROR] Plugin example.brackwater:fares-maven-plugin:1.0 or one of its dependencies could not be resolved:"
        " Could not find artifact example.brackwater:fares-maven-plugin:jar:1.0 in brackwater"
        " (https://repo.brackwater.example/maven/public) -> [Help 1]\n"
    )
    assert root_of(log) == ("resolve-plugin-not-found", 2)


def test_first_compiler_error_is_the_line() -> None:
    errors = "".join(
        f"[ERROR] /home/ci/agent/work/fares/src/main/java/Fare.java:[{n},8] cannot find symbol\n" for n in (12, 30)
    )
    log = (
        goal("compiler", "compile")
        + "[INFO] -------------------------------------------------------------\n[ERROR] COMPILATION ERROR : \n"
        + errors
        + failed("compiler", "compile", "Compilation failure: Compilation failure:")
        + errors
    )
    verdict = verdict_of(log)
    assert verdict.root is not None
    assert (verdict.root.failure.id, verdict.root.line) == ("compile-symbol-not-found", 4)
    assert verdict.root.items_total == 2
    assert [item.line for item in verdict.root.items] == [12, 30]


def test_stand_in_loses_to_a_specific_finding() -> None:
    log = (
        "+ git clone https://git.brackwater.example/fares.git\n"
        "fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\n"
        "ERROR: script returned exit code 128\nFinished: FAILURE\n"
    )
    assert root_of(log) == ("checkout-auth-failed", 2)


def test_nothing_but_an_exit_code_is_a_last_resort_and_unknown() -> None:
    verdict = verdict_of(
        "+ ./scripts/prepare.sh\nreading the timetable\nbad moon rising: giving up\nERROR: script returned exit code 3\nFinished: FAILURE\n"
    )
    assert verdict.root is not None
    assert verdict.root.failure.stand_in == "last"
    assert any("giving up" in line.text for line in verdict.worth_reading)


@pytest.mark.parametrize(
    "noise",
    [
        pytest.param(
            "+ echo \"fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\"\n",
            id="an echoed command",
        ),
        pytest.param(
            "Commit message: \"handle fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\"\n",
            id="a commit message",
        ),
        pytest.param(
            "diff --git a/README.md b/README.md\n@@ -1,2 +1,2 @@\n-old\n+fatal: Authentication failed for 'https://git.brackwater.example/x.git/'\n",
            id="a diff",
        ),
    ],
)
def test_what_others_print_is_no_root(noise: str) -> None:
    verdict = verdict_of(noise + "+ ./run\nERROR: script returned exit code 3\nFinished: FAILURE\n")
    assert verdict.root is not None
    assert verdict.root.failure.id == "agent-step-exit-code"


def test_error_logged_by_a_passing_test_is_background() -> None:
    log = (
        goal("surefire", "test") + "[INFO]  T E S T S\n[INFO] Running example.brackwater.FareTest\n"
        "fatal: unable to access 'https://git.brackwater.example/fares.git/': The requested URL returned error: 403\n"
        "[ERROR] example.brackwater.FareTest.roundsDown -- Time elapsed: 0.02 s <<< FAILURE!\n"
        "[ERROR] Tests run: 3, Failures: 1, Errors: 0, Skipped: 0\n"
        + failed("surefire", "test", "There are test failures.")
    )
    assert root_of(log) == ("test-failed", 5)


def test_another_module_going_on_is_no_recovery() -> None:
    log = (
        "[INFO] Building fares-core 1.0 [1/2]\n"
        + goal("compiler", "compile", "fares-core")
        + "[ERROR] COMPILATION ERROR : \n"
        "[ERROR] /home/ci/agent/work/fares/fares-core/src/main/java/Fare.java:[12,8] cannot find symbol\n"
        "[INFO] Building fares-web 1.0 [2/2]\n"
        + goal("jar", "jar", "fares-web")
        + failed("compiler", "compile", "Compilation failure", "fares-core")
    )
    assert root_of(log) == ("compile-symbol-not-found", 4)


def test_download_that_worked_at_the_second_try_is_no_root() -> None:
    log = (
        "+ pip install -r requirements.txt\n"
        "WARNING: Retrying (Retry(total=4, connect=None, read=None, redirect=None, status=None)) after connection broken by"
        " 'ConnectTimeoutError(<pip._vendor.urllib3.connection.HTTPSConnection object at 0x7f>, 'Connection to"
        " pypi.brackwater.example timed out. (connect timeout=15)')': /simple/fares/\n"
        "Successfully installed fares-1.0\n+ ./run\nERROR: script returned exit code 3\nFinished: FAILURE\n"
    )
    assert root_of(log) == ("agent-step-exit-code", 5)


@pytest.mark.parametrize(
    ("command", "failure"),
    [
        ("curl -fsS -O https://repo.brackwater.example/files/fares.zip", "resolve-forbidden"),
        ("curl -fsS -T fares.zip https://repo.brackwater.example/files/", "deploy-forbidden"),
    ],
)
def test_direction_of_a_plain_client_follows_its_command(command: str, failure: str) -> None:
    assert root_of(f"+ {command}\ncurl: (22) The requested URL returned error: 403\n") == (failure, 2)
