from __future__ import annotations

import re
from dataclasses import replace

import pytest

from logdoctor.reports.message import message_report
from logdoctor.reports.teams import Team
from tests.reports.hostile import HOSTILE, UNSAFE, hostile_logs
from tests.support import ROOT, verdict_of

LINK = "https://ci.brackwater.example/job/fares/12/console#L{line}"
TEAM = Team(name="Harbour Platform", channel="#harbour-platform", why="it owns repo.brackwater.example")
SAMPLES = sorted((ROOT / "sample_logs").glob("*.log"))
ACTIVE = re.compile(r"(?<![\w.])@\w|[<>\[\]`*~|]|://|www\.|mailto:")
LOGS = [
    pytest.param(log, id=f"{name}-{kind}") for name, line in HOSTILE.items() for kind, log in hostile_logs(line).items()
]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_samples_fit_and_tell_what_where_why_who_and_the_link(path: object) -> None:
    verdict = verdict_of(path.read_bytes())  # type: ignore[attr-defined]
    lines = message_report(verdict, log_url=LINK, team=TEAM).splitlines()
    assert sum(len(line) + 1 for line in lines) <= 501
    assert lines[0].split()[0] == verdict.headline.split()[0]
    if verdict.root is None:
        assert len(lines) == 2
        return
    assert f"(line {verdict.root.line})" in lines[0]
    assert " ".join(verdict.root.causes[0].cause.says.split()[:4]) in lines[1]
    assert "For Harbour Platform (#harbour-platform)." in lines
    assert lines[-1] == LINK.format(line=verdict.root.line)


def test_without_a_team_the_owner_of_the_first_cause_is_named() -> None:
    verdict = verdict_of((ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes())
    assert "For the administrator of the artifact repository." in message_report(verdict)
    assert "http" not in message_report(verdict)


@pytest.mark.parametrize("limit", [40, 80, 121, 200, 260, 300, 499, 500, 5000])
@pytest.mark.parametrize("path", SAMPLES[:6], ids=lambda p: p.stem)
def test_no_limit_is_passed(path: object, limit: int) -> None:
    verdict = verdict_of(path.read_bytes())  # type: ignore[attr-defined]
    told = message_report(verdict, log_url=LINK, team=TEAM, limit=limit)
    assert 0 < len(told) <= limit
    assert told.splitlines()[0].split()[0] == verdict.headline.split()[0]


def test_a_link_is_whole_or_left_out() -> None:
    verdict = verdict_of((ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes())
    fits = "https://ci.brackwater.example/" + "a" * 300 + "#L{line}"
    assert message_report(verdict, log_url=fits).endswith("a#L135")
    assert len(message_report(verdict, log_url=fits, team=TEAM)) <= 500
    too_long = "https://ci.brackwater.example/" + "a" * 600 + "#L{line}"
    assert "aaa" not in message_report(verdict, log_url=too_long)
    assert "javascript" not in message_report(verdict, log_url="javascript:alert({line})")


def test_the_chat_hears_of_exposed_secrets_and_sees_none() -> None:
    secret = "Tr0ub4dor-and-3"
    told = message_report(
        verdict_of(
            f"+ curl -u ci:{secret} -T a.jar https://repo.brackwater.example/x\n"
            "curl: (22) The requested URL returned error: 403\n"
        )
    )
    assert "Caution: the log shows secrets." in told
    assert secret not in told


@pytest.mark.parametrize("line", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_headline_calls_nobody_and_links_nowhere(line: str) -> None:
    verdict = verdict_of((ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes())
    told = message_report(replace(verdict, headline=f"Stopped on deploy: {line} (line 135)."))
    assert len(told) <= 500
    assert told.startswith("Stopped on deploy:")
    assert not UNSAFE.search(told)
    assert not ACTIVE.search(told)


@pytest.mark.parametrize("log", LOGS)
def test_nothing_hostile_gets_through(log: bytes) -> None:
    verdict = verdict_of(log)
    told = message_report(verdict, log_url=LINK)
    *words, link = told.split("\n")
    assert len(told) <= 500
    assert link.startswith("https://ci.brackwater.example/job/fares/12/console#L")
    assert not UNSAFE.search(told)
    assert not ACTIVE.search("\n".join(words))
