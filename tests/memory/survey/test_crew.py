from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from logdoctor.errors import InputError
from logdoctor.memory.survey import Row, logs_below, rows_of
from logdoctor.memory.survey.crew import AHEAD, CHUNK, _Crew
from tests.memory.survey.archive import SAMPLES
from tests.support import diagnoser


def echo(works: tuple[tuple[str, str], ...]) -> list[Row]:
    """Stands for the reading: fast, and dies over one log."""
    rows = []
    for path, _ in works:
        if path == "deadly":
            os._exit(9)
        rows.append(Row(name=path))
    return rows


def test_rows_come_in_the_order_of_the_logs_with_one_process_or_two(tmp_path: Path) -> None:
    for number in range(30):
        (tmp_path / f"{number:02}.log").write_text(f"line {number}\n", encoding="utf-8")
    (tmp_path / "12.log").write_bytes(bytes(range(256)) * 40)
    work = list(logs_below([str(tmp_path)]))
    alone = list(rows_of(work, diagnoser(), jobs=1))
    both = list(rows_of(work, diagnoser(), jobs=2))
    assert [row.name for row in alone] == [f"{number:02}.log" for number in range(30)]
    assert alone == both
    assert [row.name for row in alone if row.error] == ["12.log"]


def test_a_process_that_dies_costs_the_log_it_died_over() -> None:
    names = [f"log-{i}" for i in range(40)]
    names[20] = "deadly"
    crew = _Crew(2, "auto", None, read=echo)
    rows = list(crew.rows(iter([(name, ".") for name in names])))
    assert [row.name for row in rows] == names
    assert [row.name for row in rows if row.error] == ["deadly"]


def test_few_logs_are_in_flight() -> None:
    taken = 0

    def logs() -> Iterator[tuple[str, str]]:
        nonlocal taken
        for number in range(1000):
            taken += 1
            yield f"log-{number}", "."

    rows = _Crew(1, "auto", None, read=echo).rows(logs())
    for _ in range(CHUNK):
        next(rows)
    assert taken <= CHUNK * (AHEAD + 1)
    rows.close()  # type: ignore[attr-defined]


def test_which_files_are_logs(tmp_path: Path) -> None:
    for name in ("b.log", "a.txt.gz", "notes.md", "run.yaml", "118", ".hidden.log", "z/c.out", ".git/x.log", "s.zip"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("x", encoding="utf-8")
    found = [Path(path).relative_to(tmp_path).as_posix() for path, _ in logs_below([str(tmp_path)])]
    assert found == ["118", "a.txt.gz", "b.log", "s.zip", "z/c.out"]
    named = str(tmp_path / "notes.md")
    assert [path for path, _ in logs_below([named])] == [named]
    with pytest.raises(InputError, match="no such file"):
        list(logs_below([str(tmp_path / "none")]))


def test_a_folder_name_ending_in_log_is_walked(tmp_path: Path) -> None:
    (tmp_path / "old.log").mkdir()
    (tmp_path / "old.log" / "a.log").write_bytes((SAMPLES / "fares-deploy-403.log").read_bytes())
    assert len(list(logs_below([str(tmp_path)]))) == 1
