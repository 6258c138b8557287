"""The wheel and the sdist: built as released, installed where there is no source tree, and used there."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from logdoctor.catalogue.prepared import unpacked
from tests.support import ROOT

pytestmark = pytest.mark.long
LOG = ROOT / "sample_logs" / "fares-deploy-403.log"
VERSIONS = ("3.11", "3.12", "3.13")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("dist")
    done = subprocess.run(
        [sys.executable, "-m", "build", "--outdir", str(folder), str(ROOT)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return folder


def test_the_wheel_holds_the_program_its_types_and_the_catalogue(built: Path) -> None:
    [wheel] = built.glob("logdoctor-*.whl")
    with zipfile.ZipFile(wheel) as packed:
        names = set(packed.namelist())
        knowledge = unpacked(packed.read("logdoctor/knowledge.jsonl"))
    assert {"logdoctor/py.typed", "logdoctor/cli/completion.py", "logdoctor/reports/verdict.schema.json"} <= names
    assert any(name.endswith(".tcss") for name in names), "the looks of the terminal app"
    assert len(knowledge.entries) == len(
        [p for p in (ROOT / "knowledge").glob("*/*.yaml") if p.parent.name != "phases"]
    )
    assert not [name for name in names if name.startswith(("tests/", "knowledge/")) or name.endswith(".yaml")]


def test_the_sdist_holds_what_the_wheel_is_made_of(built: Path) -> None:
    [sdist] = built.glob("logdoctor-*.tar.gz")
    with tarfile.open(sdist) as packed:
        names = {name.partition("/")[2] for name in packed.getnames()}
    assert {"pyproject.toml", ".build/pack_knowledge.py", "knowledge/facts.yaml", "LICENSE", "README.md"} <= names


def interpreter(version: str) -> str | None:
    """An interpreter of this version that runs; what a version manager leaves in the path may not."""
    for name in (f"python{version}", sys.executable):
        path = shutil.which(name)
        asked = [path or name, "-c", "import sys; print('%d.%d' % sys.version_info[:2])"]
        if path and subprocess.run(asked, capture_output=True, text=True, check=False).stdout.strip() == version:
            return path
    return None


@pytest.mark.parametrize("version", VERSIONS)
def test_the_wheel_works_in_a_new_environment_without_the_source_tree(
    version: str, built: Path, tmp_path: Path
) -> None:
    python = interpreter(version)
    if python is None:
        pytest.skip(f"no Python {version} on this machine")
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"} | {"HOME": str(tmp_path)}
    subprocess.run([python, "-m", "venv", str(tmp_path / "venv")], check=True, env=environment)
    [wheel] = built.glob("logdoctor-*.whl")
    own = str(tmp_path / "venv" / "bin" / "python")
    wheelhouse = os.environ.get("LOGDOCTOR_WHEELHOUSE")
    source = ["--no-index", "--find-links", wheelhouse] if wheelhouse else []
    subprocess.run([own, "-m", "pip", "install", "--quiet", *source, str(wheel)], check=True, env=environment)
    shutil.copy(LOG, tmp_path / "build.log")

    def ran(*words: str) -> str:
        command = [str(tmp_path / "venv" / "bin" / "logdoctor"), *words]
        done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout

    root = json.loads(ran("diagnose", "--format", "json", "build.log"))["root"]
    assert (root["failure"], root["line"]) == ("deploy-forbidden", 135)
    assert "0." in ran("--version")
    assert "deploy-forbidden" in ran("catalogue", "403", "upload")
    assert "diagnose" in ran("completion", "bash")
    code = "import logdoctor, textual; print(logdoctor.diagnose('build.log').outcome, logdoctor.__file__)"
    used = subprocess.run([own, "-c", code], cwd=tmp_path, env=environment, capture_output=True, text=True, check=True)
    outcome, _, place = used.stdout.strip().partition(" ")
    assert outcome == "failed"
    assert str(tmp_path) in place
