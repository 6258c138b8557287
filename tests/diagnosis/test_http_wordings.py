"""How clients word an HTTP answer, on a download and on an upload: status by status.

The meaning of the statuses: RFC 9110, section 15, and RFC 6585, section 4 (429). The wordings: forms of the clients' messages over
their versions, partly seen in lab runs, partly from memory.
"""

from __future__ import annotations

from http import HTTPStatus

import pytest

from tests.support import verdict_of

DOWNLOAD = {
    401: "resolve-unauthorized",
    403: "resolve-forbidden",
    407: "resolve-proxy-auth-required",
    429: "resolve-rate-limited",
    500: "resolve-server-error",
    502: "resolve-server-error",
    503: "resolve-server-error",
    504: "resolve-server-error",
}
UPLOAD = {
    401: "deploy-unauthorized",
    403: "deploy-forbidden",
    405: "deploy-method-not-allowed",
    407: "deploy-proxy-auth-required",
    413: "deploy-too-large",
    429: "deploy-rate-limited",
    500: "deploy-server-error",
    502: "deploy-server-error",
    503: "deploy-server-error",
    507: "deploy-server-error",
}
REPOSITORY = "https://repo.brackwater.example/maven/releases"
TRANSFER = f"Could not transfer artifact example.brackwater:fares:jar:1.4.0 from/to releases ({REPOSITORY}): "
FILE = f"{REPOSITORY}/example/brackwater/fares/1.4.0/fares-1.4.0.jar"
MAVEN = {
    "3.0 wagon": "Failed to transfer file: {file}. Return code is: {code}, ReasonPhrase: {reason}.",
    "3.0 wagon without reason": "Failed to transfer file: {file}. Return code is: {code}",
    "wagon 3.4": "transfer failed for {file}, status: {code} {reason}",
    "lightweight wagon": "Failed to transfer file {file} with status code {code}",
    "resolver 1.x": "status code: {code}, reason phrase: {reason} ({code})",
    "resolver 2 JDK client": "HTTP Status: {code}",
    "native": "status: {code} {reason}",
}
OTHERS_DOWNLOAD = {
    "gradle": (
        "> Task :compileJava FAILED\n* What went wrong:\nCould not resolve all files for configuration ':compileClasspath'.\n"
        "> Could not resolve example.brackwater:fares:1.4.0.\n   > Could not get resource '{file}'.\n"
        "      > Could not GET '{file}'. Received status code {code} from server: {reason}\n\nBUILD FAILED in 2s\n"
    ),
    "curl": "+ curl -fsSO {file}\ncurl: (22) The requested URL returned error: {code}\n",
    "curl with reason": "+ curl -fsSO {file}\ncurl: (22) The requested URL returned error: {code} {reason}\n",
    "npm": "+ npm ci\nnpm ERR! code E{code}\nnpm ERR! {code} {reason} - GET https://npm.brackwater.example/fares\n",
    "new npm": "+ npm ci\nnpm error code E{code}\nnpm error {code} {reason} - GET https://npm.brackwater.example/fares\n",
}
OTHERS_UPLOAD = {
    "gradle": (
        "> Task :publishMavenJavaPublicationToReleasesRepository FAILED\n* What went wrong:\n"
        "Execution failed for task ':publishMavenJavaPublicationToReleasesRepository'.\n"
        "> Failed to publish publication 'mavenJava' to repository 'releases'\n"
        "   > Could not PUT '{file}'. Received status code {code} from server: {reason}\n\nBUILD FAILED in 2s\n"
    ),
    "curl": "+ curl -fsS -T fares.jar {file}\ncurl: (22) The requested URL returned error: {code}\n",
    "npm": "+ npm publish\nnpm ERR! code E{code}\nnpm ERR! {code} {reason} - PUT https://npm.brackwater.example/fares\n",
    "twine": "+ twine upload dist/*\nUploading distributions to https://pypi.brackwater.example/legacy/\nERROR    HTTPError: {code} {reason} from https://pypi.brackwater.example/legacy/\n",
}


def maven_log(wording: str, code: int, *, upload: bool) -> str:
    plugin, goal, why = (
        ("deploy", "deploy", "Failed to deploy artifacts: ")
        if upload
        else ("compiler", "compile", "Could not resolve dependencies: ")
    )
    message = TRANSFER + wording.format(file=FILE, code=code, reason=HTTPStatus(code).phrase)
    return (
        f"[INFO] --- maven-{plugin}-plugin:3.1.1:{goal} (default-{goal}) @ fares ---\n[INFO] BUILD FAILURE\n"
        f"[ERROR] Failed to execute goal org.apache.maven.plugins:maven-{plugin}-plugin:3.1.1:{goal} (default-{goal})"
        f" on project fares: {why}{message} -> [Help 1]\n"
    )


def cases(table: dict[str, str], statuses: dict[int, str]) -> list[object]:
    return [
        pytest.param(wording, code, failure, id=f"{name}-{code}")
        for name, wording in table.items()
        for code, failure in statuses.items()
    ]


@pytest.mark.parametrize(("wording", "code", "failure"), cases(MAVEN, DOWNLOAD))
def test_maven_download(wording: str, code: int, failure: str) -> None:
    root = verdict_of(maven_log(wording, code, upload=False)).root
    assert root is not None
    assert (root.failure.id, root.line) == (failure, 3)


@pytest.mark.parametrize(("wording", "code", "failure"), cases(MAVEN, UPLOAD))
def test_maven_upload(wording: str, code: int, failure: str) -> None:
    root = verdict_of(maven_log(wording, code, upload=True)).root
    assert root is not None
    assert (root.failure.id, root.line) == (failure, 3)


@pytest.mark.parametrize(("wording", "code", "failure"), cases(OTHERS_DOWNLOAD, DOWNLOAD))
def test_download_by_other_clients(wording: str, code: int, failure: str) -> None:
    root = verdict_of(wording.format(file=FILE, code=code, reason=HTTPStatus(code).phrase)).root
    assert root is not None
    assert root.failure.id == failure


@pytest.mark.parametrize(("wording", "code", "failure"), cases(OTHERS_UPLOAD, UPLOAD))
def test_upload_by_other_clients(wording: str, code: int, failure: str) -> None:
    root = verdict_of(wording.format(file=FILE, code=code, reason=HTTPStatus(code).phrase)).root
    assert root is not None
    assert root.failure.id == failure
