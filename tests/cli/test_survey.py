"""`logdoctor survey`: an archive with known counts in all four formats."""

from __future__ import annotations

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from logdoctor.cli.survey import run
from tests.memory.survey.archive import FAILED, RUNS, make_archive

Printed = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(make_archive(tmp_path_factory.mktemp("archive")))


def surveyed(archive: str, out: Path, *more: str) -> str:
    """What is written; the archive holds one file that is no log, so the status is 2."""
    assert run([archive, "--output", str(out), *more]) == 2
    return out.read_bytes().decode()


def test_json_has_the_known_counts(archive: str, tmp_path: Path, capsys: Printed) -> None:
    said = json.loads(surveyed(archive, tmp_path / "s", "--format", "json"))
    assert said["schema"] == "logdoctor-survey/1"
    assert (said["logs"], said["failed"], said["succeeded"], said["unread"]) == (10, 7, 2, 1)
    assert {each["failure"]: each["failed"] for each in said["failures"]} == FAILED
    assert {each["job"]: (each["failed"], each["logs"]) for each in said["jobs"]} == {
        "fares": (4, 5),
        "berth": (1, 2),
        "crossings": (2, 2),
    }
    assert [(w["week"], w["failed"], w["logs"]) for w in said["weeks"]] == [("2024-W23", 2, 2), ("2024-W24", 5, 7)]
    assert (said["first_day"], said["last_day"]) == ("2024-06-03", "2024-06-14")
    forbidden = next(each for each in said["failures"] if each["failure"] == "deploy-forbidden")
    assert (forbidden["jobs"], forbidden["most_in"], forbidden["last"]) == (2, "fares", "2024-06-13")
    assert forbidden["lost_seconds"] == pytest.approx(4 * single_run(tmp_path, "fares-deploy-403"))
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "2024-06-14-6.log: is a binary file" in error


def single_run(tmp_path: Path, sample: str) -> float:
    """The lost time of one run by itself."""
    from tests.memory.survey.archive import SAMPLES

    out = tmp_path / "one"
    assert run([str(SAMPLES / f"{sample}.log"), "--format", "json", "--output", str(out)]) == 0
    seconds: float = json.loads(out.read_text(encoding="utf-8"))["lost_seconds"]
    assert seconds > 0
    return seconds


def test_json_with_each_log(archive: str, tmp_path: Path) -> None:
    said = json.loads(surveyed(archive, tmp_path / "s", "--format", "json", "--logs"))
    assert len(said["each"]) == len(RUNS) + 1
    assert [row["name"] for row in said["each"]] == sorted(row["name"] for row in said["each"])
    assert {row["day"] for row in said["each"] if not row["error"]} == {day for _, day, _, _ in RUNS}


def test_csv(archive: str, tmp_path: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(surveyed(archive, tmp_path / "s", "--format", "csv"))))
    failures = {row["key"]: int(row["failed"]) for row in rows if row["table"] == "failures"}
    assert failures == FAILED
    each = list(csv.DictReader(io.StringIO(surveyed(archive, tmp_path / "s", "--format", "csv", "--logs"))))
    assert [row["failure"] for row in each].count("deploy-forbidden") == 4


def test_csv_gives_a_spreadsheet_no_formula(tmp_path: Path) -> None:
    (tmp_path / "=cmd").mkdir()
    (tmp_path / "=cmd" / "1.log").write_text("x\n", encoding="utf-8")
    out = tmp_path / "s"
    assert (
        run(
            [
                str(tmp_path / "=cmd" / "1.log"),
                "--format",
                "csv",
                "--logs",
                "--job-from",
                "folder",
                "--output",
                str(out),
            ]
        )
        == 0
    )
    assert not re.search(r'(?:^|,)"?[=+@]', out.read_text(encoding="utf-8"), re.MULTILINE)


def test_text(archive: str, tmp_path: Path) -> None:
    text = surveyed(archive, tmp_path / "s")
    assert text.startswith("9 logs, 2024-06-03 to 2024-06-14: 7 failed (78%), 2 succeeded; 1 file could not")
    assert max(map(len, text.splitlines())) <= 80
    assert re.search(r"^ +4 +\d.*The repository refused the upload", text, re.MULTILINE)


class _Page(HTMLParser):
    """Collects what a page would fetch or run, its bars, and whether its tags are closed in order."""

    def __init__(self) -> None:
        super().__init__()
        self.foreign: list[str] = []
        self.bars = 0
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.bars += tag == "rect"
        if tag in ("script", "link", "img", "iframe", "object") or any(name in ("src", "href") for name, _ in attrs):
            self.foreign.append(tag)
        if tag not in ("meta", "rect", "line"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.bars += tag == "rect"


def test_html_is_one_page_that_fetches_and_runs_nothing(archive: str, tmp_path: Path) -> None:
    text = surveyed(archive, tmp_path / "s.html", "--format", "html")
    page = _Page()
    page.feed(text)
    assert page.foreign == []
    assert page.open == []
    assert page.bars > len(FAILED)
    assert "http://" not in text
    assert "https://" not in text
    assert "The repository refused the upload" in text
    assert "prefers-color-scheme: dark" in text
    assert "2024-W23: 2 of 2 failed" in text


def test_html_escapes_what_comes_from_names(tmp_path: Path) -> None:
    job = "<b onclick=x>&"
    (tmp_path / job).mkdir()
    sample = Path(__file__).parents[2] / "sample_logs" / "fares-deploy-403.log"
    (tmp_path / job / "1.log").write_bytes(sample.read_bytes())
    out = tmp_path / "page"
    assert run([str(tmp_path / job), "--format", "html", "--job-from", "folder", "--output", str(out)]) == 0
    text = out.read_text(encoding="utf-8")
    assert "<b onclick" not in text
    assert "&lt;b onclick=x&gt;&amp;" in text


@pytest.mark.parametrize("form", ["text", "json", "csv", "html"])
def test_no_format_shows_a_secret(form: str, tmp_path: Path) -> None:
    token = "ghp_" + "Zq7Rt2Wx9Lm4Kp8Vb3Nc6Yd1Hf5Jg0Sa2Eu4"
    folder = tmp_path / f"job-{token}"
    folder.mkdir()
    log = f"+ ./own-tool\nown-tool: error: token {token} was refused by the tide gate\nFinished: FAILURE\n"
    (folder / "1.log").write_text(log, encoding="utf-8")
    (folder / f"{token}.log").write_bytes(b"\0\1\2" * 500)
    out = tmp_path / "said"
    run([str(folder), "--format", form, "--output", str(out)])
    said = out.read_text(encoding="utf-8")
    assert not [token[i : i + 8] for i in range(len(token) - 8) if token[i : i + 8] in said]


def test_weeks_without_a_log_have_their_place_on_the_axis(tmp_path: Path) -> None:
    for day in ("2024-12-16", "2025-01-15"):
        (tmp_path / f"fares-{day}.log").write_text("x\n", encoding="utf-8")
    out = tmp_path / "page"
    assert run([str(tmp_path), "--format", "html", "--output", str(out)]) == 0
    weeks = re.findall(r"<title>(\d{4}-W\d\d): 0 of (\d)", out.read_text(encoding="utf-8"))
    assert weeks == [("2024-W51", "1"), ("2024-W52", "0"), ("2025-W01", "0"), ("2025-W02", "0"), ("2025-W03", "1")]


def test_unusable_arguments(tmp_path: Path, capsys: Printed) -> None:
    assert run([str(tmp_path / "none")]) == 2
    assert "there is no such file or folder" in capsys.readouterr().err
    assert run([str(tmp_path)]) == 2
    assert "no logs there" in capsys.readouterr().err
    assert run([str(tmp_path), "--logs"]) == 2
    assert "--logs goes with" in capsys.readouterr().err


def test_the_help_says_where_job_and_time_come_from(capsys: Printed) -> None:
    with pytest.raises(SystemExit):
        run(["--help"])
    said = capsys.readouterr().out
    assert "the job of a log:" in said
    assert "the day of a log:" in said
