from __future__ import annotations

import argparse
import json
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from logdoctor.cli import main
from logdoctor.cli.job_options import add_history_options, add_job_options, history_of, job_of
from logdoctor.memory.history import History, Job, place_of
from tests.memory.history.sample import REFUSED, verdict
from tests.support import ROOT


@pytest.fixture
def history(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> History:
    monkeypatch.setenv("LOGDOCTOR_HISTORY", str(tmp_path / "history.db"))
    place = place_of()
    assert place is not None
    return History(place)


@pytest.fixture
def filled(history: History) -> History:
    for job in ("fares", "tides"):
        assert history.remember(verdict(REFUSED), Job(job=job, run="1"))
    return history


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(["history", *arguments])
    out, err = capsys.readouterr()
    return status, out, err


def test_text_tells_what_recurs(filled: History, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = told(capsys)
    assert (status, err) == (0, "")
    assert "2 x  The code host did not accept the credential [checkout-auth-failed]" in out
    assert "in 2 jobs: fares, tides" in out


def test_json_is_one_object(filled: History, capsys: pytest.CaptureFixture[str]) -> None:
    plain = json.loads(told(capsys, "--format", "json", "--job", "tides")[1])
    assert (plain["schema"], plain["runs"], plain["recurring"][0]["jobs"]) == ("logdoctor-history/1", 1, ["tides"])


def test_confirmed_cause_is_counted_and_told(filled: History, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ("--confirm", "token-expired-or-revoked", "--job", "fares", "--note", "token renewed", "--by", "Ada")
    assert told(capsys, *arguments)[0] == 0
    assert filled.priors("checkout-auth-failed") == {"token-expired-or-revoked": 1.0}
    seen = filled.recall(verdict(REFUSED), Job(job="crew")).seen
    assert seen is not None
    assert "last fixed by: token renewed (token-expired-or-revoked) (confirmed by Ada, " in seen.sentence()
    assert "last fix: token renewed" in told(capsys)[1]


def test_wrong_takes_a_confirmation_back(filled: History, capsys: pytest.CaptureFixture[str]) -> None:
    fingerprint = verdict(REFUSED).fingerprint
    assert told(capsys, "--confirm", "token-expired-or-revoked", "--job", "fares")[0] == 0
    assert told(capsys, "--wrong", "--job", "fares", "--fingerprint", fingerprint)[0] == 0
    assert filled.priors("checkout-auth-failed") == {}
    assert "verdict called wrong 1 x" in told(capsys)[1]


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["--confirm", "no-such-cause"], "write one of token-expired-or-revoked, "),
        (["--confirm", "other", "--job", "none"], "no such run is in the history"),
        (["--note", "x"], "--note and --by go with"),
        (["--import", "no-such-file"], "no-such-file: No such file or directory"),
        (["--history", "/proc"], "can't be written"),
    ],
)
def test_what_can_t_be_done_is_one_line(
    filled: History, capsys: pytest.CaptureFixture[str], arguments: list[str], why: str
) -> None:
    status, out, err = told(capsys, *arguments)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert why in err


def test_export_and_import_bring_it_over(filled: History, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines, other = str(tmp_path / "lines.jsonl"), str(tmp_path / "other.db")
    assert told(capsys, "--export", lines)[0] == 0
    assert told(capsys, "--history", other, "--import", lines) == (0, "2 read, 2 of them new\n", "")
    assert told(capsys, "--history", other, "--export", "-")[1] == Path(lines).read_text()
    Path(lines).write_text(Path(lines).read_text() + "{}\n")
    status, out, err = told(capsys, "--history", other, "--import", lines)
    assert (status, out) == (2, "2 read, 0 of them new\n")
    assert "line 4: " in err


def test_forgetting_keeps_what_is_younger(filled: History, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "--forget-older", "180d")[1] == "0 runs forgotten\n"
    status, _, err = told(capsys, "--forget-older", "0")
    assert (status, "write a number of days" in err) == (2, True)
    assert len(json.loads(told(capsys, "--format", "json")[1])["recurring"][0]["jobs"]) == 2


def test_empty_history_says_so(history: History, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "--wrong")[0] == 2
    assert told(capsys, "--forget-older", "9d")[1] == "0 runs forgotten\n"
    status, out, err = told(capsys)
    assert (status, out.startswith("No runs since "), "there is no history yet" in err) == (0, True, True)
    assert json.loads(told(capsys, "--format", "json")[1])["recurring"] == []
    assert list(tmp_path.iterdir()) == []


def test_what_waits_is_taken_in(history: History, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    holder = sqlite3.connect(tmp_path / "history.db", isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    assert history.remember(verdict(REFUSED), Job(job="fares"))
    holder.close()
    assert json.loads(told(capsys, "--format", "json")[1])["runs"] == 1
    assert not (tmp_path / "history.db.waiting").exists()


def options_of(*arguments: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    add_job_options(parser)
    add_history_options(parser)
    return parser.parse_args(arguments)


def test_job_is_told_by_options_then_by_the_environment(tmp_path: Path) -> None:
    (tmp_path / "logdoctor").mkdir()
    config = tmp_path / "logdoctor" / "config.toml"
    config.write_text('[job]\njob = "JOB_NAME"\nrun = ["NONE", "RUN"]\nagent = 7\npier = "x"\n')
    environ = {"XDG_CONFIG_HOME": str(tmp_path), "JOB_NAME": "tides", "RUN": "9"}
    said: list[str] = []
    assert job_of(options_of("--branch", "main"), said.append, environ) == Job(job="tides", run="9", branch="main")
    assert job_of(options_of("--job", "fares"), said.append, environ).job == "fares"
    assert "unknown key job.pier" in said[0]


@pytest.mark.parametrize("content", ["[job", "job = 1", "\udcff"])
def test_configuration_that_is_no_use_is_one_line(tmp_path: Path, content: str) -> None:
    (tmp_path / "logdoctor").mkdir()
    (tmp_path / "logdoctor" / "config.toml").write_bytes(content.encode("utf-8", "surrogateescape"))
    said: list[str] = []
    assert job_of(options_of(), said.append, {"XDG_CONFIG_HOME": str(tmp_path)}) == Job()
    assert len(said) == 1


def test_no_history_is_none() -> None:
    assert history_of(options_of("--no-history")) is None
    assert history_of(options_of("--history", "x.db")) is not None


def test_making_a_history_opens_no_database() -> None:
    check = (
        "import sys; from logdoctor.memory.history.place import place_of; from logdoctor.memory.history.keeping import History;"
        "History(place_of('x.db')); print([m for m in ('sqlite3', 'psycopg', 'tomllib') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", check], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
