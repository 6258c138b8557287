from __future__ import annotations

from dataclasses import replace

import pytest

from logdoctor.memory.history import HistoryError, Ledger, Place, Remark, Run
from logdoctor.memory.history.exchange import exported, imported
from logdoctor.memory.history.model import OTHER
from logdoctor.memory.history.schema import STEPS, VERSION
from logdoctor.memory.history.store import opened
from tests.memory.history.sample import DAY, NOON, a_run


def remark(number: int, run: int, **changed: object) -> Remark:
    told: dict[str, object] = {
        "id": f"remark{number}",
        "run_id": f"run{run}",
        "at": NOON + DAY + number,
        "kind": "confirmed",
        "failure": "deploy-forbidden",
        "cause": "right-missing",
        **changed,
    }
    return Remark(**told)  # type: ignore[arg-type]


def test_what_goes_in_comes_out_once(place: Place) -> None:
    with Ledger.at(place) as ledger:
        assert ledger.add([a_run(1), a_run(0), a_run(1)]) == 2
        assert ledger.add([a_run(1, outcome="aborted")]) == 0
    with Ledger.at(place) as ledger:
        assert ledger.runs() == [a_run(0), a_run(1)]
        assert ledger.runs(since=NOON + 1) == [a_run(1)]
        assert ledger.runs(job="tides") == []


def test_last_failed_is_of_a_job_or_a_fingerprint(place: Place) -> None:
    with Ledger.at(place) as ledger:
        ledger.add([a_run(0), a_run(1, job="tides"), a_run(2, fingerprint="beef"), a_run(3, outcome="succeeded")])
        assert [ledger.last_failed(job=job) for job in (None, "tides", "none")] == [
            a_run(2, fingerprint="beef"),
            a_run(1, job="tides"),
            None,
        ]
        assert ledger.last_failed(fingerprint="f00d") == a_run(1, job="tides")


def test_latest_remark_on_a_run_counts(place: Place) -> None:
    with Ledger.at(place) as ledger:
        ledger.add([a_run(n) for n in range(5)])
        ledger.add([remark(0, 0, cause="first-guess"), remark(1, 0), remark(2, 1), remark(3, 2)])
        ledger.add([remark(4, 2, kind="wrong", cause=None), remark(5, 3, cause=OTHER), remark(6, 4, cause="proxy")])
        assert ledger.priors("deploy-forbidden") == {"right-missing": 2.0, "proxy": 1.0}
        assert ledger.priors("resolve-forbidden") == {}


def test_seen_before_tells_how_often_where_and_the_last_fix(place: Place) -> None:
    with Ledger.at(place) as ledger:
        ledger.add([a_run(n, agent=f"agent{n % 2}") for n in range(5)])
        ledger.add([a_run(9, at=NOON - 40 * DAY, agent="agent9"), a_run(10, fingerprint="beef")])
        ledger.add([remark(0, 9, note="right granted", who="Ada"), remark(1, 1, kind="wrong", cause=None)])
        seen = ledger.seen_before("f00d", now=NOON + 2 * DAY, but="run4")
        assert ledger.seen_before("cafe", now=NOON) is None
    assert seen is not None
    assert (seen.times, seen.agents, seen.jobs) == (4, 2, 1)
    assert seen.sentence() == (
        "Seen 4 times in 30 days on two agents; the verdict was called wrong once;"
        " last fixed by: right granted (right-missing) (confirmed by Ada, 2026-09-22)."
    )


def test_forgetting_removes_runs_and_remarks_from_before(place: Place) -> None:
    with Ledger.at(place) as ledger:
        ledger.add([a_run(0), a_run(48), remark(0, 0), remark(1, 48, at=NOON + 3 * DAY)])
        assert ledger.forget(NOON + 1.5 * DAY) == 1
        assert (ledger.runs(), len(ledger.remarks())) == ([a_run(48)], 1)


def test_export_and_import_bring_all_over_once(place: Place, file_place: Place) -> None:
    other = replace(file_place, file=file_place.file and file_place.file.with_name("other.db"))
    entries: list[Run | Remark] = [
        a_run(0, branch="main"),
        a_run(1, job=None),
        remark(0, 0),
        remark(1, 0, kind="wrong"),
    ]
    problems: list[str] = []
    with Ledger.at(place) as ledger, Ledger.at(other) as second:
        ledger.add(entries)
        lines = list(exported(ledger))
        assert imported(second, lines, problems) == (4, 4)
        assert imported(second, lines, problems) == (0, 4)
        assert list(exported(second)) == lines
    assert problems == []


def test_older_schema_is_brought_up_to_date_with_its_rows(place: Place) -> None:
    with opened(place, patience=1) as store, pytest.MonkeyPatch.context() as patch:
        patch.setattr(store, "_migrate", lambda: None)
        with store.transaction(writing=True):
            for statement in STEPS[0]:
                store.rows(statement)
            store.rows("INSERT INTO logdoctor_about VALUES ('schema', '1')")
            store.rows("INSERT INTO logdoctor_runs (id, at, outcome, fingerprint) VALUES ('old', 7, 'failed', 'f00d')")
    with Ledger.at(place) as ledger:
        assert [run.id for run in ledger.runs()] == ["old"]
        ledger.add([a_run(0)])
    with opened(place, patience=1) as store:
        assert store.rows("SELECT value FROM logdoctor_about") == [(str(VERSION),)]


def test_newer_schema_is_refused_in_one_line(place: Place) -> None:
    with Ledger.at(place) as ledger:
        ledger.add([a_run(0)])
    with opened(place, patience=1) as store, store.transaction(writing=True):
        store.rows("UPDATE logdoctor_about SET value = ?", [str(VERSION + 1)])
    refusal = pytest.raises(HistoryError, match=r"newer version of logdoctor .*; update logdoctor")
    with refusal as refused, Ledger.at(place) as ledger:
        ledger.add([a_run(1)])
    assert "\n" not in str(refused.value)
    with opened(place, patience=1) as store:
        assert store.rows("SELECT COUNT(*) FROM logdoctor_runs") == [(1,)]


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ("{", "is no JSON"),
        ("[" * 100_000, "is no JSON"),
        ("7", "no object"),
        ('{"entry": "run", "id": "a", "at": 1, "outcome": "failed"}', "fingerprint is missing"),
        ('{"entry": "run", "id": "a", "at": "x", "outcome": "failed", "fingerprint": "f"}', "at is no number"),
        ('{"entry": "run", "id": "a", "at": NaN, "outcome": "failed", "fingerprint": "f"}', "at is no number"),
        ('{"entry": "run", "id": "a", "at": 1e15, "outcome": "failed", "fingerprint": "f"}', "at is no time"),
        ('{"entry": "run", "id": "a", "at": 1, "outcome": "odd", "fingerprint": "f"}', "outcome is none of"),
        ('{"entry": "run", "id": "a", "at": 1, "outcome": "failed", "fingerprint": "f", "x": 1}', "unknown key"),
        ('{"entry": "remark", "id": "a", "run_id": "b", "at": 1, "kind": "odd"}', "kind is neither"),
    ],
)
def test_bad_line_is_told_and_the_others_come(file_place: Place, line: str, problem: str) -> None:
    good = '{"entry": "run", "id": "ok", "at": 1, "outcome": "failed", "fingerprint": "f"}'
    lines = ['{"schema": "logdoctor-history-lines/1"}', line, good]
    problems: list[str] = []
    with Ledger.at(file_place) as ledger:
        assert imported(ledger, lines, problems) == (1, 1)
    assert len(problems) == 1
    assert problems[0].startswith("line 2: ")
    assert problem in problems[0]


def test_file_of_another_schema_is_no_import(file_place: Place) -> None:
    with Ledger.at(file_place) as ledger:
        for first in ('{"schema": "logdoctor-history-lines/9"}', "no JSON", '{"entry": "run"}'):
            with pytest.raises(ValueError, match=r"line 1|does not begin"):
                imported(ledger, [first], [])
