from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from logdoctor.reports.text import WIDTH, text_report
from tests.support import ROOT, verdict_of

if TYPE_CHECKING:
    from pathlib import Path

SAMPLES = sorted((ROOT / "sample_logs").glob("*.log"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_fits_80_columns_and_needs_no_colour(path: Path) -> None:
    report = text_report(verdict_of(path.read_bytes()))
    assert "\x1b" not in report
    assert [line for line in report.splitlines() if len(line) > WIDTH and " " in line.strip("- ")] == []


@pytest.mark.parametrize("path", [p for p in SAMPLES if "-ok-" not in p.stem], ids=lambda p: p.stem)
def test_tells_what_where_who_and_how_it_looks_when_mended(path: Path) -> None:
    verdict = verdict_of(path.read_bytes())
    assert verdict.root is not None
    report = text_report(verdict)
    flat = " ".join(report.split())
    assert f"(line {verdict.root.line})" in " ".join(report.splitlines()[:2])
    assert "Running it again" in flat
    assert "How far it got:" in flat
    best = verdict.root.causes[0].cause
    assert " ".join(best.fix[0].split()[:5]) in flat
    assert "Fixed when:" in flat
    assert ("Caution:" in flat) == (best.caution is not None or bool(verdict.exposed_secrets))


def test_says_so_when_nothing_speaks_for_a_cause() -> None:
    log = "+ git fetch\nfatal: unable to access 'https://git.brackwater.example/x.git/': The requested URL returned error: 403\n"
    verdict = verdict_of(log)
    assert verdict.root is not None
    assert not verdict.root.shares_informed
    assert "From the log alone these can't be told apart" in text_report(verdict)


def test_unknown_failure_shows_lines_worth_reading() -> None:
    report = text_report(
        verdict_of("+ ./run\nbad moon rising: giving up\nERROR: script returned exit code 3\nFinished: FAILURE\n")
    )
    assert "Lines worth reading" in report
    assert "bad moon rising" in report


def test_secret_gets_a_caution_and_is_not_shown() -> None:
    secret = "Tr0ub4dor-and-3"
    report = text_report(
        verdict_of(
            f"+ curl -u ci:{secret} -T a.jar https://repo.brackwater.example/x\ncurl: (22) The requested URL returned error: 403\n"
        )
    )
    assert secret not in report
    assert "Caution: the log shows secrets" in report


@pytest.mark.parametrize("evil", ["\x1b]0;title\x07", "\x1b[2J", "\x9b31m", "\u202e", "\u2066", "\x00", "\x08"])
def test_nothing_of_the_log_reaches_the_terminal_raw(evil: str) -> None:
    log = (
        f"+ git clone x\n{evil}fatal: Authentication failed for 'https://git.brackwater.example/{evil}x.git/'\n"
        + "plain line\n" * 50
    )
    report = text_report(verdict_of(log.encode()))
    assert evil not in report
