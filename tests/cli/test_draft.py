"""`logdoctor draft`: what it prints and writes, exit statuses, and what it says of inputs it can't use."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from logdoctor.cli.draft import run
from tests.drafting.test_draft import SECRET, berth
from tests.support import ROOT


@pytest.fixture
def log(tmp_path: Path) -> str:
    """A log whose failure is unknown."""
    path = tmp_path / "build.log"
    path.write_bytes(berth(more=SECRET))
    return str(path)


def test_prints_yaml_and_says_the_rest_apart(log: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([log]) == 0
    told = capsys.readouterr()
    entry = yaml.safe_load(told.out)
    assert entry["signatures"][0]["tool"] == "berthctl"
    assert "drafted from line 4" in told.err
    assert "still to be written: $.meaning" in told.err
    for secret in ("q7Zt93", "Hunter22", "corp"):
        assert secret not in told.out + told.err


def test_writes_into_the_users_layer_and_vets(log: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([log, "--id", "deploy-berth-promised", "--to", "user"]) == 0
    path = Path(os.environ["XDG_CONFIG_HOME"]) / "logdoctor" / "knowledge" / "deploy" / "berth-promised.yaml"
    try:
        said = capsys.readouterr()
        assert said.out == ""
        assert f"wrote {path}" in said.err
        assert "vetting finds nothing else wrong" in said.err
        written = path.read_text(encoding="utf-8")
        assert run([log, "--line", "3", "--id", "deploy-berth-promised", "--to", "user"]) == 2
        assert path.read_text(encoding="utf-8") == written
        assert "there is a file already" in capsys.readouterr().err
    finally:
        path.unlink()


def test_writes_into_the_projects_layer(
    log: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run([log, "--id", "deploy-berth-promised", "--to", "project"]) == 0
    assert (tmp_path / ".logdoctor" / "deploy" / "berth-promised.yaml").is_file()
    assert "--project-layer" in capsys.readouterr().err


def test_writes_a_file_and_not_over_one(log: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "new" / "entry.yaml"
    assert run([log, "--to", str(out)]) == 0
    assert yaml.safe_load(out.read_text(encoding="utf-8"))["causes"]
    assert run([log, "--to", str(out)]) == 2
    assert run([log, "--to", str(tmp_path / "build.log" / "x.yaml")]) == 2
    assert "name a place" in capsys.readouterr().err.splitlines()[-1]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([str(ROOT / "sample_logs" / "fares-deploy-403.log")], "its failure is known: deploy-forbidden (line 135)"),
        ([str(ROOT / "sample_logs" / "fares-ok-parallel.log")], "tells of no failure"),
        (["no-such.log"], "no-such.log"),
        (["LOG", "--line", "0"], "--line 0"),
        (["LOG", "--line", "x:y"], "--line x:y"),
        (["LOG", "--line", "step.txt:2"], "no file step.txt"),
        (["LOG", "--line", "4000"], "its last line is 6"),
        (["LOG", "--id", "berth"], "--id berth"),
    ],
)
def test_what_can_not_be_drafted_is_one_clear_line(
    arguments: list[str],
    says: str,
    log: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run([log if a == "LOG" else a for a in arguments]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    assert says in told.err


def test_a_line_of_a_folder_is_named_with_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "steps"
    folder.mkdir()
    (folder / "1_checkout.txt").write_text("+ git fetch\nall is well\n")
    (folder / "2_berth.txt").write_bytes(berth())
    assert run([str(folder), "--line", "2_berth.txt:4"]) == 0
    told = capsys.readouterr()
    assert "is promised to" in yaml.safe_load(told.out)["signatures"][0]["examples"][0]["text"]
    assert "drafted from 2_berth.txt line 4" in told.err


def test_a_pipe_is_read(log: str) -> None:
    command = [sys.executable, "-m", "logdoctor", "draft", "-"]
    done = subprocess.run(command, input=Path(log).read_bytes(), capture_output=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stderr
    assert b"tool: berthctl" in done.stdout
