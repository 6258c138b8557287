"""Facts from the log: for each one a text that shows it and one that does not, through the whole diagnosis."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.support import catalogue, verdict_of

if TYPE_CHECKING:
    from logdoctor.model import FactValue

HOST = "https://repo.brackwater.example"
FILE = f"{HOST}/maven/releases/example/brackwater/fares/1.4.0/fares-1.4.0.jar"
PUBLIC = f"{HOST}/maven/public/example/brackwater/tides/2.0/tides-2.0.pom"
FORBIDDEN = "status code: 403, reason phrase: Forbidden (403)"
REFUSED = "Connect to repo.brackwater.example:443 [repo.brackwater.example/10.1.2.3] failed: Connection refused"
DEPLOY = (
    "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-deploy-plugin:3.1.1:deploy (default-deploy) on project fares: "
    "Failed to deploy artifacts:"
)
RESOLVE = "[ERROR] Failed to execute goal on project fares: Could not resolve dependencies for project example.brackwater:fares:jar:1.0:"
CHECKOUT = "+ git clone https://git.brackwater.example/fares.git\nCloning into 'fares'...\n"


def upload(
    *before: str,
    command: str = "mvn -B deploy",
    artifact: str = "example.brackwater:fares:jar:1.4.0",
    to: str = "releases",
    url: str = f"{HOST}/maven/releases",
    why: str = FORBIDDEN,
) -> str:
    """A log of a build that fails on an upload."""
    return "\n".join(
        [
            f"+ {command}",
            "[INFO] Scanning for projects...",
            *before,
            "[INFO] BUILD FAILURE",
            f"{DEPLOY} Could not transfer artifact {artifact} from/to {to} ({url}): {why} -> [Help 1]",
            "",
        ]
    )


def download(*before: str, via: str = "central", url: str = f"{HOST}/maven/public", why: str = REFUSED) -> str:
    """A log of a build that fails on a download."""
    return "\n".join(
        [
            "+ mvn -B verify",
            "[INFO] Scanning for projects...",
            *before,
            "[INFO] BUILD FAILURE",
            f"{RESOLVE} Could not transfer artifact example.brackwater:tides:jar:2.0 from/to {via} ({url}): {why} -> [Help 1]",
            "",
        ]
    )


def java_home(value: str) -> str:
    return f"+ ./mvnw verify\nERROR: JAVA_HOME is set to an invalid directory: {value}\nscript returned exit code 1\n"


def uploaded(url: str, to: str = "releases") -> str:
    return f"Uploaded to {to}: {url} (4.1 kB at 12 kB/s)"


def downloaded(url: str, via: str = "central") -> str:
    return f"Downloaded from {via}: {url} (4.1 kB at 12 kB/s)"


SNAPSHOT = "example.brackwater:fares:jar:1.4.0-SNAPSHOT"
STAMPED = "example.brackwater:fares:jar:1.4.0-20260504.101500-7"
SNAPSHOT_FILE = f"{HOST}/maven/snapshots/example/brackwater/fares/1.4.0-SNAPSHOT/fares-1.4.0-20260504.101459-7.jar"
NPM_PUT = f"+ npm publish\nnpm error code E403\nnpm error 403 403 Forbidden - PUT {HOST}/npm/fares - no write right\n"
CLASS_TOO_NEW = (
    "$ java -jar app.jar\njava.lang.UnsupportedClassVersionError: example/App has been compiled by a more recent version of "
    "the Java Runtime (class file version 61.0), this version of the Java Runtime only recognizes class file versions up to 55.0\n"
)
KILLED = "+ ./build.sh\nKilled\nscript returned exit code 137\n"
PIP = (
    "+ pip install fares\nWARNING: Retrying (Retry(total=4, connect=None)) after connection broken by 'NewConnectionError': "
    "[Errno 111] Connection refused': /simple/fares/\nWARNING: Retrying (Retry(total=3, connect=None)) after connection broken by "
    "'NewConnectionError': [Errno 111] Connection refused': /simple/fares/\n"
    "ERROR: Could not find a version that satisfies the requirement fares (from versions: none)\n"
)
TIMED_OUT = (
    "2026-05-04T10:00:00.000Z + curl -fsSO https://repo.brackwater.example/a.zip\n"
    "2026-05-04T10:01:00.000Z curl: (28) Failed to connect to repo.brackwater.example port 443: Connection timed out\n"
)
ANONYMOUS_PULL = (
    "+ docker pull registry.brackwater.example/fares:1\nError response from daemon: "
    'Head "https://registry.brackwater.example/v2/fares/manifests/1": no basic auth credentials\n'
)
INVALID_RELEASE = (
    "+ mvn compile\n[ERROR] Failed to execute goal org.apache.maven.plugins:maven-compiler-plugin:3.8.1:compile (default-compile) "
    "on project fares: Fatal error compiling: invalid target release: 17 -> [Help 1]\n"
)
UV = (
    "+ uv sync\nerror: Request failed after 3 retries\n  Caused by: Failed to fetch: `https://pypi.brackwater.example/simple/fares/`\n"
    "  Caused by: tcp connect error: Connection refused (os error 111)\n"
)
BYTES = "Filesystem      Size  Used Avail Use% Mounted on\n/dev/nvme1n1    400G  221G  160G  59% /builds\n"
INODES = (
    "Filesystem       Inodes    IUsed IFree IUse% Mounted on\n/dev/nvme1n1   26214400 26214211   189  100% /builds\n"
)
DISK_FULL = "+ cp big.tar /builds/fares/big.tar\ncp: error writing '/builds/fares/big.tar': No space left on device\n"
NO_DATABASE = (
    '+ pytest -q\nE   psycopg2.OperationalError: connection to server at "localhost" (127.0.0.1), port 5432 failed: '
    "Connection refused\n##[error]Process completed with exit code 1.\n"
)
ABSENT = object()


def disk(listing: str) -> str:
    """A log of a step that ran out of space, with a disk listing before."""
    return f"+ df /builds\n{listing}{DISK_FULL}"


# fact: texts with the value that they show; ABSENT is "not known".
COMPUTED: dict[str, list[tuple[str, object]]] = {
    "request": [(upload(), "write"), (NPM_PUT, "write"), (download(), "read"), (KILLED, ABSENT)],
    "method": [(NPM_PUT, "PUT"), (ANONYMOUS_PULL, "HEAD"), (upload(), ABSENT)],
    "status": [(upload(), "403"), (download(), ABSENT)],
    "scheme": [(upload(), "https"), (upload(url="http://repo.brackwater.example/releases"), "http"), (KILLED, ABSENT)],
    "host": [(upload(), "repo.brackwater.example"), (KILLED, ABSENT)],
    "path": [(upload(), "/maven/releases"), (KILLED, ABSENT)],
    "goal": [
        (upload(), "org.apache.maven.plugins:maven-deploy-plugin:3.1.1:deploy (default-deploy)"),
        (NPM_PUT, "npm publish"),
        ("fatal: couldn't find remote ref main\nFinished: FAILURE\n", ABSENT),
    ],
    "artifact": [(upload(), "example.brackwater:fares:jar:1.4.0"), (NPM_PUT, ABSENT)],
    "repository_id": [(upload(), "releases"), (download(via="corp"), "corp"), (NPM_PUT, ABSENT)],
    "downloads_from_host_worked": [
        (download(downloaded(PUBLIC)), True),
        (download(downloaded("https://other.brackwater.example/a/b/1/b-1.pom")), ABSENT),
        (download(PUBLIC.replace("https://", "Downloading from central: https://")), ABSENT),
    ],
    "downloads_with_id_worked": [
        (download(downloaded(PUBLIC, "corp"), via="corp"), True),
        (download(downloaded(PUBLIC, "corp"), via="central"), ABSENT),
    ],
    "uploads_to_host_worked": [
        (upload(uploaded(FILE)), True),
        (upload(downloaded(PUBLIC)), ABSENT),
        (upload(uploaded("https://other.brackwater.example/a/b/1/b-1.jar")), ABSENT),
    ],
    "uploads_to_repository_worked": [
        (upload(uploaded(FILE)), True),
        (upload(uploaded(FILE.replace("/releases/", "/other/"))), ABSENT),
    ],
    "version_is_snapshot": [
        (upload(artifact=SNAPSHOT), True),
        (upload(artifact=STAMPED), True),
        (upload(), False),
        (INVALID_RELEASE, ABSENT),
        (download().replace("fares:jar:1.0:", "fares:jar:1.0-SNAPSHOT:"), False),
    ],
    "target_kind": [
        (upload(), "hosted"),
        (upload(url=f"{HOST}/maven/maven-public"), "group"),
        (upload(url=f"{HOST}/maven/central-proxy"), "proxy"),
        (upload(url=f"{HOST}/ui/native/fares"), "web"),
        (upload(url=f"{HOST}/maven/fares"), ABSENT),
    ],
    "uploaded_before": [
        (upload(uploaded(FILE)), True),
        (upload(uploaded(FILE.replace(".jar", ".pom"))), ABSENT),
        (upload(uploaded(FILE.replace("-1.4.0.jar", "-1.4.0-sources.jar"))), ABSENT),
        (upload(uploaded(FILE.replace("1.4.0", "1.3.0"))), ABSENT),
        (upload(uploaded(SNAPSHOT_FILE), artifact=STAMPED, url=f"{HOST}/maven/snapshots"), True),
        (
            upload(
                uploaded(FILE.replace("-1.4.0.jar", "-1.4.0-sources.jar")),
                artifact="example.brackwater:fares:jar:sources:1.4.0",
            ),
            True,
        ),
        (upload(artifact="example.brackwater:fares:jar:1.4.0"), ABSENT),
    ],
    "settings_option": [
        (upload(command="mvn -B -s ci/settings.xml deploy"), True),
        (upload(command="./mvnw --settings=ci/settings.xml deploy"), True),
        (upload(command="mvn -B deploy"), False),
        ("+ mvn -s settings.xml clean\n" + upload(command="mvn -B deploy"), False),
        (NPM_PUT, ABSENT),
    ],
    "settings_path": [
        (upload(command="mvn -B -s ci/settings.xml deploy"), "ci/settings.xml"),
        (upload(command="mvn -B -Dtests.seed=1 deploy"), ABSENT),
    ],
    "java_home_ends_in_bin": [
        (java_home("/usr/lib/jvm/java-17/bin"), True),
        (java_home("/usr/lib/jvm/java-17/bin/"), True),
        (java_home("/usr/lib/jvm/java-17"), False),
        (KILLED, ABSENT),
    ],
    "java_home_is_java_file": [
        (java_home("/usr/bin/java"), True),
        (java_home(r"C:\jdk-17\bin\java.exe"), True),
        (java_home("/usr/lib/jvm/java"), False),
        (KILLED, ABSENT),
    ],
    "java_release": [
        (upload("Java version: 17.0.9, vendor: Example, runtime: /opt/jdk-17"), 17),
        (upload("Java version: 1.8.0_392, vendor: Example"), 8),
        (upload(), ABSENT),
    ],
    "java_release_needed": [
        (CLASS_TOO_NEW, 17),
        ("$ java -jar app.jar\njava.lang.UnsupportedClassVersionError: App : Unsupported major.minor version 52.0\n", 8),
        (upload(), ABSENT),
    ],
    "exit_status": [(KILLED, "137"), ("+ ./build.sh\nKilled\n", ABSENT)],
    "exit_signal": [(KILLED, "SIGKILL"), (KILLED.replace("137", "1"), ABSENT)],
    "retried": [
        (PIP, True),
        (download("INFO: Retrying request to {s}->https://repo.brackwater.example:443"), True),
        (download("npm http fetch PUT https://repo.brackwater.example/npm/fares attempt 1 failed with 504"), True),
        (download("[INFO] the client is not retrying"), ABSENT),
        (download(), ABSENT),
    ],
    "retries": [
        (PIP, 2),
        (UV, 3),
        (download(), ABSENT),
    ],
    "same_failure_count": [(PIP, 4), (TIMED_OUT, 1), ("Finished: SUCCESS\n", ABSENT)],
    "waited_seconds": [(TIMED_OUT, 60.0), (TIMED_OUT.replace("2026-05-04T10:0", "at "), ABSENT)],
    "workspace_reused": [
        (CHECKOUT + upload(), False),
        ("Reinitialized existing Git repository in /builds/fares/.git/\n" + upload(), True),
        (upload(), ABSENT),
    ],
    "in_container": [
        ("Using Docker executor with image maven:3.9 ...\n" + upload(), True),
        (
            "$ docker run -t -d -u 1000:1000 -w /ws registry.brackwater.example/maven:3.9 cat\n" + upload(),
            True,
        ),
        ("$ docker run -t -d -w /ws maven:3.9 cat\n$ docker stop --time=1 0af3\n" + upload(), ABSENT),
        ("+ docker run --rm tools:1 lint\nlint: fine\n" + upload(), ABSENT),
        ("+ docker run --rm -v .:/ws maven:3.9 sh -c ./build.sh\nKilled\nscript returned exit code 137\n", True),
        (upload(), ABSENT),
    ],
    "mirror_named": [
        (download(via="corp-mirror"), True),
        (download(f"[DEBUG] Using mirror corp ({HOST}/maven/public) for central (https://repo.public.example).", via="corp"), True),
        (download(f"[DEBUG] Using mirror corp ({HOST}/maven/public) for central (https://repo.public.example)."), ABSENT),
        (download(via="mirrored"), ABSENT),
        (download(), ABSENT),
    ],
    "anonymous": [
        (ANONYMOUS_PULL, True),
        (download("[DEBUG] no credentials were found for central", why="status code: 401, reason phrase: Unauthorized (401)"), True),
        (download("    at Object.<anonymous> (/builds/fares/run.js:3:1)"), ABSENT),
        (upload(), ABSENT),
    ],
    "downloads_elsewhere_worked": [
        (download(downloaded("https://other.brackwater.example/a/b/1/b-1.pom")), True),
        (download(downloaded(PUBLIC)), ABSENT),
        (download(), ABSENT),
    ],
    "failing_tool": [(upload(), "maven"), (NPM_PUT, "npm"), ("Finished: SUCCESS\n", ABSENT)],
    "settings_option_earlier": [
        ("+ mvn -s settings.xml verify\n" + upload(command="mvn -B deploy"), True),
        (upload(command="mvn -B -s settings.xml deploy"), ABSENT),
        ("+ mvn verify\n" + upload(command="mvn -B deploy"), ABSENT),
    ],
    "named_is_ours": [
        (CHECKOUT + download(), True),
        (CHECKOUT + download(why=f"{REFUSED} ").replace("artifact example.brackwater:tides", "artifact org.slf4j:slf4j-api"), False),
        (download("[INFO] ---------------< example.brackwater.fares:fares-app >---------------"), True),
        (CHECKOUT + CLASS_TOO_NEW.replace("example/App", "org/slf4j/App"), False),
        (CHECKOUT.replace("git.brackwater.example", "brackwater.example") + download(), ABSENT),
        (download(), ABSENT),
    ],
    "host_is_ours": [
        (CHECKOUT + download(), True),
        (CHECKOUT + download(url="https://repo.public.example/maven2"), False),
        ("Using docker image sha256:0a3f for registry.brackwater.example/build/maven:3.9 ...\n" + download(), ABSENT),
        (download(), ABSENT),
    ],
    "bytes_left": [(disk(BYTES), True), (disk(BYTES.replace("59%", "100%")), False), (disk(INODES), ABSENT), (DISK_FULL, ABSENT)],
    "inodes_left": [(disk(INODES), False), (disk(INODES.replace("100%", "12%")), True), (disk(BYTES), ABSENT), (DISK_FULL, ABSENT)],
    "in_image_build": [
        ("+ docker build -t fares .\n#5 6.002 E: Write error - write (28: No space left on device)\n", True),
        ("Step 3/9 : RUN make\ncp: error writing 'a': No space left on device\n", ABSENT),
        (DISK_FULL, ABSENT),
    ],
    "several_java_releases": [
        (upload('openjdk version "21.0.1" 2023-10-17', "Java version: 17.0.9, vendor: Example, runtime: /opt/jdk-17"), True),
        (upload("Java version: 17.0.9, vendor: Example, runtime: /opt/jdk-17"), False),
        (upload(), ABSENT),
    ],
    "java_fits_project": [
        (upload("Java version: 17.0.9, vendor: E", "[INFO] Compiling 3 source files with javac [debug release 17] to target"), True),
        (upload("Java version: 1.8.0_392, vendor: E", "[INFO] Compiling 3 source files with javac [debug target 1.8] to target"), True),
        (upload("Java version: 11.0.2, vendor: E", "[INFO] Compiling 1 source file with javac [debug release 21] to target"), False),
        (upload("Java version: 17.0.9, vendor: E"), ABSENT),
    ],
    "proxy_not_read": [
        ("HTTPS_PROXY=http://webgate.brackwater.example:8080\n" + download(), True),
        ("HTTPS_PROXY=http://webgate.brackwater.example:8080\n" + PIP, ABSENT),
        (download(), ABSENT),
    ],
    "service_started": [
        (" Container fares-db-1  Started\n" + NO_DATABASE, True),
        ("Starting service registry.brackwater.example/base/postgres:15 ...\n" + NO_DATABASE, True),
        (NO_DATABASE, ABSENT),
    ],
    "service_ready": [
        ("LOG:  database system is ready to accept connections\n" + NO_DATABASE, "before"),
        (NO_DATABASE + "LOG:  database system is ready to accept connections\n", "after"),
        (NO_DATABASE, ABSENT),
    ],
    "loopback_in_container": [
        ("Using Docker executor with image python:3.12 ...\n" + NO_DATABASE, True),
        (NO_DATABASE, ABSENT),
        ("Using Docker executor with image maven:3.9 ...\n" + download(), ABSENT),
    ],
    "exception_class": [(CLASS_TOO_NEW, "UnsupportedClassVersionError"), (upload(), ABSENT)],
    "follows_passed_phase": [
        (CHECKOUT + "+ npm ci\nadded 3 packages in 2s\n" + NPM_PUT, "resolve"),
        ("fatal: couldn't find remote ref main\nFinished: FAILURE\n", ABSENT),
    ],
}  # fmt: skip
LINES: dict[str, list[tuple[str, object]]] = {
    "java_home": [(java_home("/opt/jdk-17"), "/opt/jdk-17"), (upload("unset JAVA_HOME"), ABSENT)],
    "java_version": [(upload("Java version: 17.0.9, vendor: Example"), "17.0.9"), (upload("Java version unknown"), ABSENT)],
    "job_container": [
        ("Using Docker executor with image maven:3.9 ...\n" + upload(), "Using Docker executor with image maven:3.9"),
        ("Using Shell executor\n" + upload(), ABSENT),
    ],
    "mirror_used": [
        (download("[DEBUG] Using mirror corp (https://repo.brackwater.example) for central (https://x.example)."), "corp"),
        (download("Using mirrors where there are any"), ABSENT),
    ],
    "virtual_environment": [
        ("+ python3 -m venv --clear .venv\n" + PIP, ".venv"),
        ("+ uv venv build/env\n" + PIP, "build/env"),
        ("+ python3 -m pip list\n" + PIP, ABSENT),
    ],
    "agent_name": [("Running on quay-7 in /home/ci/fares\n" + upload(), "quay-7"), (upload("Tests running on quay-7"), ABSENT)],
    "maven_home": [(upload("Maven home: /opt/maven"), "/opt/maven"), (upload("home of Maven"), ABSENT)],
    "maven_version": [(upload("Apache Maven 3.9.6 (bc0240f)"), "3.9.6"), (upload("needs Apache Maven 3.9"), ABSENT)],
    "gradle_version": [(upload("Gradle 8.5"), "8.5"), (upload("Gradle 8.5 is deprecated"), ABSENT)],
    "node_version": [(upload("node version v20.11.1"), "20.11.1"), (upload("node modules"), ABSENT)],
    "npm_version": [("npm info using npm@10.2.4\n" + NPM_PUT, "10.2.4"), (NPM_PUT, ABSENT)],
    "git_version": [(upload("git version 2.43.0"), "2.43.0"), (upload("git versions"), ABSENT)],
    "proxy_variable": [("https_proxy=http://gate.brackwater.example:8080\n" + PIP, "https_proxy"), ("unset https_proxy\n" + PIP, ABSENT)],
    "release_compiled": [
        (upload("[INFO] Compiling 3 source files with javac [debug deprecation release 17] to target/classes"), "17"),
        (upload("[INFO] Compiling 3 source files to target/classes"), ABSENT),
    ],
    "runtime_path": [
        (upload("Java version: 17.0.9, vendor: Example, runtime: /opt/jdk-17"), "/opt/jdk-17"),
        (upload("Java home: /usr/lib/jvm/java-8/jre"), "/usr/lib/jvm/java-8/jre"),
        (upload("Java version: 17.0.9, vendor: Example"), ABSENT),
    ],
}  # fmt: skip
CASES = [
    pytest.param(fact, text, value, id=f"{fact}-{number}")
    for fact, texts in {**COMPUTED, **LINES}.items()
    for number, (text, value) in enumerate(texts, start=1)
]


def facts_of(text: str) -> dict[str, FactValue]:
    root = verdict_of(text).root
    return dict(root.facts) if root else {}


@pytest.mark.parametrize(("fact", "text", "value"), CASES)
def test_fact(fact: str, text: str, value: object) -> None:
    facts = facts_of(text)
    if value is ABSENT:
        assert fact not in facts, facts[fact]
    else:
        assert facts.get(fact) == value
        assert type(facts[fact]) is type(value)


def test_every_fact_of_the_log_is_tried_both_ways() -> None:
    assert COMPUTED.keys() == catalogue().facts["computed"].keys()
    assert LINES.keys() == catalogue().facts["line"].keys()
    for fact, texts in {**COMPUTED, **LINES}.items():
        values = [value for _, value in texts]
        assert any(v is not ABSENT for v in values), fact
        assert len({str(v) for v in values}) > 1, fact
