from __future__ import annotations

from pathlib import Path

import pytest

from logdoctor.cli import main
from logdoctor.cli import open as open_command


def test_recent_verdicts_come_from_the_history(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = tmp_path / "build.log"
    log.write_text("fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\n")
    assert open_command.recent_verdicts() == []
    monkeypatch.setenv("LOGDOCTOR_HISTORY", str(tmp_path / "history.db"))
    assert main(["diagnose", "--job", "fares", "--output", str(tmp_path / "out.txt"), str(log)]) == 0
    (recent,) = open_command.recent_verdicts()
    assert (recent.name, recent.headline) == ("fares", "The code host did not accept the credential")
