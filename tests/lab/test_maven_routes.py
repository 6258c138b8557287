"""Holds computed routes against where real Maven versions go: every repository asked, by address and account."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from logdoctor.setup_files.maven import read_maven
from logdoctor.setup_files.values import BUILT_IN
from tests.lab import maven_tools
from tests.lab.maven_route_setups import TWINS, generate
from tests.lab.maven_stage import _hard_links, _warm_repository
from tests.lab.rule_server import Answer, Request, Rule, RuleServer
from tests.lab.rule_server_tls import server_context
from tests.lab.runner import run, temporary_world

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logdoctor.setup_files.values import Route
    from tests.lab.maven_route_setups import Generated
    from tests.lab.runner import World

pytestmark = pytest.mark.lab

VERSIONS = ("3.6.3", "3.8.7", "3.9.9")
SEEDS = range(1, 17)
MODULES = 4
_NONE: set[str] = set()
FLOOR = 600
HOST = "repo.brackwater.example"

Asked = frozenset[tuple[str, str | None]]
"""Address (the path's first part, or the built-in repository) and account."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One twin's routes: computed and seen."""

    label: str
    computed: Asked
    seen: Asked
    routes: int


def test_routes_are_those_of_the_real_tool() -> None:
    if not maven_tools.available():
        pytest.skip("needs Maven, two JDKs and openssl")
    rows = [(version, seed) for version in VERSIONS for seed in SEEDS]
    with ThreadPoolExecutor(2) as pool:
        compared = [each for group in pool.map(lambda row: _play(*row), rows) for each in group]
    differing = [each for each in compared if each.computed != each.seen]
    assert not differing, "\n".join(
        f"{each.label}: computed only {sorted(map(str, each.computed - each.seen))}, seen only {sorted(map(str, each.seen - each.computed))}"
        for each in differing
    )
    assert sum(each.routes for each in compared) >= FLOOR
    assert sum(len(each.seen) for each in compared) >= FLOOR, "most routes were never taken"


def _play(version: str, seed: int) -> list[Compared]:
    """Write one set-up down, let Maven loose on it, and compare every twin."""
    made = generate(seed, modules=MODULES)
    tls = server_context(maven_tools.authority().issue(HOST))
    with (
        temporary_world() as world,
        RuleServer(tls=tls, rules=[_asks_for_account()], name=HOST) as safe,
        RuleServer(rules=[_asks_for_account()], name=HOST) as plain,
    ):
        _write(made, world, version, safe, plain)
        _hard_links(_warm_repository(version), world.home / ".m2" / "repository")
        output = _maven(made, world, version)
        requests = [request for server in (safe, plain) for request, _ in server.requests]
        return [
            _compare(f"{version} seed {seed} m{n}-{twin}", made, world, output, requests)
            for n in range(MODULES)
            for twin in TWINS
        ]


def _asks_for_account() -> Rule:
    """Who comes without an account is asked for one, so that it shows whether there is one; files there are none."""
    return Rule(path="", method="GET|HEAD|PUT|CONNECT", answer=lambda request: Answer(status=_status(request)))


def _status(request: Request) -> int:
    if request.method == "CONNECT":
        return 403
    if request.user is None:
        return 401
    return 201 if request.method == "PUT" else 404


def _write(made: Generated, world: World, version: str, safe: RuleServer, plain: RuleServer) -> None:
    names = {
        "HTTPS": safe.url,
        "HTTP": plain.url,
        "LOCALHOST": f"http://localhost:{plain.port}",
        "NUMBER": plain.loopback_url,
        "PORT": str(plain.port),
        "USER": "ci",
        "LAYOUT": "default::" if version < "3.9" else "",
    }
    for name, text in made.files.items():
        world.write(name, re.sub(r"\{\{(\w+)\}\}", lambda found: names[found[1]], text))
    world.write("/home/ci/hosts", f"127.0.0.1 {HOST} localhost\n")


def _maven(made: Generated, world: World, version: str) -> str:
    options = [
        f"-Duser.home={world.home}", f"-Djdk.net.hosts.file={world.home / 'hosts'}", "-XX:TieredStopAtLevel=1", "-XX:+UseSerialGC",
        f"-Djavax.net.ssl.trustStore={maven_tools.trust_store()}", "-Djavax.net.ssl.trustStorePassword=changeit",
    ]  # fmt: skip
    given = {"JAVA_HOME": str(maven_tools.JDKS["17"]), "MAVEN_OPTS": " ".join(options), **made.environment}
    chosen = ["-P", ",".join(made.profiles)] if made.profiles else []
    command = [
        str(maven_tools.maven_home(version) / "bin" / "mvn"),
        "-B",
        "-fae",
        "-s",
        "settings.xml",
        *chosen,
        "deploy",
    ]
    return run(command, world, world.environment(given), timeout=150).output


def _compare(label: str, made: Generated, world: World, output: str, requests: Sequence[Request]) -> Compared:
    version, *_, module = label.split()
    setup = read_maven(
        world.project / "settings.xml",
        [world.project / module / "pom.xml"],
        environment=world.environment({"JAVA_HOME": str(maven_tools.JDKS["17"]), **made.environment}),
        maven_version=version,
        active_profiles=made.profiles,
    )
    assert not [each for each in setup.incomplete if "is not known" in each], (label, setup.incomplete)
    twin = module.partition("-")[2]
    routes = [
        each
        for each in setup.routes
        if (each.direction == "upload") == (twin == "up") and (each.kind == "plugin") == (twin == "plug")
    ]
    blocked = (
        _NONE
        if version == "3.6.3"
        else set(re.findall(r"<id>([^<]+)</id>(?:(?!<id>).)*?<blocked>true", made.files["settings.xml"]))
        | {"maven-default-http-blocker"}
    )
    version_fact = next(str(each.value) for each in setup.facts if each.name.startswith("version:"))
    computed = (
        _upload(routes, snapshot="SNAPSHOT" in version_fact)
        if twin == "up"
        else _downloads(routes, blocked, snapshot=twin == "snap")
    )
    return Compared(
        label=label,
        computed=computed,
        seen=_seen(module, output, requests, _blocked_addresses(made)),
        routes=len(routes),
    )


def _upload(routes: Sequence[Route], *, snapshot: bool) -> Asked:
    """The target for the build's kind of version; without one nothing is uploaded."""
    kind = "snapshot" if snapshot else "release"
    return frozenset((_token(each.url), each.user) for each in routes if each.kind == kind)


def _downloads(routes: Sequence[Route], blocked: set[str], *, snapshot: bool) -> Asked:
    """Repositories that end up with one id are one: asked where any of them may be asked."""
    groups: dict[str, list[Route]] = {}
    for each in routes:
        groups.setdefault(each.mirror_id or each.repository_id, []).append(each)
    asked = set()
    for name, group in groups.items():
        through_blocked = name in blocked and group[0].mirror_id is not None
        if not through_blocked and any(each.snapshots if snapshot else each.releases for each in group):
            address = _token(group[0].mirror_url or group[0].url)
            asked.add((address, None if address == BUILT_IN else group[0].user))
    return frozenset(asked)


def _token(url: str) -> str:
    return url if url == BUILT_IN else url.split("/")[3]


def _blocked_addresses(made: Generated) -> frozenset[str]:
    """The first part of blocked mirrors' paths; a request through the proxy (to the default one) has an empty one."""
    mirrors = re.findall(r"<mirror>.*?</mirror>", made.files["settings.xml"])
    return frozenset(re.findall(r"/(r\d+)</url>", "".join(each for each in mirrors if "<blocked>true" in each))) | {""}


def _seen(module: str, output: str, requests: Sequence[Request], blocked: frozenset[str]) -> Asked:
    """What the servers were asked for this twin; the public registry's requests, which no server got, by the output."""
    wanted, own = f"/example/wanted/{module}/", f"/example/brackwater/{module}/"
    seen: dict[str, str | None] = {}
    for request in requests:
        if wanted in request.path or own in request.path:
            token = request.path.split("/")[1]
            if token in blocked and request.path.endswith("maven-metadata.xml"):
                continue  # Maven 3.8 asks a blocked mirror for a snapshot's metadata before it refuses the artifact
            seen[token] = request.user or seen.get(token)
    if f"https://{maven_tools.central_host()}/maven2{wanted}" in output:
        seen[BUILT_IN] = None
    return frozenset(seen.items())
