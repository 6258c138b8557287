"""The catalogue's set-up facts for the request of a log: only those that the files decide."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
import yaml

from logdoctor.setup_files.maven_facts import facts_for
from logdoctor.setup_files.values import Setup
from tests.setup_files.maven_support import PUBLIC, RELEASES, SNAPSHOTS, Files, build, mirror, server, settings
from tests.support import ROOT

if TYPE_CHECKING:
    from pathlib import Path

    from logdoctor.model import FactValue

_ENCRYPTED = "{COQLCE6DU6GtcS5PHx7fNWHWQ0fQ3m1C0Jd4nq==}"
_UPLOAD: dict[str, FactValue] = {
    "repository_id": "releases",
    "request": "write",
    "url": f"{RELEASES}/example/fares-1.jar",
}


@pytest.fixture
def setup(tmp_path: Path) -> Setup:
    files = Files(tmp_path)
    files.write(
        "~/.m2/settings.xml", settings(servers=server("releases") + server("central", _ENCRYPTED), mirrors=mirror())
    )
    files.write(
        "pom.xml",
        build(
            "<properties><maven.compiler.release>17</maven.compiler.release></properties>",
            release=f"releases {RELEASES}",
        ),
    )
    return files.read({"PATH": "/usr/bin"})


def test_upload(setup: Setup) -> None:
    assert facts_for(setup, _UPLOAD) == {
        "active_profile_with_repositories": False,
        "build_version_is_snapshot": False,
        "compiler_release": 17,
        "password_is_encrypted": False,
        "password_is_variable": True,
        "password_variable_set": False,
        "proxy_configured": False,
        "release_target_declared": True,
        "server_entry_for_id": True,
        "snapshot_target_declared": False,
        "upload_url_is_a_download_group": False,
    }


@pytest.mark.parametrize(
    "known",
    [
        {"repository_id": "central"},
        {"repository_id": "brackwater"},
        {"url": f"{PUBLIC}/junit/junit.pom", "request": "read"},
        {"host": "repo.brackwater.example", "request": "read"},
    ],
)
def test_download_through_the_mirror(setup: Setup, known: dict[str, FactValue]) -> None:
    found = facts_for(setup, known)
    assert (found["mirror_takes_repository"], found["mirror_id"], found["server_entry_for_mirror"]) == (
        True,
        "brackwater",
        False,
    )
    assert "upload_url_is_a_download_group" not in found


def test_id_of_the_message_decides_about_the_entry(setup: Setup) -> None:
    assert facts_for(setup, {"repository_id": "brackwater"})["server_entry_for_id"] is False
    assert facts_for(setup, {"repository_id": "nobody"})["server_entry_for_id"] is False
    assert "mirror_takes_repository" not in facts_for(setup, {"repository_id": "nobody"})


def test_upload_to_a_group(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write("~/.m2/settings.xml", settings(servers=server("up"), mirrors=mirror()))
    files.write("pom.xml", build(version="1-SNAPSHOT", snapshot=f"up {PUBLIC}", release=f"other {SNAPSHOTS}"))
    found = facts_for(files.read(), {"repository_id": "up", "method": "PUT"})
    assert found["upload_url_is_a_download_group"] is True
    assert found["build_version_is_snapshot"] is True


def test_nothing_is_claimed_of_files_that_were_not_given(tmp_path: Path) -> None:
    files = Files(tmp_path)
    files.write("pom.xml", build(release=f"releases {RELEASES}"))
    only_build = facts_for(files.read(), _UPLOAD)
    assert not {"server_entry_for_id", "proxy_configured", "password_is_encrypted", "mirror_takes_repository"} & set(
        only_build
    )
    assert facts_for(Setup(), _UPLOAD) == {}


def test_a_parent_that_was_not_read_may_hold_targets(tmp_path: Path) -> None:
    files = Files(tmp_path)
    parent = "<parent><groupId>g</groupId><artifactId>p</artifactId><version>1</version></parent>"
    files.write("pom.xml", build(parent=parent))
    assert "release_target_declared" not in facts_for(files.read(), _UPLOAD)


def test_every_fact_is_one_of_the_catalogue(setup: Setup) -> None:
    declared = yaml.safe_load((ROOT / "knowledge" / "facts.yaml").read_text())["setup"]
    for known in (_UPLOAD, {"repository_id": "central"}):
        assert set(facts_for(setup, known)) <= set(declared)
