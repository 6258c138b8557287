"""Writes small Maven set-ups for tests and reads them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.setup_files.maven import read_maven

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from logdoctor.setup_files.values import Route, Setup

__all__ = [
    "PUBLIC",
    "RELEASES",
    "SNAPSHOTS",
    "Files",
    "build",
    "codes",
    "grave",
    "mirror",
    "repository",
    "server",
    "settings",
]

PUBLIC = "https://repo.brackwater.example/repository/maven-public"
RELEASES = "https://repo.brackwater.example/repository/maven-releases"
SNAPSHOTS = "https://repo.brackwater.example/repository/maven-snapshots"


def repository(name: str, url: str, tag: str = "repository", more: str = "") -> str:
    return f"<{tag}><id>{name}</id><url>{url}</url>{more}</{tag}>"


def mirror(name: str = "brackwater", of: str = "*", url: str = PUBLIC, more: str = "") -> str:
    return f"<mirror><id>{name}</id><url>{url}</url><mirrorOf>{of}</mirrorOf>{more}</mirror>"


def server(name: str, password: str = "${env.REPO_PASSWORD}", user: str = "ci-fares") -> str:
    return f"<server>\n<id>{name}</id><username>{user}</username>\n<password>{password}</password></server>"


def settings(
    *, servers: str = "", mirrors: str = "", profiles: str = "", active: Sequence[str] = (), more: str = ""
) -> str:
    named = "".join(f"<activeProfile>{each}</activeProfile>" for each in active)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<settings xmlns="http://maven.apache.org/SETTINGS/1.2.0">\n'
        f"<servers>{servers}</servers>\n<mirrors>{mirrors}</mirrors>\n<profiles>{profiles}</profiles>\n"
        f"<activeProfiles>{named}</activeProfiles>\n{more}</settings>"
    )


def build(
    body: str = "",
    *,
    version: str = "1.4.0",
    artifact: str = "fares-core",
    parent: str = "",
    packaging: str = "jar",
    release: str = "",
    snapshot: str = "",
    site: str = "",
) -> str:
    targets = [
        repository(name, url, tag)
        for tag, target in (("repository", release), ("snapshotRepository", snapshot), ("site", site))
        if target
        for name, _, url in [target.partition(" ")]
    ]
    own = f"<version>{version}</version>" if version else ""
    management = f"<distributionManagement>{''.join(targets)}</distributionManagement>" if targets else ""
    return (
        f"<project>\n<modelVersion>4.0.0</modelVersion>\n{parent}<groupId>example.brackwater.fares</groupId>\n"
        f"<artifactId>{artifact}</artifactId>{own}<packaging>{packaging}</packaging>\n{management}\n{body}</project>"
    )


class Files:
    """A folder with an account's home and a work tree."""

    def __init__(self, base: Path) -> None:
        self.base = base
        self.home = base / "home" / "ci"
        self.tree = base / "work" / "fares"
        self.tree.mkdir(parents=True)
        (self.tree / ".git").mkdir()

    def write(self, name: str, text: str) -> Path:
        """A file of the work tree; `~/` is the home folder."""
        target = self.home / name[2:] if name.startswith("~/") else self.tree / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")
        return target

    def read(
        self,
        environment: Mapping[str, str] | None = None,
        version: str | None = "3.9.9",
        profiles: Sequence[str] = (),
        java: str | None = None,
    ) -> Setup:
        """Read `~/.m2/settings.xml` (or the tree's `settings.xml`) and `pom.xml`, where they are there."""
        candidates = (self.home / ".m2" / "settings.xml", self.tree / "settings.xml")
        chosen = next((each for each in candidates if each.exists()), None)
        builds = [self.tree / "pom.xml"] if (self.tree / "pom.xml").exists() else []
        toolchains = self.home / ".m2" / "toolchains.xml"
        return read_maven(
            chosen,
            builds,
            toolchains if toolchains.exists() else None,
            environment,
            version,
            profiles,
            java_version=java,
        )


def codes(setup: Setup) -> set[str]:
    return {each.code for each in setup.remarks}


def grave(setup: Setup) -> set[str]:
    """Codes of errors and warnings."""
    return {each.code for each in setup.remarks if each.severity != "note"}


def route(setup: Setup, name: str, kind: str = "dependency") -> Route:
    return next(each for each in setup.routes if each.repository_id == name and each.kind == kind)
