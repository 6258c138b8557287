"""Each sample log gets the failure, the line and the outcome that a person who reads it whole would name."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

import pytest

from logdoctor.masking import MASK, Masker
from logdoctor.reports.json_report import json_object
from logdoctor.reports.text import text_report
from tests.support import ROOT, verdict_of

if TYPE_CHECKING:
    from logdoctor.model import Verdict

SAMPLES = ROOT / "sample_logs"

# name, failure, line, outcome
TABLE: tuple[tuple[str, str | None, int | None, str], ...] = (
    ("berth-deploy-401.log", "deploy-unauthorized", 185, "failed"),
    ("berth-ok-warnings.log", None, None, "succeeded"),
    ("berth-pip-conflict.log", "resolve-version-conflict", 57, "failed"),
    ("crossings-time-limit.log", "agent-build-timed-out", 68, "aborted"),
    ("fares-deploy-403.log", "deploy-forbidden", 135, "failed"),
    ("fares-ok-parallel.log", None, None, "succeeded"),
    ("fares-test-failing.log", "test-failed", 90, "failed"),
    ("fares-tls-private-ca.log", "resolve-tls-untrusted", 47, "failed"),
    ("harbour-web-disk-full-image.log", "agent-disk-full", 108, "failed"),
    ("harbour-web-npm-lock.log", "resolve-lockfile-out-of-date", 36, "failed"),
    ("harbour-web-ok-colours.log", None, None, "succeeded"),
    ("loyalty-artifact-not-found.log", "resolve-artifact-not-found", 68, "failed"),
    ("loyalty-git-auth.log", "checkout-auth-failed", 54, "failed"),
    ("timetable-gradle-compile.log", "compile-source-error", 74, "failed"),
    ("timetable-java-home-bin.log", "setup-java-home-wrong", 64, "failed"),
)
NAMES = [name for name, *_ in TABLE]

# Links inside a tool's fixed text.
ALLOWED_HOSTS = frozenset({"cwiki.apache.org", "maven.apache.org", "localhost", "127.0.0.1"})
URL_HOST = re.compile(r"\b[a-z][a-z0-9+.-]*://(?:[^\s/@'\"]*@)?([\w.-]+)", re.IGNORECASE)
MAIL_HOST = re.compile(r"[\w.+-]+@([A-Za-z][\w-]*(?:\.[\w-]+)+)")
# A name that ends in a top-level domain of the real world; `java.io.File` and `app.io/x.py:1` go on or have no dot before.
BARE_HOST = re.compile(
    r"(?<![\w./@-])((?:[a-z0-9-]+\.)+(?:com|org|net|io|dev|app|cloud|eu|uk|de|no|nl|gov|edu|info|biz))(?![\w.-])"
)


@cache
def verdict(name: str) -> Verdict:
    return verdict_of((SAMPLES / name).read_bytes())


def text_of(name: str) -> str:
    return (SAMPLES / name).read_text(encoding="utf-8")


def test_every_file_is_in_the_table() -> None:
    assert sorted(path.name for path in SAMPLES.iterdir()) == sorted(NAMES)


@pytest.mark.parametrize(("name", "failure", "line", "outcome"), TABLE, ids=NAMES)
def test_the_sample_is_diagnosed(name: str, failure: str | None, line: int | None, outcome: str) -> None:
    found = verdict(name)
    root = found.root
    assert (root and str(root.failure.id), root and root.line, found.outcome) == (failure, line, outcome)


@pytest.mark.parametrize(("name", "failure", "line", "outcome"), TABLE, ids=NAMES)
def test_the_table_fits_the_name_and_the_file(name: str, failure: str | None, line: int | None, outcome: str) -> None:
    lines = text_of(name).splitlines()
    assert 60 <= len(lines) <= 300
    assert ("-ok-" in name) == (outcome == "succeeded") == (failure is None) == (line is None)
    if line is not None:
        assert lines[line - 1].strip()
        assert 30 < line < len(lines) - 3, "passed phases stand before the failure and closing lines after it"


@pytest.mark.parametrize("name", NAMES)
def test_hosts_are_made_up(name: str) -> None:
    text = text_of(name)
    hosts = {*URL_HOST.findall(text), *MAIL_HOST.findall(text)} - ALLOWED_HOSTS
    assert [host for host in sorted(hosts) if not host.endswith("brackwater.example") and host != ""] == []
    assert sorted(set(BARE_HOST.findall(text)) - ALLOWED_HOSTS) == []


def test_the_host_patterns_find_real_hosts() -> None:
    assert URL_HOST.findall("see https://ci:x@build.brackwater.com:8443/a") == ["build.brackwater.com"]
    assert MAIL_HOST.findall("git@code.brackwater.org:fares.git") == ["code.brackwater.org"]
    assert BARE_HOST.findall("Connecting to repo.brackwater.io:443 failed") == ["repo.brackwater.io"]
    assert BARE_HOST.findall("java.io.IOException at org.junit.Test, tide.c, plan.py") == []


@pytest.mark.parametrize("name", NAMES)
def test_no_line_and_no_report_holds_a_secret(name: str) -> None:
    masker = Masker()
    for line in text_of(name).splitlines():
        assert masker.mask(line) == line
    found = verdict(name)
    assert found.exposed_secrets == ()
    for report in (text_report(found), text_report(found, colour=True), json_object(found)):
        assert MASK not in report


@pytest.mark.parametrize("name", NAMES)
def test_the_text_report_begins_with_the_line_or_with_success(name: str) -> None:
    found = verdict(name)
    headline = text_report(found).split("\n\n", 1)[0].replace("\n", " ")
    assert re.findall(r"\(line (\d+)\)", headline) == ([str(found.root.line)] if found.root else [])
    assert ("succeeded" in headline) == (found.outcome == "succeeded")


def test_the_samples_differ_in_their_prefixes() -> None:
    lanes = {segment.lane for segment in verdict("timetable-gradle-compile.log").segments}
    assert {"service", "display", "data"} <= lanes
    coloured = text_of("harbour-web-ok-colours.log").splitlines()
    assert sum("\x1b[" in row for row in coloured) > 40
    assert all(re.match(r"2026-\d\d-\d\dT[\d:.]+Z ", row) for row in coloured)
    assert "MultiThreadedBuilder" in text_of("fares-ok-parallel.log")
