from __future__ import annotations

from dataclasses import replace

from logdoctor.memory.survey import Row, survey_of
from logdoctor.memory.survey.adding import week_of

BASE = Row(name="a.log", job="fares", agent="quay-1", day="2024-06-12", time_from="file name", outcome="failed")


def failed(failure: str, seconds: float | None = 60.0, **more: str) -> Row:
    return replace(BASE, failure=failure, title=failure.title(), seconds=seconds, **more)  # type: ignore[arg-type]


def unknown(wording: str, name: str = "u.log", job: str = "fares") -> Row:
    return replace(BASE, name=name, job=job, unknown=True, seconds=5.0, wordings=(wording,), examples=(wording + "!",))


def test_counts_and_lost_time() -> None:
    rows = [failed("x"), failed("x", None), failed("y", 30), replace(BASE, outcome="succeeded", seconds=999.0)]
    survey = survey_of(rows)
    assert (survey.logs, survey.failed, survey.succeeded, survey.seconds, survey.timed) == (4, 3, 1, 90.0, 2)
    assert [(t.key, t.failed, t.seconds, t.timed) for t in survey.failures] == [("x", 2, 60.0, 1), ("y", 1, 30.0, 1)]


def test_by_job_agent_and_week() -> None:
    rows = [failed("x"), failed("x", agent="quay-2", day="2024-06-19"), failed("y", job="berth"), failed("y", job="")]
    survey = survey_of(rows)
    assert [(t.key, t.failed, t.most) for t in survey.jobs] == [
        ("fares", 2, "x"),
        ("(not told)", 1, "y"),
        ("berth", 1, "y"),
    ]
    assert [(t.key, t.failed) for t in survey.agents] == [("quay-1", 3), ("quay-2", 1)]
    assert [(w.week, w.logs, w.failed) for w in survey.weeks] == [("2024-W24", 3, 3), ("2024-W25", 1, 1)]
    assert survey.failures[0].last == "2024-06-19"


def test_a_run_that_tells_no_end_is_neither_failed_nor_succeeded() -> None:
    survey = survey_of([replace(BASE, outcome="unknown"), replace(BASE, outcome="unknown", failure="x")])
    assert (survey.failed, survey.succeeded, survey.untold) == (1, 0, 1)


def test_a_file_that_can_not_be_read_counts_nowhere_else() -> None:
    survey = survey_of([Row(name="b.log", error="is a binary file"), failed("x")])
    assert (survey.logs, survey.failed, survey.unread_total) == (2, 1, 1)
    assert survey.unread == (("b.log", "is a binary file"),)
    assert [t.logs for t in survey.jobs] == [1]


def test_unknown_failures_are_grouped_by_wording() -> None:
    rows = [unknown(f"quay crane {word} refused the container manifest") for word in ("north", "south", "north")]
    rows += [unknown("tide table has no rows for <n>", f"t{i}.log", f"job-{i}") for i in range(5)]
    survey = survey_of([*rows, replace(BASE, unknown=True)])
    assert [group.logs for group in survey.groups] == [5, 3]
    assert survey.groups[0].jobs == tuple(f"job-{i}" for i in range(5))
    assert survey.groups[0].example.endswith("!")
    assert survey.unknown == 9
    assert survey.ungrouped == 1


def test_the_line_that_other_failures_share_stands_for_a_group() -> None:
    shared = "tide table has no rows for <n>"
    rows = [
        replace(unknown("x"), wordings=(f"warning of its own {i * 'z'}", shared), examples=("a", shared))
        for i in range(3)
    ]
    assert [(g.logs, g.wording) for g in survey_of(rows).groups] == [(3, shared)]


def test_iso_weeks_at_the_turn_of_the_year() -> None:
    assert (week_of("2024-12-30"), week_of("2021-01-03"), week_of("")) == ("2025-W01", "2020-W53", "(not told)")


def test_days_known_only_from_the_files_do_not_date_the_archive() -> None:
    survey = survey_of([failed("x"), replace(failed("x"), day="2031-01-01", time_from="file date")])
    assert (survey.first_day, survey.last_day) == ("2024-06-12", "2024-06-12")
    assert [(week.week, week.logs) for week in survey.weeks] == [("2024-W24", 1), ("(not told)", 1)]
    assert survey.failures[0].last == "2024-06-12"


def test_where_no_log_tells_a_day_the_files_dates_give_the_weeks() -> None:
    rows = [replace(failed("x"), day=day, time_from="file date") for day in ("2024-06-12", "2024-06-19")]
    assert [week.week for week in survey_of(rows).weeks] == ["2024-W24", "2024-W25"]


def test_rows_are_kept_only_when_asked_for() -> None:
    assert survey_of([failed("x")]).rows == ()
    assert len(survey_of([failed("x")], keep_rows=True).rows) == 1
