from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
import xmlschema
from defusedxml.ElementTree import fromstring

from logdoctor.intake import printable
from logdoctor.model import Segment, Verdict
from logdoctor.reports.junit import junit_report
from logdoctor.reports.teams import Team
from tests.reports.evil import EVIL, LOGS, hostile_verdicts, poisoned, verdict_named
from tests.reports.hostile import HOSTILE
from tests.support import ROOT, verdict_of

SCHEMAS = Path(__file__).parent / "schemas"
SAMPLES = sorted((ROOT / "sample_logs").glob("*.log")) + sorted((ROOT / "tests/fixtures/logs").glob("*.log"))[::24]


@cache
def schema(name: str) -> xmlschema.XMLSchema:
    return xmlschema.XMLSchema(SCHEMAS / name)


def read(text: str) -> ET.Element:
    """The document as a consumer reads it: both schemas kept, the counts are those of the cases."""
    root: ET.Element = fromstring(text.encode(), forbid_dtd=True)
    assert [e.reason for e in schema("junit-10.xsd").iter_errors(root)] == []
    for suite in root:
        assert [e.reason for e in schema("surefire-test-report.xsd").iter_errors(suite)] == []
        for count, path in {"tests": ".", "failures": "failure", "errors": "error", "skipped": "skipped"}.items():
            assert suite.get(count) == str(len(suite.findall("testcase" if path == "." else f"testcase/{path}")))
    for count in ("tests", "failures", "errors"):
        assert root.get(count) == str(sum(int(suite.attrib[count]) for suite in root))
    return root


def bad(root: ET.Element) -> list[str]:
    return [case.attrib["name"] for case in root.iter("testcase") if case.find("failure") is not None]


def test_the_schemas_can_refuse() -> None:
    wrong = ET.fromstring('<testsuites><testsuite name="x"/></testsuites>')
    assert list(schema("junit-10.xsd").iter_errors(wrong))
    assert list(schema("surefire-test-report.xsd").iter_errors(wrong[0]))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_every_verdict_keeps_both_schemas_and_is_red_when_the_build_was(path: Path) -> None:
    verdict = verdict_of(path.read_bytes())
    root = read(junit_report(verdict))
    red = int(root.attrib["failures"]) + int(root.attrib["errors"])
    assert bool(red) == (verdict.root is not None or verdict.outcome != "succeeded")


@pytest.mark.parametrize("evil", EVIL.values(), ids=EVIL.keys())
@pytest.mark.parametrize("log", LOGS)
def test_hostile_text_keeps_both_schemas(log: str, evil: str) -> None:
    text = junit_report(poisoned(verdict_named(log), evil))
    root = read(text)
    told = "".join(root.itertext()) + "".join(v for e in root.iter() for v in e.attrib.values())
    assert printable(told.replace("\n", "")) == told.replace("\n", "")
    if log != "nothing" and len(evil) < 1000:
        shown = re.sub("[\ufffe\uffff\ufffd\ud800-\udfff\U0001fffe\U0001ffff]", "", printable(evil)).split()
        assert " ".join(shown[-1:]) in re.sub("[\ufffd\U0001ffff]", "", told)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_logs_keep_both_schemas(name: str) -> None:
    for verdict in hostile_verdicts(name):
        read(junit_report(verdict))


def test_one_suite_a_phase_in_order() -> None:
    verdict = verdict_of((ROOT / "sample_logs/fares-deploy-403.log").read_bytes())
    names = [suite.attrib["name"] for suite in read(junit_report(verdict))]
    assert names == list(dict.fromkeys(names))
    assert set(names) >= {segment.phase for segment in verdict.segments}
    assert verdict.root is not None
    assert bad(read(junit_report(verdict))) == [verdict.root.failure.title]


def test_each_failing_item_is_a_case() -> None:
    root = read(junit_report(verdict_of(LOGS["items-with-files"])))
    (suite,) = (s for s in root if s.attrib["name"] == "compile")
    assert [name.rpartition("/")[2] for name in bad(root)] == [
        "Tariff.java:12: incompatible types: String cannot be converted to int",
        "Rate.java:7: ';' expected",
    ]
    failure = suite.find("testcase/failure")
    assert failure is not None
    assert failure.attrib["type"] == "compile-source-error"
    assert "Fix, by " in (failure.text or "")


def test_items_of_one_name_stay_apart() -> None:
    verdict = verdict_of(LOGS["items-with-files"])
    assert verdict.root is not None
    twice = replace(verdict, root=replace(verdict.root, items=verdict.root.items[:1] * 3))
    names = bad(read(junit_report(twice)))
    assert len(names) == len(set(names)) == 3


def test_unknown_failure_is_an_error_and_so_is_an_open_end() -> None:
    verdict = verdict_of(LOGS["unknown"])
    assert verdict.root is not None
    assert verdict.root.failure.stand_in == "last"
    no_end = verdict_of(LOGS["no-end"])
    assert no_end.root is None
    for told, kind in (
        (verdict, verdict.root.failure.id),
        (replace(verdict, root=None), "unknown-failure"),
        (no_end, "outcome-unknown"),
    ):
        root = read(junit_report(told))
        (error,) = root.iter("error")
        assert error.attrib["type"] == kind
        assert bad(root) == []
        assert ("bad moon rising" in (error.text or "")) == (told is not no_end)


def test_succeeded_log_is_green_and_not_empty() -> None:
    root = read(junit_report(verdict_of(LOGS["succeeded"])))
    assert (root.attrib["failures"], root.attrib["errors"]) == ("0", "0")
    assert int(root.attrib["tests"]) > 0


def step(state: str, **more: object) -> Segment:
    made = Segment(phase="test", lane=None, module=None, start=1, end=3, lines=3, state="passed", seconds=1.2345)
    return replace(made, state=state, **more)  # type: ignore[arg-type]


def test_steps_pass_are_skipped_or_fail() -> None:
    verdict: Verdict = replace(
        verdict_of(LOGS["succeeded"]),
        outcome="failed",
        segments=(step("passed"), step("unfinished", start=4, end=5), step("failed", start=6, end=7, phase="deploy")),
    )
    root = read(junit_report(replace(verdict, root=verdict_of(LOGS["items-with-files"]).root)))
    (suite,) = (s for s in root if s.attrib["name"] == "test")
    assert [[part.tag for part in case] for case in suite.findall("testcase")] == [[], ["skipped"]]
    assert suite.attrib["time"] in ("2.469", "2.470", "2.468")
    (failed,) = (s for s in root if s.attrib["name"] == "deploy")
    assert [f.attrib["type"] for f in failed.iter("failure")] == ["step-failed"]


def test_team_is_named_with_its_reason() -> None:
    verdict = verdict_of(LOGS["refused"])
    root = read(junit_report(verdict, team=Team(name="Harbour", channel="#harbour", why="it is about a host")))
    told = {p.attrib["name"]: p.attrib["value"] for p in root.iter("property")}
    assert (told["team"], told["team_channel"], told["team_why"]) == ("Harbour", "#harbour", "it is about a host")
    assert "For: Harbour (#harbour), as it is about a host." in "".join(root.itertext())


def test_secret_is_not_shown() -> None:
    secret = "Tr0ub4dor-and-3"
    assert secret not in junit_report(verdict_of(f"+ curl -u ci:{secret} -T a https://x.example\n{LOGS['refused']}"))
