from __future__ import annotations

import pytest

from logdoctor.memory.survey.naming import day_in, job_from_name, job_in_folder

JOBS = [
    ("fares-deploy-118.log", "fares-deploy"),
    ("fares-2024-06-12.log", "fares"),
    ("2024-06-12-fares-118.log.gz", "fares"),
    ("fares_20240612_101112.txt", "fares"),
    ("fares-2024-06-12T10-11-12Z.log", "fares"),
    ("fares-1718187072.log", "fares"),
    ("harbour-web_build-42_console.log", "harbour-web"),
    ("harbour-web#42.log", "harbour-web"),
    ("118-fares.log", "fares"),
    ("fares-5eb081555d7f.log", "fares"),
    ("fares-release-4.6.log", "fares-release-4.6"),
    ("fares-release-4.6-118.log", "fares-release-4.6"),
    ("fares.118.log", "fares"),
    ("berth-failed.log", "berth"),
    ("118.log", ""),
    ("build-118.log", ""),
    ("console.log", ""),
    ("consoleText", ""),
    ("log", ""),
    ("2024-06-12.log", ""),
]
DAYS = [
    ("fares-2024-06-12-118.log", "2024-06-12"),
    ("fares-20240612.log", "2024-06-12"),
    ("fares_2024_06_12.log", "2024-06-12"),
    ("fares-20240612T101112.log", "2024-06-12"),
    ("fares-1718187072.log", "2024-06-12"),
    ("fares-2024-13-45.log", ""),
    ("fares-118.log", ""),
    ("fares-4.6.20.log", ""),
    ("fares-202406121.log", "2024-06-12"),
]


@pytest.mark.parametrize(("name", "job"), JOBS)
def test_the_job_in_a_files_name(name: str, job: str) -> None:
    assert job_from_name(name) == job


@pytest.mark.parametrize(("name", "day"), DAYS)
def test_the_day_in_a_name(name: str, day: str) -> None:
    assert day_in(name) == day


def test_the_nearest_folder_with_a_name_of_its_own() -> None:
    assert job_in_folder("jobs/fares/builds/118/log") == "fares"
    assert job_in_folder("2024-06/118/console.log") == ""
    assert job_in_folder("/archive/harbour-web/2024-06-12/1.log") == "harbour-web"
