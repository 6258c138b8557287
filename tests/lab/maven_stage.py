"""One Maven scenario: its row in the tables, the stage it is set on, and how it is played."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tests.lab import maven_tools
from tests.lab.maven_projects import JUNIT4, MAIN, TEST4, pom, settings
from tests.lab.rule_server import Answer, Area, Folder, Rule, RuleServer
from tests.lab.rule_server_tls import server_context
from tests.lab.runner import Run, World, run, temporary_world
from tests.lab.scrub import REPOSITORY, Scrubber

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

__all__ = ["Played", "Scenario", "Stage", "play"]

_WARMING = threading.Lock()


@dataclass(slots=True, kw_only=True)
class Stage:
    """What a scenario's set-up may touch before Maven starts. By default everything works."""

    world: World
    server: RuleServer
    rules: list[Rule]
    areas: dict[str, Area]
    stack: contextlib.ExitStack
    env: dict[str, str]
    options: list[str]
    """JVM options of Maven itself."""
    ports: dict[int, str]
    texts: list[tuple[str, str]] = field(default_factory=list)
    """More literal replacements for the scrubber."""
    launcher: list[str] | None = None
    """Another command than the version's own `mvn`."""
    before: list[list[str]] = field(default_factory=list)
    """Maven runs that go first and are not shown (their arguments)."""
    between: Callable[[], None] | None = None
    """What happens to the world after those and before the run that is shown."""

    @property
    def public(self) -> str:
        """Address of the group repository that stands for everything public."""
        return f"{self.server.url}/repository/maven-public"

    @property
    def releases(self) -> str:
        """Address of the hosted repository for releases."""
        return f"{self.server.url}/repository/maven-releases"

    @property
    def snapshots(self) -> str:
        """Address of the hosted repository for snapshots."""
        return f"{self.server.url}/repository/maven-snapshots"

    @property
    def local_repository(self) -> Path:
        """Maven's cache in the account's home folder."""
        return self.world.home / ".m2" / "repository"

    def rule(self, path: str, answer: Answer, *, method: str = "GET|HEAD", times: int | None = None) -> None:
        """Answer requests for this path like that."""
        self.rules.append(Rule(path=path, answer=answer, method=method, times=times))

    def project(self, text: str, *, sources: bool = True) -> None:
        """The build file, and one class."""
        self.world.write("pom.xml", text)
        if sources:
            self.world.write("src/main/java/example/brackwater/fares/FareTable.java", MAIN)

    def settings(self, text: str) -> None:
        """The account's settings file."""
        self.world.write("/home/ci/.m2/settings.xml", text)

    def distrust(self) -> None:
        """Maven's JVM keeps its own trust store, which does not know the lab's authority."""
        self.options[:] = [each for each in self.options if "trustStore" not in each]

    def other_server(
        self, host: str, certificate_for: str, *, expired: bool = False, stranger: bool = False
    ) -> RuleServer:
        """Start a second server with the same areas, reached as `host` and showing the given certificate.

        `stranger`: from an authority that nobody trusts.
        """
        signer = maven_tools.stranger() if stranger else maven_tools.authority()
        bundle = signer.issue(certificate_for, expired=expired)
        server = RuleServer(areas=self.areas, rules=self.rules, tls=server_context(bundle), name=host)
        self.stack.enter_context(server)
        self.ports[server.port] = host
        return server

    def real_names(self) -> None:
        """Host names are looked up as the machine does it; the mirror is reached by number."""
        self.options[:] = [each for each in self.options if "jdk.net.hosts.file" not in each]
        mirror = f"{self.plain_server().loopback_url}/repository/maven-public"
        self.settings(settings(mirror=mirror, mirror_of="central"))

    def plain_server(self) -> RuleServer:
        """A second server with the same areas and rules, without TLS."""
        server = self.stack.enter_context(RuleServer(areas=self.areas, rules=self.rules, name=REPOSITORY))
        self.ports[server.port] = REPOSITORY
        return server


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One row: which Maven does what, and what must come of it."""

    slug: str
    maven: str
    setup: Callable[[Stage], None]
    command: str
    failure: str | None
    root: str | None = None
    """Pattern of the root line: its first match in the output is the expected line."""
    jdk: str = "17"
    outcome: str = "failed"
    also: str | None = None
    """Another pattern that must be printed, so that the run is the one meant."""
    killed_after: float | None = None
    """Seconds after which the run is killed, as an agent that goes away would do it."""
    cold: bool = False
    """Start with an empty local repository, so that everything is downloaded in the log."""

    @property
    def name(self) -> str:
        """Name of the fixture, without its end."""
        return f"maven-{self.maven}-{self.slug}"

    @property
    def phase(self) -> str | None:
        """The failure's phase: the first word of its id."""
        return self.failure.split("-")[0] if self.failure else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """A scenario's outcome: the scrubbed output, and what the server saw."""

    output: str
    run: Run
    requests: tuple[tuple[str, str, str | None, int], ...]

    @classmethod
    def of_text(cls, output: str) -> Played:
        """A log that was kept, as if it had just been played."""
        return cls(output=output, run=Run(output=output, status=0, seconds=0, timed_out=False), requests=())

    def line_of(self, pattern: str) -> int | None:
        """Number of the first line that matches, counted as `grep -n` does."""
        lines = self.output.split("\n")
        return next((n for n, line in enumerate(lines, 1) if re.search(pattern, line)), None)


def play(scenario: Scenario) -> Played:
    """Set the scenario up, run Maven, scrub."""
    with contextlib.ExitStack() as stack:
        stage = stack.enter_context(_stage(scenario, stack))
        if not scenario.cold:
            _hard_links(_warm_repository(scenario.maven), stage.local_repository)
        scenario.setup(stage)
        environment = stage.world.environment(stage.env)
        environment.setdefault("MAVEN_OPTS", " ".join(stage.options))
        mvn = [str(maven_tools.maven_home(scenario.maven) / "bin" / "mvn")]
        for arguments in stage.before:
            run([*mvn, *arguments], stage.world, environment)
        if stage.between:
            stage.between()
        limit = scenario.killed_after or 180
        done = run([*(stage.launcher or mvn), *_arguments(scenario, stage)], stage.world, environment, timeout=limit)
        scrubber = _scrubber(scenario, stage)
        seen = tuple((r.method, r.path, r.user, status) for r, status in stage.server.requests)
        return Played(output=scrubber(done.output), run=done, requests=seen)


def _warm_repository(version: str) -> Path:
    """A local repository filled by one successful build of this Maven version; made once."""
    kept = maven_tools.cache() / f"local-{version}"
    with _WARMING:
        return kept if kept.is_dir() else _warm(version, kept)


def _warm(version: str, kept: Path) -> Path:
    row = Scenario(slug="warm-up", maven=version, setup=_warm_up, command="mvn -B deploy", failure=None, cold=True)
    with contextlib.ExitStack() as stack:
        stage = stack.enter_context(_stage(row, stack))
        _warm_up(stage)
        environment = stage.world.environment(stage.env) | {"MAVEN_OPTS": " ".join(stage.options)}
        mvn = str(maven_tools.maven_home(version) / "bin" / "mvn")
        done = run([mvn, "-B", "clean", "deploy"], stage.world, environment, timeout=600)
        assert done.status == 0, f"the warm-up build of Maven {version} failed:\n{done.output[-4000:]}"
        part = kept.with_name(f"{kept.name}.part")
        shutil.rmtree(part, ignore_errors=True)
        shutil.copytree(stage.local_repository, part, ignore=_untracked)
        shutil.rmtree(part / "example", ignore_errors=True)
        part.rename(kept)
    return kept


def _untracked(folder: str, names: list[str]) -> list[str]:
    """Leave out what ties a file to the server it came from: the copy must work with any server."""
    tied = ("_remote.repositories", "resolver-status.properties", ".lastUpdated", ".repositories")
    return [name for name in names if name.endswith(tied) or name.startswith("maven-metadata")]


def _warm_up(stage: Stage) -> None:
    stage.project(pom(target=stage.releases, dependencies=[JUNIT4]))
    stage.world.write("src/test/java/example/brackwater/fares/FareTableTest.java", TEST4 % "410")


def _hard_links(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        shutil.copytree(source, target, copy_function=os.link)
    except (OSError, shutil.Error):
        shutil.rmtree(target, ignore_errors=True)
        shutil.copytree(source, target)


def _arguments(scenario: Scenario, stage: Stage) -> list[str]:
    """The command's words; ``{public}`` and the like name the stage's addresses."""
    words = scenario.command.split()[1:]
    names = {"public": stage.public, "releases": stage.releases, "snapshots": stage.snapshots}
    return [re.sub(r"\{(\w+)\}", lambda m: names[m[1]], word) for word in words]


@contextlib.contextmanager
def _stage(scenario: Scenario, stack: contextlib.ExitStack) -> Iterator[Stage]:
    world = stack.enter_context(temporary_world())
    rules: list[Rule] = []
    areas: dict[str, Area] = {
        "/repository/maven-public/": maven_tools.central(),
        "/repository/maven-releases/": Folder(root=world.base / "srv" / "releases"),
        "/repository/maven-snapshots/": Folder(root=world.base / "srv" / "snapshots"),
    }
    tls = server_context(maven_tools.authority().issue(REPOSITORY))
    server = stack.enter_context(RuleServer(areas=areas, rules=rules, tls=tls, name=REPOSITORY))
    hosts = world.write(
        "/home/ci/hosts", f"127.0.0.1 {REPOSITORY} proxy.brackwater.example builds.brackwater.example\n"
    )
    stage = Stage(
        world=world, server=server, rules=rules, areas=areas, stack=stack, ports={server.port: REPOSITORY},
        env={"JAVA_HOME": str(maven_tools.JDKS[scenario.jdk]), "PATH": "/usr/local/bin:/usr/bin:/bin"},
        options=[
            f"-Duser.home={world.home}", "-Duser.name=ci", f"-Djava.io.tmpdir={world.temp}", f"-Djdk.net.hosts.file={hosts}",
            f"-Djavax.net.ssl.trustStore={maven_tools.trust_store()}",
            "-Djavax.net.ssl.trustStorePassword=changeit", "-XX:TieredStopAtLevel=1", "-XX:+UseSerialGC",
        ],
    )  # fmt: skip
    stage.settings(settings(mirror=stage.public, servers={"brackwater-releases": ("ci-fares", "kept-secret")}))
    stage.project(pom(target=stage.releases))
    yield stage


def _scrubber(scenario: Scenario, stage: Stage) -> Scrubber:
    home = maven_tools.maven_home(scenario.maven)
    jdks = [(str(path), f"/opt/java/jdk-{number}") for number, path in maven_tools.JDKS.items()]
    jdks += [("/usr/lib/jvm/java-1.17.0-openjdk-amd64", "/opt/java/jdk-17")]
    places = [(str(home), f"/opt/apache-maven-{scenario.maven}"), (str(maven_tools.cache()), "/opt/ci")]
    bash = shutil.which("bash") or "/bin/bash"
    return Scrubber(
        base=stage.world.base,
        texts=[
            *jdks,
            *places,
            *stage.texts,
            (bash, "/bin/bash"),
            ("/etc/maven", f"/opt/apache-maven-{scenario.maven}/conf"),
        ],
        ports=stage.ports,
        public_hosts=[maven_tools.central_host()],
    )
