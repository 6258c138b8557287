"""`logdoctor compare`: both formats, exit statuses, and what it says of inputs that can't be read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from logdoctor.cli.compare import run
from tests.support import ROOT

SAMPLES = ROOT / "sample_logs"
OLD, NEW = str(SAMPLES / "fares-test-failing.log"), str(SAMPLES / "fares-deploy-403.log")


def test_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([OLD, NEW]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("The tests are fixed; the build now reaches deploy")
    assert "How far each got" in shown
    assert "The logs part in the phase" in shown


def test_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([OLD, NEW, "--format", "json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["schema"] == "logdoctor-comparison/1"
    assert (said["failure"], said["old_failure"], said["further"]) == ("other", "fixed", "further")
    assert (said["old"]["reached"], said["new"]["reached"]) == ("test", "deploy")
    assert len(said["items"]["gone"]) == 2
    assert ["revision", "commit message"] in [[change["kind"], change["name"]] for change in said["setup"]]


def test_a_file_is_written_instead(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "said.json"
    assert run([OLD, NEW, "--format", "json", "--output", str(out)]) == 0
    assert capsys.readouterr().out == ""
    assert json.loads(out.read_text(encoding="utf-8"))["failure"] == "other"
    assert run([OLD, NEW, "--output", str(tmp_path / "none" / "x")]) == 2
    assert "name a file that can be written" in capsys.readouterr().err


def test_packed_logs_and_folders_of_step_logs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = Path(NEW).read_text(encoding="utf-8").splitlines(keepends=True)
    (tmp_path / "1_first.log").write_text("".join(lines[:40]), encoding="utf-8")
    (tmp_path / "2_second.log").write_text("".join(lines[40:]), encoding="utf-8")
    assert run([NEW, str(tmp_path), "--format", "json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["failure"] == "same"
    assert said["old"]["lines"] == said["new"]["lines"]


@pytest.mark.parametrize("pair", [("none.log", NEW), (OLD, "none.log"), ("-", "-")])
def test_an_input_that_can_not_be_read(pair: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(pair) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
