"""Closing lines in anybody's words: what they say, and what only looks like one. The forms: common practice, no source."""

from __future__ import annotations

from pathlib import Path

import pytest

from logdoctor.diagnosis.closing import closes, last_words
from logdoctor.intake import LineReader, open_log
from tests.support import root_of, verdict_of

FAILED = [
    "exit 4",
    "*** exit 1",
    ">>> exit status 3",
    "restore-drill exit status 5",
    "[tariffd-ci] leaving with status 9",
    "chart-tiles: end, code 20",
    "pdf-desk: failed, rc 1",
    "nightly: stopped, exit 1",
    "ci.sh: stopped with exit code 1",
    "Job 4412 ended with code 40",
    "Application will terminate with return code 1",
    "+++ job pilot-db-import / attempt 1 / rc=1 / FAILED",
    "# builder-9: job 'soundings' failed",
    "==> job 7719 failed after 1m03s",
    "pipeline: fares-terminal #311 failed",
    ">>> job fpga-ramp-sensor: FAILED",
    "[build-machine:mac-mini-4] job harbour-tour: red after 00:19:44",
    "smt job solver-regression: bad (status 1)",
    "Drill 2026-W33: NOT PASSED",
    "=== molecule: FAILED (1) ===",
    'container "dart" terminated: exit code 66',
    "Result: rejected",
    "== job ended, rc=22 ==",
]
SUCCEEDED = ["all steps done, exit status 0", "job nightly: ok", "build fares #8 passed", "exit code 0"]
NEITHER = [
    "Build finished",
    "Build FARES-ROTA-JOB1-212 completed.",
    "If the job failed before, remove its folder",
    "0 builds failed",
    "failed: 0, passed: 12",
    "+ exit 1",
    "$ exit 0",
    "mvn -q verify || exit 1",
    "http status code 404",
    "warning: the task failed, going on",
    "[ERROR] Process Exit Code: 0",
    "the upload step failed, ignored",
    "listening on port 8080",
    "",
    "the job " + "was long, " * 20 + "and failed",
]


@pytest.mark.parametrize("line", FAILED)
def test_it_says_that_it_failed(line: str) -> None:
    assert closes(line) == "failed"


@pytest.mark.parametrize("line", SUCCEEDED)
def test_it_says_that_all_is_well(line: str) -> None:
    assert closes(line) == "succeeded"


@pytest.mark.parametrize("line", NEITHER)
def test_it_says_nothing_of_the_end(line: str) -> None:
    assert closes(line) is None


@pytest.mark.parametrize(
    ("text", "since", "outcome"),
    [
        ("work\njob a: FAILED\nbye\n", -1, "failed"),
        ("job a: FAILED\njob b: ok\n", -1, "succeeded"),
        ("job a: FAILED\n" + "bye\n" * 20, -1, None),
        ("work\njob a: FAILED\nbye\n", 5, None),
        ("job a: FAILED", -1, "failed"),
        ("\n\n\n", -1, None),
        ("", -1, None),
    ],
)
def test_the_last_line_that_tells_decides(text: str, since: int, outcome: str | None, tmp_path: Path) -> None:
    path = tmp_path / "job.log"
    path.write_text(text)
    with open_log(str(path)) as log:
        told = last_words(LineReader(log), len(text), since)
    assert (told[0] if told else None) == outcome
    assert told is None or text.encode()[told[1] :].startswith(b"job ")


def test_a_job_of_ones_own_is_called_failed_by_its_last_words() -> None:
    log = "fetching charts\nsounding 41 of 41 read\nchart 7 overlaps chart 9\nchart-tiles: end, code 20\n"
    assert verdict_of(log).outcome == "failed"
    assert root_of(log) is None


def test_a_tool_s_last_word_stands_where_nothing_else_is_said() -> None:
    assert verdict_of("[INFO] BUILD SUCCESS\nsee you tomorrow\n").outcome == "succeeded"
    assert verdict_of("[INFO] BUILD SUCCESS\nnightly: stopped, exit 1\n").outcome == "failed"
