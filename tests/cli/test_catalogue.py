from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from logdoctor.cli import main
from tests.catalogue.test_loading import ENTRY
from tests.support import ROOT, catalogue

if TYPE_CHECKING:
    from pathlib import Path

FOLDER = ["--folder", str(ROOT / "knowledge")]


def test_lists_every_failure(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalogue", *FOLDER]) == 0
    assert len(capsys.readouterr().out.splitlines()) == len(catalogue())


@pytest.mark.parametrize(
    ("words", "failure"),
    [
        (["403", "upload"], "deploy-forbidden"),
        (["disk", "full"], "agent-disk-full"),
        (["JAVA_HOME"], "setup-java-home-wrong"),
        (["cerificate", "expired"], "resolve-tls-expired"),
    ],
)
def test_search_puts_the_fitting_failure_among_the_first(
    words: list[str], failure: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["catalogue", *FOLDER, *words]) == 0
    first = [line.split()[0] for line in capsys.readouterr().out.splitlines()[:8]]
    assert failure in first


def test_search_without_a_hit_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalogue", *FOLDER, "qqqqzzzzxxxx"]) == 0
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "nothing in the catalogue fits" in captured.err


def test_shows_one_entry_whole(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalogue", *FOLDER, "deploy-forbidden"]) == 0
    shown = capsys.readouterr().out
    entry = catalogue().failure("deploy-forbidden")
    for cause in entry.causes:
        assert " ".join(cause.says.split()[:4]) in " ".join(shown.split())
    assert entry.references[0] in shown


def test_coverage_counts_failures_by_tools(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalogue", *FOLDER, "--coverage"]) == 0
    assert int(capsys.readouterr().out.splitlines()[-1].split()[0]) >= 300


def test_vet_tells_all_problems_and_exits_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "checkout").mkdir()
    (tmp_path / "facts.yaml").write_text("computed: {}\n")
    bad = ENTRY.replace("usual: common", "usual: always").replace("rerun: helps", "rerun: never")
    (tmp_path / "checkout" / "bad.yaml").write_text(bad)
    assert main(["catalogue", "--folder", str(tmp_path), "--vet"]) == 2
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0] for line in lines[:-1]].count("checkout/bad.yaml") == 2


def test_folder_that_is_none_is_one_clear_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalogue", "--folder", str(tmp_path)]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
