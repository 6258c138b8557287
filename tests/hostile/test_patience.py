"""A user's pattern that backtracks without bound does not hold a diagnosis up: it is named and left out."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest
import yaml

from logdoctor.api import standard_diagnoser
from logdoctor.catalogue import load_catalogue, patterns
from logdoctor.intake import open_log
from tests.support import ROOT

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from logdoctor.model import Verdict

ENDLESS = "berth refused: (?:a+)+$"
LOG = (
    "+ ./sail\n"
    + ("berth refused: " + "a" * 3000 + "!\nquay closed\n") * 40
    + "ERROR: exit code 3\nFinished: FAILURE\n"
)


@pytest.fixture(autouse=True)
def _nothing_given_up() -> Iterator[None]:
    yield
    patterns._given_up.clear()  # noqa: SLF001 - other tests shall not see what these gave up


def entry(**changes: object) -> dict[str, object]:
    """An entry of a user's own, by default a sound one."""
    return {
        "id": "test-berth-refused",
        "phase": "test",
        "title": "The berth was refused",
        "meaning": "The harbour refused a berth to the ship.",
        "signatures": [signature("quay", "quay closed")],
        "causes": [
            {
                "id": "quay-full",
                "says": "The quay is full of ships.",
                "usual": "common",
                "rerun": "useless",
                "owner": "build-owner",
                "fix": ["Wait for the tide."],
                "proof": "The next log names a berth.",
            }
        ],
        **changes,
    }


def signature(name: str, line: str, **more: object) -> dict[str, object]:
    return {"id": name, "tool": "sail", "line": line, "examples": [{"text": "quay closed", "seen": "memory"}], **more}


def verdict_with(
    data: dict[str, object], folder: Path, log: str = LOG, name: str = "test/berth.yaml"
) -> tuple[Verdict, float]:
    path = folder / "layer" / name
    path.parent.mkdir(parents=True)
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    catalogue = load_catalogue(user=folder / "layer", built_in=ROOT / "knowledge")
    assert not catalogue.problems
    begin = time.monotonic()
    with open_log(log.encode(), name="build.log") as opened:
        verdict = standard_diagnoser(catalogue).diagnose(opened)
    return verdict, time.monotonic() - begin


def test_endless_signature_is_named_and_left_out(tmp_path: Path) -> None:
    signatures = [signature("quay", "quay closed"), signature("endless", ENDLESS, literal="berth refused: ")]
    verdict, seconds = verdict_with(entry(signatures=signatures), tmp_path)
    assert "a pattern of test-berth-refused/endless takes too long and was left out" in verdict.notices
    assert seconds < 5
    assert verdict.root is not None
    assert (verdict.root.failure.id, verdict.root.signature) == ("test-berth-refused", "quay")


@pytest.mark.long
def test_hits_from_before_it_was_given_up_do_not_count(tmp_path: Path) -> None:
    signatures = [signature("quay", "quay closed"), signature("endless", ENDLESS, literal="berth refused: ")]
    verdict, _ = verdict_with(entry(signatures=signatures), tmp_path, "berth refused: aaa\n" + LOG)
    assert verdict.root is not None
    assert verdict.root.signature == "quay"


@pytest.mark.long
def test_condition_on_neighbours(tmp_path: Path) -> None:
    for must in ("stand", "not-stand"):
        near = [{"line": ENDLESS, "within": 3, "must": must}]
        verdict, seconds = verdict_with(
            entry(signatures=[signature("quay", "quay closed", near=near)]), tmp_path / must
        )
        assert "a pattern of test-berth-refused/quay takes too long and was left out" in verdict.notices
        assert seconds < 5
        assert verdict.root is None or verdict.root.failure.id != "test-berth-refused"
        patterns._given_up.clear()  # noqa: SLF001 - the same pattern once more


@pytest.mark.long
def test_fact_of_the_entry(tmp_path: Path) -> None:
    verdict, seconds = verdict_with(entry(facts=[{"name": "berth", "line": ENDLESS}]), tmp_path)
    assert "a pattern of test-berth-refused, fact berth takes too long and was left out" in verdict.notices
    assert seconds < 5


@pytest.mark.long
def test_mark(tmp_path: Path) -> None:
    marks: dict[str, object] = {
        "tool": "sail",
        "marks": [{"id": "berth", "does": "open", "phase": "test", "line": ENDLESS, "literal": "berth refused"}],
    }
    verdict, seconds = verdict_with(marks, tmp_path, name="phases/sail.yaml")
    assert "a pattern of the mark sail/berth takes too long and was left out" in verdict.notices
    assert seconds < 5


def test_many_slow_searches_add_up_to_a_limit(tmp_path: Path) -> None:
    # Cubic, not exponential: each search takes some hundredths of a second and none reaches the limit for one.
    slow = "berth refused: (?:a*a*a*b|c)$"
    log = (
        "+ ./sail\n"
        + ("berth refused: " + "a" * 300 + "!\n") * 3000
        + "quay closed\nERROR: exit code 3\nFinished: FAILURE\n"
    )
    _, seconds = verdict_with(entry(signatures=[signature("slow", slow, literal="berth refused: ")]), tmp_path, log)
    assert seconds < 10


def test_sound_pattern_of_a_user_is_kept(tmp_path: Path) -> None:
    verdict, _ = verdict_with(entry(), tmp_path)
    assert verdict.root is not None
    assert verdict.root.failure.id == "test-berth-refused"
    assert not any("takes too long" in notice for notice in verdict.notices)


def test_built_in_patterns_are_searched_without_a_clock() -> None:
    catalogue = load_catalogue(user=ROOT / "no-such-folder", built_in=ROOT / "knowledge")
    kinds = {type(patterns.compiled(rule.line)) for rule in catalogue.rules()}
    assert patterns.PatientPattern not in kinds


@pytest.mark.parametrize(
    "pattern", ["(" * 3000, "a" * 100_000, "(?R)", "(?:x){99999999999999}", "[[[", "(?<a>)(?<a>x)\\g<b>", "\\p{Nope}"]
)
def test_patterns_that_can_not_be_compiled(pattern: str) -> None:
    patterns.limit([pattern])
    begin = time.monotonic()
    made = patterns.compiled(pattern)
    _ = made.search("x" * 4096) if made else None
    assert time.monotonic() - begin < 5


def test_growth_is_still_measured_on_a_limited_pattern() -> None:
    from logdoctor.catalogue.growth import slow_input

    patterns.limit([ENDLESS])
    assert slow_input(ENDLESS, ["berth refused: aaa"]) is not None
