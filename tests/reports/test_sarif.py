from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import jsonschema
import pytest
from markdown_it import MarkdownIt

from logdoctor.intake import printable
from logdoctor.model import Part
from logdoctor.reports.places import class_file, file_uri, tree_path
from logdoctor.reports.sarif import SCHEMA_URI, sarif_report
from logdoctor.reports.teams import Team
from tests.reports.evil import EVIL, LOGS, hostile_verdicts, poisoned, verdict_named
from tests.reports.hostile import HOSTILE, UNSAFE
from tests.support import ROOT, verdict_of

SAMPLES = sorted((ROOT / "sample_logs").glob("*.log")) + sorted((ROOT / "tests/fixtures/logs").glob("*.log"))[::24]
SCHEMA = Path(__file__).parent / "schemas" / "sarif-schema-2.1.0.json"


@cache
def validator() -> jsonschema.Draft4Validator:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft4Validator.check_schema(schema)
    assert schema["id"] == SCHEMA_URI
    return jsonschema.Draft4Validator(schema, format_checker=jsonschema.Draft4Validator.FORMAT_CHECKER)


def read(text: str) -> dict[str, Any]:
    """The one run, as a consumer would read it: held against the schema, indices followed."""
    whole = json.loads(text)
    assert [error.message for error in validator().iter_errors(whole)] == []
    run: dict[str, Any] = whole["runs"][0]
    rules, artifacts = run["tool"]["driver"].get("rules", []), run["artifacts"]
    for result in run["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
        assert (result["kind"] == "fail") or (result["level"] == "none")
        for place in [*result["locations"], *result.get("relatedLocations", [])]:
            where = place["physicalLocation"]["artifactLocation"]
            assert artifacts[where["index"]]["location"]["uri"] == where["uri"]
            assert where["uri"] == where["uri"].encode("ascii").decode()
            assert urlsplit(where["uri"]).scheme in ("", "file")
            assert not where["uri"].startswith("/")
    assert len({rule["id"] for rule in rules}) == len(rules)
    assert {rule["id"] for rule in rules} == {result["ruleId"] for result in run["results"]}
    return run


def test_the_schema_can_refuse() -> None:
    assert list(validator().iter_errors({"version": "2.1.0", "runs": [{"results": [{"level": "loud"}]}]}))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_every_verdict_keeps_the_schema(path: Path) -> None:
    verdict = verdict_of(path.read_bytes())
    run = read(sarif_report([verdict]))
    failing = [r for r in run["results"] if r["kind"] == "fail" and r["level"] == "error"]
    assert bool(failing) == (verdict.root is not None or verdict.outcome in ("failed", "aborted"))
    assert run["properties"]["outcome"] == verdict.outcome


@pytest.mark.parametrize("evil", EVIL.values(), ids=EVIL.keys())
@pytest.mark.parametrize("log", LOGS)
def test_hostile_text_keeps_the_schema_and_acts_on_nothing(log: str, evil: str) -> None:
    text = sarif_report([poisoned(verdict_named(log), evil)], log_url="https://ci.brackwater.example/1#L{line}")
    run = read(text)
    assert printable(text.replace("\n", "")) == text.replace("\n", "")
    for result in run["results"]:
        said = result["message"]["text"]
        assert "](" not in said.replace("\\]", "")
        assert "{0}" not in said.replace("{{0}}", "")


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_logs_keep_the_schema(name: str) -> None:
    for verdict in hostile_verdicts(name):
        text = sarif_report([verdict])
        read(text)
        assert not UNSAFE.search(text)


def test_root_stands_in_the_log_and_its_items_in_the_source() -> None:
    run = read(sarif_report([verdict_of(LOGS["items-with-files"])]))
    root, first, second = run["results"][:3]
    assert root["locations"][0]["physicalLocation"]["region"]["startLine"] == 2
    assert "incompatible types" in root["locations"][0]["physicalLocation"]["region"]["snippet"]["text"]
    assert root["level"] == "error"
    where = first["locations"][0]["physicalLocation"]
    assert unquote(where["artifactLocation"]["uri"]).endswith("/fares/Tariff.java")
    assert where["region"] == {"startLine": 12, "startColumn": 34}
    assert second["locations"][0]["physicalLocation"]["region"]["startLine"] == 7
    assert first["relatedLocations"][0]["physicalLocation"]["region"]["startLine"] == 2
    assert first["partialFingerprints"] != second["partialFingerprints"]


def test_source_is_told_relative_to_the_work_tree(tmp_path: Path) -> None:
    file = tmp_path / "src/main/java/example/brackwater/fares/Tariff.java"
    file.parent.mkdir(parents=True)
    file.write_text("class Tariff {}")
    run = read(sarif_report([verdict_of(LOGS["items-with-files"])], root=tmp_path))
    where = run["results"][1]["locations"][0]["physicalLocation"]["artifactLocation"]
    assert where["uri"] == "src/main/java/example/brackwater/fares/Tariff.java"
    assert where["uriBaseId"] == "SRCROOT"
    assert str(tmp_path) not in json.dumps(run)


def test_fix_owner_and_caution_stand_in_message_and_help() -> None:
    verdict = verdict_of(LOGS["refused"])
    assert verdict.root is not None
    run = read(sarif_report([verdict], team=Team(name="Harbour", channel="#harbour", why="they own it")))
    best = verdict.root.causes[0].cause
    said = run["results"][0]["message"]["text"]
    assert best.fix[0] in said
    assert "Harbour (#harbour), as they own it" in said
    rule = run["tool"]["driver"]["rules"][0]
    assert best.fix[0] in rule["help"]["text"]
    html = MarkdownIt().render(rule["help"]["markdown"])
    assert "<ol>" in html
    assert run["results"][0]["properties"]["causes"][0]["owner"] == best.owner
    assert run["results"][0]["partialFingerprints"]["logdoctorFailure/v1"] == verdict.fingerprint


def test_link_leads_to_the_line() -> None:
    verdict = verdict_of(LOGS["refused"])
    assert verdict.root is not None
    run = read(sarif_report([verdict], log_url="https://ci.brackwater.example/1/log#L{line}"))
    assert run["results"][0]["hostedViewerUri"] == f"https://ci.brackwater.example/1/log#L{verdict.root.line}"


@pytest.mark.parametrize("url", ["javascript:alert({line})", "not a url", "https://", "http://[", ""])
def test_what_is_no_web_address_makes_no_link(url: str) -> None:
    run = read(sarif_report([verdict_of(LOGS["refused"])], log_url=url))
    assert "hostedViewerUri" not in run["results"][0]


def test_unknown_failure_is_an_error_and_an_open_end_is_open() -> None:
    verdict = verdict_of(LOGS["unknown"])
    for told, rule in ((verdict, None), (replace(verdict, root=None), "unknown-failure")):
        (unknown,) = (r for r in read(sarif_report([told]))["results"] if r["level"] == "error")
        assert "bad moon rising" in json.dumps(unknown["relatedLocations"])
        assert rule in (None, unknown["ruleId"])
    (open_end,) = read(sarif_report([verdict_of(LOGS["no-end"])]))["results"]
    assert (open_end["kind"], open_end["level"]) == ("open", "none")


def test_succeeded_log_has_no_failing_result() -> None:
    assert read(sarif_report([verdict_of(LOGS["succeeded"])]))["results"] == []


def test_secret_is_told_and_not_shown() -> None:
    secret = "Tr0ub4dor-and-3"
    text = sarif_report([verdict_of(f"+ curl -u ci:{secret} -T a https://x.example\n{LOGS['refused']}")])
    assert secret not in text
    (told,) = (r for r in read(text)["results"] if r["ruleId"] == "exposed-secret")
    assert told["level"] == "warning"
    assert told["locations"][0]["physicalLocation"]["region"]["startLine"] == 1


def test_line_of_a_log_in_parts_is_told_in_its_part() -> None:
    verdict = verdict_of(LOGS["refused"])
    parts = (Part(name="1_checkout.txt", first=0), Part(name="2_upload.txt", first=1))
    run = read(sarif_report([replace(verdict, source=replace(verdict.source, name="logs.zip", parts=parts))]))
    where = run["results"][0]["locations"][0]["physicalLocation"]
    assert where["artifactLocation"]["uri"] == "logs.zip/2_upload.txt"
    assert where["region"]["startLine"] == 1


def test_several_logs_are_several_runs() -> None:
    whole = json.loads(sarif_report([verdict_of(text) for text in LOGS.values()]))
    assert list(validator().iter_errors(whole)) == []
    assert len(whole["runs"]) == len(LOGS)


@pytest.mark.parametrize(
    ("name", "uri"),
    [
        ("build.log", "build.log"),
        ("./a b.log", "a%20b.log"),
        ("a:b.log", "a%3Ab.log"),
        ("/var/log/x#1?.log", "file:///var/log/x%231%3F.log"),
        ("C:\\work\\a b.cs", "file:///C:/work/a%20b.cs"),
        ("src\\Fähre.cs", "src/F%C3%A4hre.cs"),
        ("\\\\share\\logs\\x.log", "file://share/logs/x.log"),
        ("file:/home/ci/x.kt", "file:///home/ci/x.kt"),
        ("file:///home/ci/x.kt", "file:///home/ci/x.kt"),
        ("100%.log", "100%25.log"),
        ("\\x1b.log", "x1b.log"),
        ("./", "log"),
    ],
)
def test_names_become_uri_references(name: str, uri: str) -> None:
    assert file_uri(name) == uri


def test_a_path_of_the_agent_is_found_by_its_tail(tmp_path: Path) -> None:
    root = tmp_path / "fares"
    (root / "core/src").mkdir(parents=True)
    (root / "core/src/a.py").touch()
    (root / "pom.xml").touch()
    assert tree_path("/home/ci/work/x/core/src/a.py", root) == "core/src/a.py"
    assert tree_path("D:\\agent\\_work\\1\\s\\core\\src\\a.py", root) == "core/src/a.py"
    assert tree_path("/agent/fares/pom.xml", root) == "pom.xml"
    assert tree_path("/agent/other/pom.xml", root) is None
    assert tree_path("../../etc/passwd", root) is None
    assert tree_path("/etc/passwd", None) is None
    assert tree_path("core/gone.py", root) == "core/gone.py"
    assert tree_path("a" * 5000, root) is not None
    assert tree_path("a\0b", root) is None


def test_a_class_is_found_when_only_one_file_can_hold_it(tmp_path: Path) -> None:
    for module in ("a", "b"):
        folder = tmp_path / module / "src/test/java/example" / module
        folder.mkdir(parents=True)
        (folder / "TariffTest.java").touch()
    assert class_file("example.a.TariffTest.surcharge", tmp_path) == "a/src/test/java/example/a/TariffTest.java"
    assert class_file("TariffTest.surcharge", tmp_path) is None
    assert class_file("example.c.TariffTest.surcharge", tmp_path) is None
