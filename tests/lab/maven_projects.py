"""Build files, settings files and sources of the made-up project that the Maven lab builds."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["BROKEN_TEST", "JUNIT4", "JUNIT5", "MAIN", "TEST4", "TEST5", "dependency", "plugin", "pom", "settings"]

_PROJECT = (
    '<project xmlns="http://maven.apache.org/POM/4.0.0" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" '
    'xsi:schemaLocation="http://maven.apache.org/POM/4.0.0 https://maven.apache.org/xsd/maven-4.0.0.xsd">'
)

MAIN = """package example.brackwater.fares;

public class FareTable {
    public int adult(int zones) {
        return 240 + 85 * zones;
    }
}
"""

TEST4 = """package example.brackwater.fares;

import static org.junit.Assert.assertEquals;
import org.junit.Test;

public class FareTableTest {
    @Test
    public void adultFareRisesByZone() {
        assertEquals(%s, new FareTable().adult(2));
    }
}
"""

TEST5 = """package example.brackwater.fares;

import static org.junit.jupiter.api.Assertions.assertEquals;
import org.junit.jupiter.api.Test;

class FareTableTest {
    @Test
    void adultFareRisesByZone() {
        assertEquals(%s, new FareTable().adult(2));
    }

    @Test
    void childTravelsFree() {
        %s
    }
}
"""

BROKEN_TEST = 'throw new IllegalStateException("no tariff for zone 7");'


def dependency(coordinates: str, *, scope: str | None = None, kind: str | None = None) -> str:
    """A dependency element from ``group:artifact:version``; without the version none is written."""
    group, artifact, *version = coordinates.split(":")
    inner = f"<groupId>{group}</groupId><artifactId>{artifact}</artifactId>"
    inner += f"<version>{version[0]}</version>" if version else ""
    inner += f"<type>{kind}</type>" if kind else ""
    inner += f"<scope>{scope}</scope>" if scope else ""
    return f"<dependency>{inner}</dependency>"


JUNIT4 = dependency("junit:junit:4.13.2", scope="test")
JUNIT5 = dependency("org.junit.jupiter:junit-jupiter:5.10.2", scope="test")


def plugin(coordinates: str, configuration: str = "", *, executions: str = "", extra: str = "") -> str:
    """A plugin element; without a group it is one of Maven's own."""
    if coordinates.count(":") == 1:
        coordinates = f"org.apache.maven.plugins:{coordinates}"
    group, artifact, version = coordinates.split(":")
    inner = f"<groupId>{group}</groupId><artifactId>{artifact}</artifactId><version>{version}</version>"
    inner += f"<configuration>{configuration}</configuration>" if configuration else ""
    inner += f"<executions>{executions}</executions>" if executions else ""
    return f"<plugin>{inner}{extra}</plugin>"


def pom(
    name: str = "fares-core",
    *,
    version: str = "1.4.0",
    packaging: str = "jar",
    properties: Mapping[str, str] | None = None,
    dependencies: Sequence[str] = (),
    plugins: Sequence[str] = (),
    modules: Sequence[str] = (),
    parent: str = "",
    target: str | None = None,
    extra: str = "",
) -> str:
    """A build file; `target` is the address of the repository to deploy releases and snapshots to."""
    level = {"maven.compiler.source": "1.8", "maven.compiler.target": "1.8", "project.build.sourceEncoding": "UTF-8"}
    values = level | dict(properties or {})
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', _PROJECT, "  <modelVersion>4.0.0</modelVersion>"]
    lines += [f"  {parent}"] if parent else ["  <groupId>example.brackwater.fares</groupId>"]
    lines += [f"  <artifactId>{name}</artifactId>"] + ([] if parent else [f"  <version>{version}</version>"])
    lines += [f"  <packaging>{packaging}</packaging>", "  <properties>"]
    lines += [f"    <{key}>{value}</{key}>" for key, value in values.items()] + ["  </properties>"]
    if modules:
        lines += ["  <modules>", *(f"    <module>{module}</module>" for module in modules), "  </modules>"]
    if target:
        lines += ["  <distributionManagement>"]
        lines += [f"    <repository><id>brackwater-releases</id><url>{target}</url></repository>"]
        lines += [f"    <snapshotRepository><id>brackwater-snapshots</id><url>{target}</url></snapshotRepository>"]
        lines += ["  </distributionManagement>"]
    if dependencies:
        lines += ["  <dependencies>", *(f"    {each}" for each in dependencies), "  </dependencies>"]
    if plugins:
        lines += ["  <build><plugins>", *(f"    {each}" for each in plugins), "  </plugins></build>"]
    return "\n".join([*lines, extra, "</project>", ""])


def settings(
    *,
    mirror: str | None,
    mirror_of: str = "*",
    mirror_id: str = "brackwater",
    servers: Mapping[str, tuple[str, str]] | None = None,
    extra: str = "",
) -> str:
    """A user's settings file with one mirror and server entries (id to user and password)."""
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<settings xmlns="http://maven.apache.org/SETTINGS/1.0.0">']
    if servers:
        lines += ["  <servers>"]
        for name, (user, password) in servers.items():
            inner = f"<id>{name}</id><username>{user}</username><password>{password}</password>"
            lines += [f"    <server>{inner}</server>"]
        lines += ["  </servers>"]
    if mirror:
        inner = f"<id>{mirror_id}</id><mirrorOf>{mirror_of}</mirrorOf><url>{mirror}</url>"
        lines += [f"  <mirrors><mirror>{inner}</mirror></mirrors>"]
    return "\n".join([*lines, extra, "</settings>", ""])
