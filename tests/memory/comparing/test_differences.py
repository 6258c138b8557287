from __future__ import annotations

from array import array
from pathlib import Path

import pytest

from logdoctor.memory.comparing import differences
from logdoctor.memory.comparing.differences import only_here
from tests.memory.comparing.pairs import SAMPLES, compared, first, sample
from tests.memory.comparing.reruns import rerun
from tests.support import FIXTURES

LOGS = [*sorted(SAMPLES.glob("*.log")), *sorted((FIXTURES / "logs").glob("*.log"))[::9]]
NEW_LINE = "harbour pump refused to start: valve b is shut"


@pytest.mark.parametrize("path", LOGS, ids=lambda path: path.stem)
def test_the_same_job_another_time_shows_no_difference(path: Path) -> None:
    text = path.read_bytes().decode("utf-8", "replace")
    found = compared(text, rerun(text, 7))
    assert first(found) is None
    assert found.failure in ("same", "none")
    assert not [change for change in found.setup if change.kind in ("tool", "plugin", "dependency")]


@pytest.mark.parametrize("name", ["fares-ok-parallel", "berth-deploy-401", "timetable-gradle-compile"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_line_more_is_the_first_difference(name: str, share: float) -> None:
    lines = rerun(sample(name), 3).split("\n")
    at = int(len(lines) * share)
    lines.insert(at, NEW_LINE)
    assert first(compared(sample(name), "\n".join(lines))) == (None, at + 1)


def test_a_line_less_is_found_in_the_old_log() -> None:
    text = sample("berth-deploy-401")
    lines = text.split("\n")
    at = next(i for i, line in enumerate(lines) if "Running example.brackwater" in line)
    del lines[at]
    assert first(compared(text, rerun("\n".join(lines), 2))) == (at + 1, None)


def test_another_number_in_the_place_of_one_is_a_difference_on_both_sides() -> None:
    text = sample("fares-ok-parallel")
    at = next(i for i, line in enumerate(text.split("\n")) if "Tests run: " in line)
    found = compared(text, text.replace("Tests run: ", "Tests run: 9", 1))
    assert first(found) == (at + 1, at + 1)
    assert found.first is not None
    assert found.first.phase == "test"


def test_the_earlier_of_two_differences_comes_first() -> None:
    old = "\n".join(f"step {word} done" for word in ("alpha", "beta", "gamma", "delta"))
    assert first(compared(old, old.replace("step alpha done\n", "") + f"\n{NEW_LINE}")) == (1, None)
    assert first(compared(old, f"{NEW_LINE}\n" + old.replace("\nstep delta done", ""))) == (None, 1)


def test_stamps_colours_and_line_ends_are_no_difference() -> None:
    text = sample("harbour-web-npm-lock")
    stamped = "".join(f"2026-03-0{i % 9 + 1}T10:00:00.123Z {line}\r\n" for i, line in enumerate(text.splitlines()))
    coloured = "".join(f"\x1b[32m{line}\x1b[0m\n" for line in text.splitlines())
    assert first(compared(text, stamped)) is None
    assert first(compared(text, coloured)) is None


def test_numbers_that_only_count_are_no_difference_but_other_lines_between_are() -> None:
    old = "".join(f"zone {i * 7 + 1} of the table is loaded\n" for i in range(2500))
    new = "".join(f"zone {i * 5 + 2} of the table is loaded\n" for i in range(2400))
    assert first(compared(old, new)) is None
    assert first(compared(old, new + NEW_LINE)) == (None, 2401)


def test_counted_by_phase() -> None:
    found = compared(sample("fares-ok-parallel"), sample("fares-deploy-403"))
    deploy = next(phase for phase in found.phases if phase.phase == "deploy")
    assert (deploy.old_state, deploy.new_state) == (None, "failed")
    assert deploy.only_old == 0
    assert deploy.only_new > 5


def test_several_turns_find_what_one_finds(monkeypatch: pytest.MonkeyPatch) -> None:
    own = array("Q", [i * i for i in range(500)])
    other = array("Q", [i * i for i in range(0, 500, 3)])
    passed = bytearray(i % 5 == 0 for i in range(500)), bytearray(len(other))
    once = only_here(own, other), only_here(own, other, passed)
    monkeypatch.setattr(differences, "MOST_AT_ONCE", 11)
    assert (only_here(own, other), only_here(own, other, passed)) == once
    assert [i for i, flag in enumerate(once[0]) if not flag] == list(range(0, 500, 3))
    assert not any(flag for i, flag in enumerate(once[1]) if i % 5 == 0)


def test_too_many_lines_to_read_again_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(differences, "MOST_CAREFUL", 10)
    old = "".join(f"pier {'abcdefghij'[i % 10]} holds {i} boats\n" for i in range(100))
    new = "".join(f"pier {'abcdefghij'[i % 10]} holds {i + 500} boats\n" for i in range(100))
    assert any("many lines" in notice for notice in compared(old, new).notices)


def test_empty_logs() -> None:
    assert first(compared("", "")) is None
    assert first(compared("", NEW_LINE)) == (None, 1)
    assert first(compared(NEW_LINE, "")) == (1, None)
