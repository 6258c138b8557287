"""Build files put together: parents, profiles, modules, properties; and what can't be known."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.setup_files.maven_support import (
    PUBLIC,
    RELEASES,
    SNAPSHOTS,
    Files,
    build,
    mirror,
    repository,
    route,
    server,
    settings,
)

if TYPE_CHECKING:
    from pathlib import Path

    from logdoctor.setup_files.values import Setup


def _parent(version: str = "7", path: str | None = None, artifact: str = "parent") -> str:
    relative = "" if path is None else f"<relativePath>{path}</relativePath>"
    return f"<parent><groupId>example.brackwater.fares</groupId><artifactId>{artifact}</artifactId><version>{version}</version>{relative}</parent>"


def _repositories(*names: str, base: str = "https://tides.public.example") -> str:
    return f"<repositories>{''.join(repository(name, f'{base}/{name}') for name in names)}</repositories>"


def _profile(name: str, activation: str = "", content: str | None = None, properties: str = "") -> str:
    return f"<profile><id>{name}</id><activation>{activation}</activation>{properties}{content or _repositories(name)}</profile>"


def _ids(setup: Setup, kind: str = "dependency") -> list[str]:
    return [each.repository_id for each in setup.routes if each.kind == kind]


def test_order_is_settings_profile_then_profile_then_file_then_parent_then_central(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write("~/.m2/settings.xml", settings(profiles=_profile("settings-one"), active=["settings-one"]))
    files.write("pom.xml", build(_repositories("above"), artifact="parent", version="7", packaging="pom"))
    files.write(
        "core/pom.xml",
        build(
            _repositories("own") + f"<profiles>{_profile('on', '<activeByDefault>true</activeByDefault>')}</profiles>",
            parent=_parent(),
        ),
    )
    files.tree = files.tree / "core"
    assert _ids(files.read()) == ["settings-one", "on", "own", "above", "central"]


def test_an_id_declared_again_replaces_the_parents_and_central(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write("~/.m2/settings.xml", settings(mirrors=mirror("m", "other")))
    files.write("pom.xml", build(_repositories("central", base="https://c.public.example")))
    found = files.read()
    assert route(found, "central").url == "https://c.public.example/central"
    assert route(found, "central", "plugin").declared is None


@pytest.mark.parametrize(
    ("parent", "incomplete"),
    [
        (_parent(), False),
        (_parent(path="../pom.xml"), False),
        (_parent(path=".."), False),
        (_parent(version="8"), True),
        (_parent(artifact="other"), True),
        (_parent(path=""), True),
        (_parent(path="../nowhere/pom.xml"), True),
    ],
)
def test_parent_is_found_by_path_and_coordinates(parent: str, incomplete: bool, tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write("pom.xml", build(_repositories("above"), artifact="parent", version="7", packaging="pom"))
    files.write("core/pom.xml", build(parent=parent))
    files.tree = files.tree / "core"
    found = files.read()
    assert (
        any("is not on disk" in each and "example.brackwater.fares:" in each for each in found.incomplete) is incomplete
    )
    assert ("above" in _ids(found)) is not incomplete


def test_parent_in_the_same_reactor_is_found_without_a_path(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write(
        "pom.xml",
        build("<modules><module>bom</module><module>core</module></modules>", artifact="all", packaging="pom"),
    )
    files.write("bom/pom.xml", build(_repositories("above"), artifact="parent", version="7", packaging="pom"))
    files.write("core/pom.xml", build(parent=_parent(path="")))
    found = files.read()
    assert "above" in _ids(found)
    assert not any("not on disk" in each for each in found.incomplete)


def test_parent_in_the_local_repository_is_found(tmp_path: Path) -> None:
    files = Files(tmp_path)
    local = tmp_path / "local"
    files.write("~/.m2/settings.xml", settings(more=f"<localRepository>{local}</localRepository>"))
    target = local / "example" / "brackwater" / "fares" / "parent" / "7" / "parent-7.pom"
    target.parent.mkdir(parents=True)
    target.write_text(build(_repositories("above"), artifact="parent", version="7", packaging="pom"))
    files.write("pom.xml", build(parent=_parent(path="")))
    assert "above" in _ids(files.read())


def test_parents_in_a_circle_end(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write("pom.xml", build(artifact="parent", version="7", parent=_parent(path="core/pom.xml", artifact="core")))
    files.write("core/pom.xml", build(artifact="core", version="7", parent=_parent()))
    assert any("not on disk" in each for each in files.read().incomplete)


def test_properties_of_the_child_fill_the_parents_addresses(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write(
        "pom.xml",
        build(
            "<properties><quay>east</quay></properties>" + _repositories("r", base="https://${quay}.public.example"),
            artifact="parent",
            version="7",
            packaging="pom",
        ),
    )
    files.write("core/pom.xml", build("<properties><quay>west</quay></properties>", parent=_parent()))
    files.tree = files.tree / "core"
    assert route(files.read(), "r").url == "https://west.public.example/r"


@pytest.mark.parametrize(
    ("text", "filled"),
    [
        ("${project.artifactId}", "fares-core"),
        ("${pom.version}", "1.4.0"),
        ("${env.QUAY}", "east"),
        ("${twice}", "one-one"),
        ("${loop}", "${loop}"),
        ("${nobody}", "${nobody}"),
        ("$unfilled", "$unfilled"),
    ],
)
def test_references(text: str, filled: str, tmp_path: Path) -> None:
    files = Files(tmp_path)
    body = "<properties><one>one</one><twice>${one}-${one}</twice><loop>${pool}</loop><pool>${loop}</pool></properties>"
    files.write("~/.m2/settings.xml", settings())
    files.write(
        "pom.xml", build(body + f"<repositories>{repository('r', f'https://x.public.example/{text}')}</repositories>")
    )
    found = route(files.read({"QUAY": "east"}), "r")
    assert found.url == f"https://x.public.example/{filled}"
    assert (found.incomplete is not None) is ("${" in filled)


def test_properties_that_multiply_stay_bounded(tmp_path: Path) -> None:
    files = Files(tmp_path)
    lines = "".join(f"<p{n}>{f'${{p{n + 1}}}' * 10}</p{n}>" for n in range(30))
    files.write(
        "pom.xml", build(f"<properties>{lines}<p30>x</p30></properties>" + _repositories("r", base="https://${p0}"))
    )
    assert len(route(files.read(), "r").url) < 40_000


_DECIDED = [
    ("<activeByDefault>true</activeByDefault>", True),
    ("<jdk>17</jdk>", True),
    ("<jdk>1.8</jdk>", False),
    ("<jdk>!1.8</jdk>", True),
    ("<jdk>[11,18)</jdk>", True),
    ("<jdk>[11,17)</jdk>", False),
    ("<jdk>(,11],[17,)</jdk>", True),
    ("<property><name>env.CI</name></property>", True),
    ("<property><name>env.CI</name><value>true</value></property>", True),
    ("<property><name>env.CI</name><value>!true</value></property>", False),
    ("<property><name>!env.CI</name></property>", False),
    ("<property><name>env.NONE</name></property>", False),
    ("<file><exists>pom.xml</exists></file>", True),
    ("<file><missing>${basedir}/pom.xml</missing></file>", False),
    ("<os><family>unix</family></os>", True),
    ("<os><family>windows</family></os>", False),
    ("<os><family>!windows</family></os>", True),
    ("<jdk>17</jdk><property><name>env.NONE</name></property>", False),
]


@pytest.mark.parametrize(("activation", "active"), _DECIDED, ids=[each for each, _ in _DECIDED])
def test_activation(activation: str, active: bool, tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write("~/.m2/settings.xml", settings())
    files.write("pom.xml", build(f"<profiles>{_profile('p', activation)}</profiles>"))
    found = files.read({"CI": "true", "PATH": "/usr/bin"}, java="17.0.9")
    assert ("p" in _ids(found)) is active
    assert found.incomplete == ()


@pytest.mark.parametrize(
    ("activation", "doubt"),
    [
        ("<jdk>17</jdk>", "JDK"),
        ("<os><family>mac</family></os>", "operating system"),
        ("<property><name>stage</name></property>", "-Dstage"),
        ("<property><name>env.CI</name></property>", "variable CI"),
        ("<file><exists>${stage}/x</exists></file>", "${stage}"),
    ],
)
def test_activation_that_can_not_be_decided_is_said(activation: str, doubt: str, tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write("pom.xml", build(f"<profiles>{_profile('p', activation)}</profiles>"))
    assert any(doubt in each and "profile p" in each for each in files.read().incomplete)


def test_active_by_default_gives_way_in_its_own_file_only(tmp_path: Path) -> None:
    files = Files(tmp_path)
    by_default = "<activeByDefault>true</activeByDefault>"
    files.write("~/.m2/settings.xml", settings(profiles=_profile("s-default", by_default)))
    files.write("pom.xml", build(f"<profiles>{_profile('b-default', by_default)}{_profile('chosen')}</profiles>"))
    assert set(_ids(files.read())) == {"s-default", "b-default", "central"}
    assert set(_ids(files.read(profiles=["chosen"]))) == {"s-default", "chosen", "central"}
    assert set(_ids(files.read(profiles=["!b-default", "-s-default"]))) == {"central"}


def test_options_of_the_build_are_read(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write(".mvn/maven.config", "-Pchosen\n-Dquay=east\n--settings\nci/settings.xml\n")
    files.write("ci/settings.xml", settings(mirrors=mirror("m", "central")))
    files.write(
        "pom.xml",
        build(
            f"<profiles>{_profile('chosen', content=_repositories('r', base='https://${quay}.public.example'))}</profiles>"
        ),
    )
    found = files.read()
    assert route(found, "r").url == "https://east.public.example/r"
    assert route(found, "central").mirror_id == "m"


def test_upload_targets_follow_version_and_alternatives(tmp_path: Path) -> None:
    files = Files(tmp_path)
    alternative = f"<properties><altSnapshotDeploymentRepository>other::{SNAPSHOTS}/alt</altSnapshotDeploymentRepository></properties>"
    files.write("~/.m2/settings.xml", settings(servers=server("rel", user="ci") + server("other", user="ci-other")))
    files.write("pom.xml", build(alternative, version="1-SNAPSHOT", release=f"rel {RELEASES}"))
    new, old = files.read(), files.read(version="3.8.7")
    assert (route(new, "other", "snapshot").url, route(new, "other", "snapshot").user) == (
        f"{SNAPSHOTS}/alt",
        "ci-other",
    )
    assert route(old, "rel", "snapshot").url == RELEASES


def test_old_form_of_an_alternative_target(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write(
        "pom.xml",
        build(f"<properties><altDeploymentRepository>rel::default::{RELEASES}</altDeploymentRepository></properties>"),
    )
    assert route(files.read(), "rel", "release").url == RELEASES


def test_inherited_site_address_is_continued(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write(
        "pom.xml",
        build(
            "<modules><module>core</module></modules>",
            artifact="parent",
            version="7",
            packaging="pom",
            site="web https://www.brackwater.example/docs/",
        ),
    )
    files.write("core/pom.xml", build(artifact="core", parent=_parent()))
    urls = [each.url for each in files.read().routes if each.kind == "site"]
    assert urls == ["https://www.brackwater.example/docs/", "https://www.brackwater.example/docs/core"]


def test_server_entry_of_the_mirror_goes_along(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write(
        "~/.m2/settings.xml",
        settings(servers=server("central") + server("brackwater", user="${env.WHO}"), mirrors=mirror()),
    )
    files.write("pom.xml", build())
    known, unknown = route(files.read({"WHO": "ci"}), "central"), route(files.read(), "central")
    assert (known.mirror_id, known.mirror_url, known.server_id, known.user) == (
        "brackwater",
        PUBLIC,
        "brackwater",
        "ci",
    )
    assert (unknown.user, unknown.incomplete) == (None, "the value of ${env.WHO} is not known")
