from __future__ import annotations

import pytest

from logdoctor.memory.comparing.setup_seen import SetupSeen, setup_changes
from tests.memory.comparing.pairs import compared, sample

BASE = "https://repo.brackwater.example/maven/public"
LINES = [
    ("Running on harbour-agent-03 in /home/ci/work/fares", "agent", "agent", "harbour-agent-03"),
    ("Runner name: 'quay-2'", "agent", "agent", "quay-2"),
    ("Running on runner-abc-project-1-concurrent-0 via quay-host...", "agent", "agent", "quay-host"),
    ("Using Docker executor with image maven:3.9-eclipse-temurin-17 ...", "agent", "image", "maven:3.9-eclipse-temurin-17"),
    ("Checking out Revision 5eb081555d7f (refs/remotes/origin/main)", "revision", "branch", "refs/remotes/origin/main"),
    ("HEAD is now at 5eb0815 Round down", "revision", "revision", "5eb0815"),
    ('openjdk version "17.0.11" 2024-04-16', "tool", "java", "17.0.11"),
    ('java version "1.8.0_402"', "tool", "java", "1.8.0_402"),
    ("openjdk 21.0.3 2024-04-16", "tool", "java", "21.0.3"),
    ("Java version: 17.0.11, vendor: Harbour, runtime: /opt/jdk", "tool", "java vendor", "Harbour"),
    ("\x1b[1mApache Maven 3.9.6 (bc0240f3)\x1b[m", "tool", "maven", "3.9.6"),
    ("Welcome to Gradle 8.7!", "tool", "gradle", "8.7"),
    ("Downloading https://dist.example/distributions/gradle-8.5-bin.zip", "tool", "gradle", "8.5"),
    (" > git --version # 'git version 2.43.0'", "tool", "git", "2.43.0"),
    ("+ node --version\nv20.12.2", "tool", "node", "v20.12.2"),
    ("$ npm --version\r\n10.5.0\r", "tool", "npm", "10.5.0"),
    ("npm verbose node v18.20.2", "tool", "node", "v18.20.2"),
    ("Python 3.11.7", "tool", "python", "3.11.7"),
    ("go version go1.22.1 linux/amd64", "tool", "go", "1.22.1"),
    ("Docker version 24.0.7, build afdd53b", "tool", "docker", "24.0.7"),
    ("[INFO] --- maven-compiler-plugin:3.8.1:compile (default-compile) @ fares ---", "plugin", "compiler", "3.8.1"),
    ("[INFO] --- compiler:3.11.0:compile (default-compile) @ fares ---", "plugin", "compiler", "3.11.0"),
    (f"[INFO] Downloaded from mirror: {BASE}/org/slf4j/slf4j-api/2.0.13/slf4j-api-2.0.13.jar (3 kB at 1 kB/s)", "dependency", "slf4j-api", "2.0.13"),
    (f"Downloading: {BASE}/a/b/fares/4.7.0-SNAPSHOT/fares-4.7.0-20240612.101112-12.jar", "dependency", "fares", "4.7.0-20240612.101112-12"),
    ("[INFO] |  +- org.slf4j:slf4j-api:jar:2.0.13:compile", "dependency", "slf4j-api", "2.0.13"),
    ("Successfully installed attrs-23.2.0 python-dateutil-2.9.0.post0", "dependency", "pip python-dateutil", "2.9.0.post0"),
    ("   Compiling serde v1.0.203", "dependency", "cargo serde", "v1.0.203"),
    ("go: downloading golang.org/x/text v0.14.0", "dependency", "go golang.org/x/text", "v0.14.0"),
    ("  - Installing symfony/console (v6.4.7): Extracting archive", "dependency", "composer symfony/console", "v6.4.7"),
    ("Setting up libpq5:amd64 (15.6-0+deb12u1) ...", "dependency", "apt libpq5", "15.6-0+deb12u1"),
    ("progress 1%\rprogress 9%\rDownloaded from m: https://r.example/x/y/1.0/y-1.0.jar (1 kB)", "dependency", "y", "1.0"),
]  # fmt: skip
NOTHING = [
    "the server is Running on port 8080",
    "echo Python is a language",
    "the node has no version",
    "[INFO] Building jar: /home/ci/work/target/fares.jar",
    "Image: see the docs for more",
]


def seen(text: str) -> dict[tuple[str, str], list[str]]:
    from logdoctor.intake import open_log
    from logdoctor.memory.comparing.sketch import sketch_of

    with open_log(text.encode(), name="x") as log:
        return {key: list(values) for key, values in sketch_of(log).setup.values.items()}


@pytest.mark.parametrize(("line", "kind", "name", "value"), LINES, ids=lambda text: str(text)[:30])
def test_what_a_line_tells_of_the_set_up(line: str, kind: str, name: str, value: str) -> None:
    assert value in seen(f"before\n{line}\nafter\n").get((kind, name), [])


@pytest.mark.parametrize("line", NOTHING)
def test_lines_that_tell_nothing(line: str) -> None:
    assert seen(line) == {}


def test_what_changed_since_it_worked() -> None:
    old = sample("fares-deploy-403")
    new = old.replace("17.0.11", "21.0.3").replace("jackson-core/2.17.1", "jackson-core/2.18.0")
    new = new.replace("jackson-core-2.17.1", "jackson-core-2.18.0").replace("harbour-agent-07", "harbour-agent-12")
    changes = {(c.kind, c.name): (c.old, c.new) for c in compared(old, new).setup}
    assert changes["agent", "agent"] == (("harbour-agent-07",), ("harbour-agent-12",))
    assert changes["tool", "java"][0][0].startswith("17.0.11")
    assert changes["tool", "java"][1][0].startswith("21.0.3")
    assert changes["dependency", "jackson-core"] == (("2.17.1",), ("2.18.0",))
    assert not {key for key in changes if key[0] == "dependency"} - {("dependency", "jackson-core")}


def test_a_full_cache_is_no_change_of_dependencies() -> None:
    old = sample("fares-deploy-403")
    warm = "\n".join(line for line in old.split("\n") if "Download" not in line)
    assert not [c for c in compared(old, warm).setup if c.kind in ("dependency", "download source")]


def test_another_mirror_is_told() -> None:
    old = sample("fares-deploy-403")
    new = old.replace("repo.brackwater.example", "mirror.brackwater.example")
    changes = [c for c in compared(old, new).setup if c.kind == "download source"]
    assert {(c.old, c.new) for c in changes} == {
        (("https://repo.brackwater.example",), ("https://mirror.brackwater.example",))
    }


def test_bounded_whatever_the_log_says() -> None:
    setup = SetupSeen()
    for i in range(40):
        setup.look(b"".join(b"   Compiling crate%d v1.%d.0\n" % (i, n) for n in range(100)))
    assert all(len(values) <= 60 for values in setup.values.values())
    assert setup_changes(setup, SetupSeen()) == ()
