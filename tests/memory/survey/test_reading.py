from __future__ import annotations

import os
from pathlib import Path

import pytest

from logdoctor.memory.survey.model import Row
from logdoctor.memory.survey.reading import JobFrom, read_row
from tests.memory.survey.archive import SAMPLES
from tests.support import diagnoser

TIMES = [
    ("[INFO] Total time:  01:23 min", 83.0),
    ("[INFO] Total time:  2.104 s", 2.104),
    ("[INFO] Total time:  01:02 h", 3720.0),
    ("[INFO] Total time: 12.5s", 12.5),
    ("BUILD FAILED in 1m 12s", 72.0),
    ("BUILD FAILED in 43s", 43.0),
    ("BUILD FAILED in 1h 2m 3s", 3723.0),
    ("Total time: 3 minutes 4 seconds", 184.0),
    ("Done in 12.34s.", 12.34),
]


def row(path: Path, job_from: JobFrom = "auto") -> Row:
    return read_row(str(path), str(path.parent.parent), diagnoser(), job_from)


def put(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("line", "seconds"), TIMES)
def test_how_long_it_ran_as_the_tool_tells_it(tmp_path: Path, line: str, seconds: float) -> None:
    path = put(tmp_path, "job/a.log", f"+ make all\nmake: *** [all] Error 2\n{line}\n")
    assert row(path).seconds == pytest.approx(seconds)


def test_stamps_tell_the_time_before_a_tool_does(tmp_path: Path) -> None:
    text = "2024-06-12T23:59:50Z start\n2024-06-12T23:59:51Z [INFO] Total time:  5.0 s\n2024-06-13T00:01:00Z end\n"
    found = row(put(tmp_path, "job/a.log", text))
    assert (found.seconds, found.day, found.time_from) == (70.0, "2024-06-12", "log")


def test_a_clock_that_passes_midnight(tmp_path: Path) -> None:
    assert row(put(tmp_path, "job/a.log", "23:59:50 start\n00:00:20 end\n")).seconds == 30.0


def test_where_the_day_comes_from(tmp_path: Path) -> None:
    plain = "no time here\n"
    named = row(put(tmp_path, "j/fares-2024-06-12.log", "2030-01-01T00:00:00Z x\n"))
    in_folder = row(put(tmp_path, "2024-06-13/fares.log", plain))
    told = row(put(tmp_path, "j/b.log", "[INFO] Finished at: 2024-06-14T10:00:00+02:00\n"))
    dated = put(tmp_path, "j/c.log", plain)
    os.utime(dated, (1718323200, 1718323200))
    found = [(r.day, r.time_from) for r in (named, in_folder, told, row(dated))]
    assert found == [
        ("2024-06-12", "file name"),
        ("2024-06-13", "folder"),
        ("2024-06-14", "log"),
        ("2024-06-14", "file date"),
    ]


def test_where_the_job_comes_from(tmp_path: Path) -> None:
    text = "Running on harbour-agent-03 in /home/ci/agent/work/tides@2\n"
    path = put(tmp_path, "berth/fares-118.log", text)
    ways: tuple[JobFrom, ...] = ("auto", "name", "folder", "log")
    assert [row(path, way).job for way in ways] == ["fares", "fares", "berth", "tides"]
    assert row(put(tmp_path, "berth/118.log", text)).job == "berth"
    assert read_row(str(put(tmp_path, "118.log", text)), str(tmp_path), diagnoser(), "auto").job == "tides"


def test_the_verdict_in_short() -> None:
    found = row(SAMPLES / "fares-deploy-403.log")
    assert (found.failure, found.phase, found.line, found.agent) == (
        "deploy-forbidden",
        "deploy",
        135,
        "harbour-agent-07",
    )
    assert found.failed
    assert not found.unknown


def test_a_log_that_makes_the_diagnosis_fail_is_an_error_of_its_own(tmp_path: Path) -> None:
    class Broken:
        def diagnose(self, log: object) -> object:
            raise KeyError("inner")

    path = put(tmp_path, "job/a.log", "x\n")
    found = read_row(str(path), str(tmp_path), Broken(), "auto")  # type: ignore[arg-type]
    assert found.error == "internal fault (KeyError)"
    assert read_row(str(tmp_path / "none.log"), str(tmp_path), diagnoser(), "auto").error.startswith(
        "there is no such file"
    )


def test_a_row_holds_no_secret(tmp_path: Path) -> None:
    token = "ghp_" + "Zq7Rt2Wx9Lm4Kp8Vb3Nc6Yd1Hf5Jg0Sa2Eu4"
    text = f"+ ./own-tool --go\nown-tool: error: token {token} was refused by the tide gate\nexit status 3\nFinished: FAILURE\n"
    found = row(put(tmp_path, f"job/{token}.log", text))
    said = repr(found)
    assert found.unknown
    assert found.wordings
    assert not [token[i : i + 8] for i in range(len(token) - 8) if token[i : i + 8] in said]
