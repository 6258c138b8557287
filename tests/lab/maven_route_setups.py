"""Generates random Maven set-ups for the lab of routes: settings, and build files with parents and profiles.

Every declared repository has an address of its own (a path below one of the lab's servers), so that the path of a
request tells which declaration it came from. Ids come from a small pool, so that they meet and override each other.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["TWINS", "Generated", "generate"]

TWINS = ("dep", "snap", "plug", "up")
"""Each module four times: with a missing dependency, a missing snapshot, a missing plugin, and one that is uploaded."""

_IDS = ("fares", "harbour", "tides", "legacy-libs", "central", "tickets", "crew", "docks")
_PATTERNS = (
    "*", "external:*", "external:http:*", "{a}", "{a}", "{a},{b}", "*,!{a}", "external:*,!{a}", "!{a},*", "*,!{a},!central",
    "external:http:*,{a}", "{a},{b},{c}", "central", "external:*,!external:http:*", "!{a}", "*,{a},!{a}", "{a}, {b}", "*, !{a}",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Generated:
    """One set-up: file name to text (`{{NAME}}` stands for a server's address), -P ids, environment, number of modules."""

    files: dict[str, str]
    profiles: tuple[str, ...]
    environment: dict[str, str]
    modules: int


@dataclass(slots=True, kw_only=True)
class _Maker:
    dice: random.Random
    hosts: Sequence[str]
    count: int = 0

    def chance(self, share: float) -> bool:
        return self.dice.random() < share

    def url(self) -> str:
        self.count += 1
        return f"{self.dice.choice(self.hosts)}/r{self.count}"

    def build_url(self) -> str:
        """An address of a build file: now and then its server comes from a property."""
        url = self.url()
        return f"${{harbour.base}}/{url.rpartition('/')[2]}" if self.chance(0.2) else url

    def some_ids(self, most: int) -> list[str]:
        return self.dice.sample(_IDS, self.dice.randint(0, most))


def generate(seed: int, *, modules: int) -> Generated:
    """One set-up; `settings.xml` and `pom.xml` at the root, modules and parents in folders beside it."""
    make = _Maker(dice=random.Random(seed), hosts=("{{HTTPS}}", "{{HTTPS}}", "{{HTTP}}", "{{LOCALHOST}}", "{{NUMBER}}"))
    chosen = [name for name in ("chosen", "pom-chosen", "!by-default", "!listed") if make.chance(0.35)]
    files = {"settings.xml": _settings(make)}
    names: list[str] = []
    for module in range(modules):
        depth = make.dice.choice((0, 0, 1, 2))
        for level in range(depth, 0, -1):
            above = _parent(module, level + 1, "..") if level < depth else ""
            files[f"m{module}-parent{level}/pom.xml"] = _pom(make, f"m{module}-parent{level}", above, "pom", "")
        above = _parent(module, 1, "..") if depth else ""
        state, version = make.dice.getstate(), make.dice.choice(("1.4.0", "1.4.0-SNAPSHOT", "${fares.version}"))
        count = make.count
        for twin in TWINS:
            # The same draw for each twin, so that they differ only in what they ask for.
            make.dice.setstate(state)
            make.count = count
            name = f"m{module}-{twin}"
            names.append(name)
            files[f"{name}/pom.xml"] = _pom(
                make, name, above, "jar" if twin in {"dep", "snap"} else "pom", _wish(twin, module), version
            )
    listed = "".join(f"<module>{name}</module>" for name in names)
    files["pom.xml"] = (
        "<project><modelVersion>4.0.0</modelVersion><groupId>example.brackwater</groupId><artifactId>all</artifactId>"
        f"<version>1</version><packaging>pom</packaging><properties><maven.deploy.skip>true</maven.deploy.skip></properties>"
        f"<modules>{listed}</modules></project>"
    )
    environment = {"FARES_STAGE": "blue"} if make.chance(0.6) else {}
    return Generated(files=files, profiles=tuple(chosen), environment=environment, modules=modules)


def _wish(twin: str, module: int) -> str:
    """What a twin asks for; nobody has it."""
    name = f"<groupId>example.wanted</groupId><artifactId>m{module}-{twin}</artifactId>"
    if twin == "plug":
        run = "<executions><execution><id>x</id><phase>validate</phase><goals><goal>x</goal></goals></execution></executions>"
        return f"<build><plugins><plugin>{name}<version>1</version>{run}</plugin></plugins></build>"
    if twin == "up":
        return ""
    version = "1-SNAPSHOT" if twin == "snap" else "1"
    return f"<dependencies><dependency>{name}<version>{version}</version></dependency></dependencies>"


def _parent(module: int, level: int, up: str) -> str:
    return (
        f"<parent><groupId>example.brackwater</groupId><artifactId>m{module}-parent{level}</artifactId><version>7</version>"
        f"<relativePath>{up}/m{module}-parent{level}</relativePath></parent>"
    )


def _pom(make: _Maker, name: str, parent: str, packaging: str, wish: str, version: str = "7") -> str:  # noqa: PLR0917 (one element each)
    own = "".join(f"<{key}>{value}</{key}>" for key, value in _properties(make).items())
    profiles = "".join(
        _profile(make, each, in_build=True)
        for each in make.dice.sample(
            ("pom-chosen", "listed", "by-default", "file", "stage", "jdk"), make.dice.randint(0, 3)
        )
    )
    return (
        f"<project><modelVersion>4.0.0</modelVersion>{parent}<groupId>example.brackwater</groupId><artifactId>{name}</artifactId>"
        f"<version>{version}</version><packaging>{packaging}</packaging>"
        f"<properties><fares.version>2.0.{make.count}</fares.version>{own}</properties>{_repositories(make, 3, in_build=True)}"
        f"{_distribution(make, 0.6)}<profiles>{profiles}</profiles>{wish}</project>"
    )


def _properties(make: _Maker) -> dict[str, str]:
    found = {"harbour.base": make.dice.choice(make.hosts)}
    if make.chance(0.15):
        name = make.dice.choice(
            ("altDeploymentRepository", "altReleaseDeploymentRepository", "altSnapshotDeploymentRepository")
        )
        found[name] = f"{make.dice.choice(_IDS)}::{{{{LAYOUT}}}}{make.url()}"
    return found


def _repositories(make: _Maker, most: int, *, in_build: bool) -> str:
    parts = []
    for plural, single in (("repositories", "repository"), ("pluginRepositories", "pluginRepository")):
        inner = "".join(
            f"<{single}>{_repository(make, each, in_build=in_build)}</{single}>" for each in make.some_ids(most)
        )
        parts.append(f"<{plural}>{inner}</{plural}>")
    return "".join(parts)


def _repository(make: _Maker, name: str, *, in_build: bool) -> str:
    policy = "".join(
        f"<{kind}><enabled>{make.dice.choice(('true', 'false'))}</enabled></{kind}>"
        for kind in ("releases", "snapshots")
        if make.chance(0.3)
    )
    return f"<id>{name}</id><url>{make.build_url() if in_build else make.url()}</url>{policy}"


def _distribution(make: _Maker, share: float) -> str:
    if not make.chance(share):
        return ""
    parts = [
        f"<{kind}><id>{make.dice.choice(_IDS)}</id><url>{make.build_url()}</url></{kind}>"
        for kind in ("repository", "snapshotRepository")
        if make.chance(0.7)
    ]
    return f"<distributionManagement>{''.join(parts)}</distributionManagement>"


_CONDITIONS = {
    "by-default": "<activeByDefault>true</activeByDefault>",
    "file": "<file><exists>${basedir}/pom.xml</exists></file>",
    "stage": "<property><name>env.FARES_STAGE</name><value>blue</value></property>",
    "jdk": "<jdk>[11,18)</jdk>",
    "no-stage": "<property><name>!env.FARES_STAGE</name></property>",
    "unix": "<os><family>unix</family></os>",
}


def _profile(make: _Maker, name: str, *, in_build: bool) -> str:
    condition = _CONDITIONS.get(name, "")
    more = _CONDITIONS["jdk"] if name in {"stage", "file"} and make.chance(0.3) else ""
    target = _distribution(make, 0.3) if in_build else ""
    return f"<profile><id>{name}</id><activation>{condition}{more}</activation>{_repositories(make, 2, in_build=in_build)}{target}</profile>"


def _settings(make: _Maker) -> str:
    mirror_ids = make.dice.sample(
        ("quay-one", "quay-two", "quay-three", "quay-four", "quay-five", "tides"), make.dice.randint(0, 5)
    )
    mirrors = "".join(_mirror(make, each) for each in mirror_ids)
    known = (*_IDS, *mirror_ids)
    servers = "".join(
        f"<server><id>{each}</id><username>{each}-{{{{USER}}}}</username><password>pass-{each}</password></server>"
        for each in known
        if make.chance(0.6)
    )
    if make.chance(0.3):
        # A second entry for an id: the first one counts.
        servers += f"<server><id>{make.dice.choice(known)}</id><username>second-{{{{USER}}}}</username><password>pass</password></server>"
    names = make.dice.sample(
        ("chosen", "listed", "by-default", "stage", "no-stage", "jdk", "never", "unix"), make.dice.randint(1, 5)
    )
    profiles = "".join(_profile(make, each, in_build=False) for each in names)
    proxy = "".join(
        f"<proxy><id>p-{each}</id><active>true</active><protocol>{each}</protocol><host>127.0.0.1</host><port>{{{{PORT}}}}</port>"
        "<nonProxyHosts>*.example|localhost|127.0.0.1</nonProxyHosts></proxy>"
        for each in ("http", "https")
    )
    return (
        f"<settings><proxies>{proxy}</proxies><servers>{servers}</servers><mirrors>{mirrors}</mirrors><profiles>{profiles}</profiles>"
        "<activeProfiles><activeProfile>listed</activeProfile></activeProfiles></settings>"
    )


def _mirror(make: _Maker, name: str) -> str:
    a, b, c = make.dice.sample(_IDS, 3)
    pattern = make.dice.choice(_PATTERNS).format(a=a, b=b, c=c)
    layouts = make.dice.choice(
        (
            "",
            "",
            "",
            "",
            "<mirrorOfLayouts>legacy</mirrorOfLayouts>",
            "<mirrorOfLayouts>*,!default</mirrorOfLayouts>",
            "<mirrorOfLayouts>default</mirrorOfLayouts>",
        )
    )
    blocked = "<blocked>true</blocked>" if make.chance(0.1) else ""
    return f"<mirror><id>{name}</id><url>{make.url()}</url><mirrorOf>{pattern}</mirrorOf>{layouts}{blocked}</mirror>"
