"""What is whose: failures that lie side by side, one short log each."""

from __future__ import annotations

import pytest

from tests.support import root_of, verdict_of

CASES = [
    pytest.param(
        "Still waiting\nCannot contact agent-7: java.lang.InterruptedException\nFinished: FAILURE\n",
        "agent-connection-lost",
        id="an agent lost under a running build",
    ),
    pytest.param(
        "+ npm test\nReceived SIGTERM\nAborted by Orla Benbow\nFinished: ABORTED\n",
        "agent-build-cancelled",
        id="a line that a person cancelled it",
    ),
    pytest.param(
        "+ ./run-tests\nERROR: script returned exit code 137\nFinished: FAILURE\n",
        "agent-memory-killed",
        id="137 without a word",
    ),
    pytest.param(
        "+ ./tilepack\nERROR: script returned exit code 139\nFinished: FAILURE\n", "agent-tool-crashed", id="139"
    ),
    pytest.param(
        "+ ./tilepack\nERROR: script returned exit code 134\nFinished: FAILURE\n", "agent-tool-crashed", id="134"
    ),
    pytest.param(
        "+ ./serve\nERROR: script returned exit code 143\nFinished: FAILURE\n",
        "agent-tool-process-vanished",
        id="a bare 143",
    ),
    pytest.param(
        "+ ./deploy.sh\nERROR: script returned exit code 126\nFinished: FAILURE\n",
        "agent-script-not-executable",
        id="126",
    ),
    pytest.param(
        "+ npm install left-tariff@9.9.9\nnpm ERR! code ETARGET\nnpm ERR! notarget No matching version found for left-tariff@9.9.9.\n",
        "resolve-version-not-found",
        id="the message proves that the package is there",
    ),
    pytest.param(
        "+ npm install left-tariff\nnpm ERR! code E404\nnpm ERR! 404 Not Found - GET https://npm.brackwater.example/left-tariff - Not found\n",
        "resolve-artifact-not-found",
        id="nothing proves that the package is there",
    ),
    pytest.param(
        "+ pip install tariff==9\nERROR: Could not find a version that satisfies the requirement tariff==9 (from versions: 1.0, 2.0)\nERROR: No matching distribution found for tariff==9\n",
        "resolve-version-not-found",
        id="versions listed",
    ),
    pytest.param(
        "+ pip install tariff==9\nERROR: Could not find a version that satisfies the requirement tariff==9 (from versions: none)\nERROR: No matching distribution found for tariff==9\n",
        "resolve-artifact-not-found",
        id="no versions listed",
    ),
    pytest.param(
        "+ tsc -p .\nsrc/fare.ts(3,20): error TS2307: Cannot find module './zone' or its corresponding type declarations.\n",
        "compile-symbol-not-found",
        id="a relative path not found by the type checker",
    ),
    pytest.param(
        "+ tsc -p .\nsrc/fare.ts(3,20): error TS2307: Cannot find module 'zone-table' or its corresponding type declarations.\n",
        "setup-node-module-missing",
        id="a bare name not found by the type checker",
    ),
    pytest.param(
        "+ tsc -p .\nsrc/a.ts(3,5): error TS2322: Type 'string' is not assignable to type 'number'.\nsrc/a.ts(9,5): error TS2304: Cannot find name 'zone'.\n",
        "compile-source-error",
        id="the first error decides: type",
    ),
    pytest.param(
        "+ tsc -p .\nsrc/a.ts(3,5): error TS2304: Cannot find name 'zone'.\nsrc/a.ts(9,5): error TS2322: Type 'string' is not assignable to type 'number'.\n",
        "compile-symbol-not-found",
        id="the first error decides: name",
    ),
    pytest.param(
        "+ pytest\n==== ERRORS ====\n____ ERROR collecting tests/test_fares.py ____\nImportError while importing test module '/ci/tests/test_fares.py'.\nE   ModuleNotFoundError: No module named 'tariff'\n=== 1 error in 0.1s ===\n",
        "setup-python-module-missing",
        id="a missing import while tests are collected",
    ),
    pytest.param(
        "+ docker pull registry.brackwater.example/fares:9\nError response from daemon: manifest for registry.brackwater.example/fares:9 not found: manifest unknown: manifest unknown\n",
        "agent-image-not-found",
        id="a pull: words of absence",
    ),
    pytest.param(
        "+ docker pull registry.brackwater.example/fares:9\nError response from daemon: pull access denied for registry.brackwater.example/fares, repository does not exist or may require 'docker login': denied: requested access to the resource is denied\n",
        "agent-image-not-found",
        id="a pull: words of denied access",
    ),
    pytest.param(
        '+ docker pull registry.brackwater.example/fares:9\nError response from daemon: Get "https://registry.brackwater.example/v2/": x509: certificate signed by unknown authority\n',
        "agent-image-pull-failed",
        id="a pull: words of TLS",
    ),
    pytest.param(
        '+ docker pull registry.brackwater.example/fares:9\nError response from daemon: Get "https://registry.brackwater.example/v2/": dial tcp: lookup registry.brackwater.example: no such host\n',
        "agent-image-pull-failed",
        id="a pull: words of network",
    ),
    pytest.param(
        "+ go test ./...\npanic: test timed out after 10m0s\nFAIL\texample.brackwater/fares\t600.1s\n",
        "test-timed-out",
        id="the test runner's time limit",
    ),
    pytest.param(
        "+ go test ./...\nBuild timed out (after 60 minutes). Marking the build as aborted.\nFinished: ABORTED\n",
        "agent-build-timed-out",
        id="the CI server's time limit",
    ),
    pytest.param(
        '+ make\n"src/main.c", skipped\nArchiving artifacts\nERROR: No artifacts found that match the file pattern "dist/*.zip". Configuration error?\nFinished: FAILURE\n',
        "post-artifact-pattern-empty",
        id="an empty pattern said by the CI step",
    ),
    pytest.param(
        "+ twine upload dist/*\nERROR    InvalidDistribution: Cannot find file (or expand pattern): 'dist/*'\n",
        "package-no-artifact",
        id="an empty pattern said by the publish tool",
    ),
    pytest.param(
        "[INFO] Scanning for projects...\n[ERROR] Failed to execute goal org.apache.maven.plugins:maven-enforcer-plugin:3.4.1:enforce (rules) on project fares: Rule 0: org.apache.maven.enforcer.rules.dependency.DependencyConvergence failed with message:\n[ERROR] Failed while enforcing releasability.\n",
        "resolve-version-conflict",
        id="convergence, reported by a rule",
    ),
    pytest.param(
        "[INFO] Scanning for projects...\n[ERROR] Failed to execute goal org.apache.maven.plugins:maven-enforcer-plugin:3.4.1:enforce (rules) on project fares: Rule 0: org.apache.maven.enforcer.rules.dependency.BannedDependencies failed with message:\n[ERROR] commons-logging:commons-logging:jar:1.2 <--- banned via the exclude/include list\n",
        "compile-rule-gate",
        id="another rule",
    ),
]


@pytest.mark.parametrize(("log", "failure"), CASES)
def test_borderline(log: str, failure: str) -> None:
    found = root_of(log)
    assert found is not None
    assert found[0] == failure


@pytest.mark.parametrize(
    "log",
    [
        "Cannot contact agent-7: java.lang.InterruptedException\nFinished: FAILURE\n",
        "##[error]The operation was canceled.\n",
        "Build timed out (after 60 minutes). Marking the build as failed.\nFinished: FAILURE\n",
    ],
)
def test_ended_from_outside_is_aborted_whatever_the_closing_line_says(log: str) -> None:
    assert verdict_of("+ npm test\n" + log).outcome == "aborted"
