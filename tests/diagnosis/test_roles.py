from __future__ import annotations

from tests.support import verdict_of

CLOSING = "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-{p}-plugin:3.1.0:{g} (default-{g}) on project {m}: {why}\n"


def roles(log: str) -> dict[str, str]:
    verdict = verdict_of(log)
    found = {str(f.failure.id): f.role for f in verdict.others}
    if verdict.root:
        found[str(verdict.root.failure.id)] = "root"
    return found


def test_second_independent_failure_of_another_module_is_separate() -> None:
    log = (
        "[INFO] Scanning for projects...\n"
        "[INFO] --- maven-compiler-plugin:3.1.0:compile (default-compile) @ fares-core ---\n"
        "[ERROR] COMPILATION ERROR : \n[ERROR] /home/ci/fares-core/Fare.java:[12,8] cannot find symbol\n"
        "[INFO] --- maven-war-plugin:3.1.0:war (default-war) @ fares-web ---\n"
        "[INFO] BUILD FAILURE\n"
        + CLOSING.format(p="compiler", g="compile", m="fares-core", why="Compilation failure")
        + "[ERROR] /home/ci/fares-core/Fare.java:[12,8] cannot find symbol\n[ERROR] -> [Help 1]\n"
        + CLOSING.format(
            p="war",
            g="war",
            m="fares-web",
            why="Error assembling WAR: webxml attribute is required (or pre-existing WEB-INF/web.xml if executing in update mode)",
        )
    )
    found = roles(log)
    assert found["compile-symbol-not-found"] == "root"
    assert found["package-descriptor-missing"] == "separate"
    separate = [f for f in verdict_of(log).others if f.role == "separate"]
    assert separate[0].causes


def test_exit_code_after_the_root_is_a_follow_on() -> None:
    log = "+ git fetch\nfatal: couldn't find remote ref main\nERROR: script returned exit code 128\nFinished: FAILURE\n"
    assert roles(log) == {"checkout-ref-not-found": "root", "agent-step-exit-code": "follow-on"}


def test_failure_of_a_passed_step_recovered() -> None:
    log = "+ git fetch origin old\nfatal: couldn't find remote ref old\n+ git fetch origin main\n+ ./run\nERROR: script returned exit code 3\nFinished: FAILURE\n"
    assert roles(log)["checkout-ref-not-found"] == "recovered"


def test_missing_credential_warned_of_before_a_refused_checkout_is_the_root() -> None:
    log = (
        'Warning: CredentialId "ferries-git" could not be found.\n'
        "Cloning the remote Git repository\n > git fetch --tags -- https://git.brackwater.example/fares.git\n"
        "stderr: fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\n"
        "ERROR: Error cloning remote repo 'origin'\nFinished: FAILURE\n"
    )
    assert roles(log)["agent-credential-missing"] == "root"
    assert roles(log)["checkout-auth-failed"] == "follow-on"


def test_same_wording_many_times_is_one_finding_with_a_count() -> None:
    log = (
        "+ git fetch\n"
        + "warning: Could not find credentials entry with ID 'x'\n" * 7
        + "fatal: couldn't find remote ref main\nFinished: FAILURE\n"
    )
    verdict = verdict_of(log)
    counts = [f.count for f in verdict.others if f.failure.id == "agent-credential-missing"]
    assert counts in ([7], [])
    assert len(verdict.others) <= 3


def test_aborted_log_s_root_is_what_ended_it() -> None:
    log = (
        "+ npm test\nnpm ERR! code ELIFECYCLE\n"
        "Build timed out (after 60 minutes). Marking the build as aborted.\nBuild was aborted\nFinished: ABORTED\n"
    )
    verdict = verdict_of(log)
    assert verdict.root is not None
    assert (verdict.outcome, verdict.root.failure.id, verdict.root.line) == ("aborted", "agent-build-timed-out", 3)


def test_root_of_parallel_branches_is_in_the_branch_that_failed() -> None:
    log = (
        "[linux] + npm ci\n[windows] + npm ci\n[windows] npm ERR! code E401\n"
        "[windows] npm ERR! 401 Unauthorized - GET https://npm.brackwater.example/fares\n[linux] added 12 packages in 3s\n"
        "[linux] + npm test\n[windows] ERROR: script returned exit code 1\nFinished: FAILURE\n"
    )
    verdict = verdict_of(log)
    assert verdict.root is not None
    assert (verdict.root.failure.id, verdict.root.line) == ("resolve-unauthorized", 4)
