"""Facts that set-up files add to those of the log: the proxy a tool does not read, another Java on PATH, whose a name is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from logdoctor.setup_files.witness import call_witness

if TYPE_CHECKING:
    from pathlib import Path

    from logdoctor.model import FactValue

PROXY = "https_proxy=http://webgate.brackwater.example:8080\n"
POM = (
    "<project><modelVersion>4.0.0</modelVersion><groupId>example.brackwater.fares</groupId><artifactId>core</artifactId>"
    "<version>1.0</version><properties><maven.compiler.release>17</maven.compiler.release></properties></project>"
)


def told(folder: Path, known: dict[str, FactValue], *, env: str = "", **builds: str) -> dict[str, FactValue]:
    """What the files tell about a request; a build file's name is its key, with a dot for the underscore."""
    paths = []
    for name, text in builds.items():
        paths.append(folder / name.replace("_", "."))
        paths[-1].write_text(text, encoding="utf-8")
    env_file = folder / "agent.env"
    env_file.write_text(env or "CI=true\n", encoding="utf-8")
    return call_witness(settings=None, builds=paths, toolchains=None, env_file=env_file).testify(known)


@pytest.mark.parametrize(("tool", "configured", "unread"), [("maven", None, True), ("npm", True, None)])
def test_a_proxy_of_the_environment_counts_where_the_tool_reads_it(
    tmp_path: Path, tool: str, configured: bool | None, unread: bool | None
) -> None:
    found = told(tmp_path, {"failing_tool": tool}, env=PROXY)
    assert (found.get("proxy_configured"), found.get("proxy_not_read")) == (configured, unread)


@pytest.mark.parametrize(
    ("path", "other"),
    [
        ("/opt/jdk-21/bin:/usr/bin", True),
        ("/opt/jdk-17/bin:/opt/jdk-21/bin", False),
        ("/usr/lib/jvm/java-1.8.0-openjdk/bin:/opt/jdk-17/bin", True),
        ("/usr/local/bin:/usr/bin", None),
    ],
)
def test_the_first_java_on_path(tmp_path: Path, path: str, other: bool | None) -> None:
    found = told(tmp_path, {}, env=f"JAVA_HOME=/opt/jdk-17\nPATH={path}\n")
    assert found.get("other_java_on_path") is other
    assert found["java_home"] == "/opt/jdk-17"


@pytest.mark.parametrize(("running", "fits"), [(17, True), (21, True), (11, False), (None, None)])
def test_whether_the_java_in_use_is_new_enough(tmp_path: Path, running: int | None, fits: bool | None) -> None:
    known: dict[str, FactValue] = {} if running is None else {"java_release": running}
    assert told(tmp_path, known, pom_xml=POM).get("java_fits_project") is fits


@pytest.mark.parametrize(
    ("name", "text", "artifact", "ours"),
    [
        ("pom_xml", POM, "example.brackwater.tides:tides:jar:2", True),
        ("pom_xml", POM, "org.slf4j:slf4j-api:jar:2", False),
        ("build_gradle", "group = 'example.brackwater'\n", "example.brackwater.tides:tides:2", True),
        ("build_gradle", "group = project.findProperty('g')\n", "example.brackwater.tides:tides:2", None),
    ],
)
def test_whose_the_artifact_is_by_the_build_file(
    tmp_path: Path, name: str, text: str, artifact: str, ours: bool | None
) -> None:
    assert told(tmp_path, {"artifact": artifact}, **{name: text}).get("named_is_ours") is ours
