from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.intake import open_log
from logdoctor.memory.comparing import compare_files, comparison
from logdoctor.memory.comparing.blocks import line_blocks, texts_at
from logdoctor.reports.comparison import comparison_json, comparison_text
from tests.memory.comparing.pairs import SAMPLES, compared, sample
from tests.support import diagnoser

if TYPE_CHECKING:
    import pytest


def test_two_processes_say_what_one_says(monkeypatch: pytest.MonkeyPatch) -> None:
    names = str(SAMPLES / "fares-test-failing.log"), str(SAMPLES / "fares-deploy-403.log")
    one = compare_files(*names, diagnoser())
    monkeypatch.setattr(comparison, "LARGE", 0)
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    two = compare_files(*names, diagnoser())
    assert comparison_json(one) == comparison_json(two)


def test_lines_of_any_length_and_blocks_of_any_size_keep_their_numbers(tmp_path: Path) -> None:
    lines = ["short", "x" * 3_000_000, "", "after the long one", "y" * 70_000, "last"]
    (tmp_path / "a.log").write_text("\n".join(lines), encoding="utf-8")
    with open_log(str(tmp_path / "a.log")) as log:
        assert texts_at(log, [1, 4, 6]) == {1: "short", 4: "after the long one", 6: "last"}
        assert b"".join(line_blocks(log)).count(b"\n") == 5
        assert max(len(line) for block in line_blocks(log) for line in block.split(b"\n")) < 2_000_000


def test_a_secret_of_one_log_is_shown_in_neither_form() -> None:
    token = "ghp_" + "Zq7Rt2Wx9Lm4Kp8Vb3Nc6Yd1Hf5Jg0Sa2Eu4"
    old = sample("fares-test-failing")
    new = f"export DEPLOY_TOKEN={token}\nwith {token} as user\n" + old
    for shown in (comparison_json(compared(old, new)), comparison_text(compared(new, old))):
        assert not [token[i : i + 8] for i in range(len(token) - 8) if token[i : i + 8] in shown]


def test_the_text_says_the_progress_first() -> None:
    text = comparison_text(compared(sample("timetable-java-home-bin"), sample("fares-deploy-403")))
    assert text.startswith("Tool setup is fixed; the build now reaches deploy")
    assert "deploy    -           failed" in text
    assert "harbour-agent-03 -> harbour-agent-07" in text
    assert max(map(len, text.splitlines())) <= 80


def test_the_brief_text_leaves_the_table_out() -> None:
    pair = compared(sample("fares-ok-parallel"), sample("fares-deploy-403"))
    brief = comparison_text(pair, brief=True)
    assert "How far each got" not in brief
    assert len(brief) < len(comparison_text(pair))
