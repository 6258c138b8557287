from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from logdoctor.cli import main
from logdoctor.cli import open as open_command
from logdoctor.model import FactValue
from logdoctor.terminal.desk import Desk
from tests.support import catalogue
from tests.terminal.pilot import FORBIDDEN, case_of


def test_recent_verdicts_come_from_the_history(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = tmp_path / "build.log"
    log.write_text("fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\n")
    monkeypatch.setenv("LOGDOCTOR_HISTORY", str(tmp_path / "history.db"))
    assert open_command.recent_verdicts() == []
    assert main(["diagnose", "--job", "fares", "--output", str(tmp_path / "out.txt"), str(log)]) == 0
    (recent,) = open_command.recent_verdicts()
    assert (recent.name, recent.headline) == ("fares", "The code host did not accept the credential")


def test_a_setup_file_that_is_not_there_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    log = tmp_path / "build.log"
    log.write_text("Finished: FAILURE\n")
    assert main(["open", "--settings", str(tmp_path / "none.xml"), str(log)]) == 2
    assert "none.xml: no such file" in capsys.readouterr().err


def test_the_witness_of_the_desk_is_asked() -> None:
    asked: list[dict[str, object]] = []

    def testify(facts: Mapping[str, FactValue]) -> dict[str, FactValue]:
        asked.append(dict(facts))
        return {"server_entry": False}

    case = case_of(FORBIDDEN)
    Desk(load=catalogue, witness=testify).examine(case, lambda: None, lambda _done, _size: None)
    assert case.log is not None
    case.log.close()
    assert len(asked) == 1
    assert case.verdict is not None
    assert case.verdict.root is not None
    assert case.verdict.root.facts["server_entry"] is False
