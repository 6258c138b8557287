from __future__ import annotations

from pathlib import Path

import pytest

from logdoctor.errors import InputError
from logdoctor.setup_files.witness import Witness, call_witness

POM = """<project xmlns="http://maven.apache.org/POM/4.0.0"><modelVersion>4.0.0</modelVersion>
<groupId>example.brackwater</groupId><artifactId>fares</artifactId><version>4.7.0-SNAPSHOT</version>
<distributionManagement>
<repository><id>releases</id><url>https://repo.brackwater.example/maven/releases</url></repository>
<snapshotRepository><id>snapshots</id><url>https://repo.brackwater.example/maven/snapshots</url></snapshotRepository>
</distributionManagement></project>"""
SETTINGS = """<settings><servers>
<server><id>releases</id><username>robot</username><password>${env.REPO_PASSWORD}</password></server>
</servers></settings>"""
UPLOAD = {"request": "write", "repository_id": "snapshots", "host": "repo.brackwater.example"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "pom.xml").write_text(POM)
    (tmp_path / "settings.xml").write_text(SETTINGS)
    return tmp_path


def witness(folder: Path, *builds: str, settings: bool = False, env: str | None = None) -> Witness:
    env_file = None
    if env is not None:
        env_file = folder / "agent.env"
        env_file.write_text(env)
    return call_witness(
        settings=folder / "settings.xml" if settings else None,
        builds=[folder / name for name in builds],
        toolchains=None,
        env_file=env_file,
    )


def test_the_id_in_the_message_decides_which_server_entry_is_meant(folder: Path) -> None:
    called = witness(folder, "pom.xml", settings=True)
    assert called.testify(UPLOAD)["server_entry_for_id"] is False
    told = called.testify({**UPLOAD, "repository_id": "releases"})
    assert (told["server_entry_for_id"], told["password_is_variable"]) == (True, True)
    assert "password_variable_set" not in told  # no environment was given


@pytest.mark.parametrize(("env", "is_set"), [("REPO_PASSWORD=x1\n", True), ("PATH=/usr/bin\n", False)])
def test_environment_tells_whether_the_variable_is_set(folder: Path, env: str, is_set: bool) -> None:
    told = witness(folder, "pom.xml", settings=True, env=env).testify({**UPLOAD, "repository_id": "releases"})
    assert told["password_variable_set"] is is_set


def test_remarks_are_told_by_code(folder: Path) -> None:
    assert "upload-without-server" in str(witness(folder, "pom.xml", settings=True).testify({})["setup_remarks"])


def test_without_settings_nothing_is_said_about_accounts(folder: Path) -> None:
    assert not {"server_entry_for_id", "password_is_variable"} & set(witness(folder, "pom.xml").testify(UPLOAD))


@pytest.mark.parametrize(
    ("env", "proxied"), [("https_proxy=http://proxy.brackwater.example:3128\n", True), ("PATH=/bin\n", False)]
)
def test_proxy_of_settings_or_environment(folder: Path, env: str, proxied: bool) -> None:
    assert witness(folder, "pom.xml", settings=True, env=env).testify({})["proxy_configured"] is proxied


def test_java_home_of_the_environment_file(folder: Path) -> None:
    assert witness(folder, env="JAVA_HOME=/opt/jdk-17/bin\n").testify({})["java_home_kind"] == "bin"


@pytest.mark.parametrize(
    ("npmrc", "told"),
    [
        ("registry=https://npm.brackwater.example/all/\n", False),
        ("registry=https://npm.brackwater.example/all/\n//npm.brackwater.example/all/:_authToken=abcd1234\n", True),
    ],
)
def test_npm_credential_for_the_host_that_was_asked(tmp_path: Path, npmrc: str, told: bool) -> None:
    (tmp_path / ".npmrc").write_text(npmrc)
    (tmp_path / "package.json").write_text('{"name": "fares-web", "version": "1.0.0"}')
    known = {"request": "read", "host": "npm.brackwater.example"}
    assert witness(tmp_path, "package.json").testify(known).get("server_entry_for_id") is told
    assert "server_entry_for_id" not in witness(tmp_path, "package.json").testify({**known, "host": "other.example"})


def test_versions_that_the_log_shows_decide_the_rules(folder: Path) -> None:
    (folder / "pom.xml").write_text(
        POM.replace(
            "<distributionManagement>",
            "<repositories><repository><id>old</id><url>http://old.brackwater.example/m</url></repository></repositories><distributionManagement>",
        )
    )
    called = witness(folder, "pom.xml", settings=True)
    assert "plain-http-refused" in str(called.testify({"maven_version": "3.9.9"})["setup_remarks"])
    assert "plain-http-refused" not in str(called.testify({"maven_version": "3.6.3"})["setup_remarks"])


@pytest.mark.parametrize("name", ["missing.xml", "notes.md"])
def test_file_that_is_no_use_is_named(folder: Path, name: str) -> None:
    (folder / "notes.md").write_text("x")
    with pytest.raises(InputError, match=name):
        witness(folder, name)
