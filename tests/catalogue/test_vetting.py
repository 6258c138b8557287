from __future__ import annotations

from pathlib import Path

import pytest

from logdoctor.catalogue import load_catalogue
from logdoctor.catalogue.patterns import compiled
from logdoctor.catalogue.vetting import vet
from logdoctor.intake import clean
from tests.catalogue.test_loading import ENTRY
from tests.support import catalogue


@pytest.mark.long
def test_built_in_catalogue_has_no_problems() -> None:
    assert [str(p) for p in vet(catalogue(), growth=False)] == []


def vetted(tmp_path: Path, text: str) -> list[str]:
    (tmp_path / "checkout").mkdir()
    (tmp_path / "checkout" / "tide-too-low.yaml").write_text(text)
    (tmp_path / "facts.yaml").write_text("computed: {status: a status}\n")
    loaded = load_catalogue(built_in=tmp_path, user=tmp_path / "nowhere")
    return [str(p) for p in vet(loaded)]


CHECK = """\
checks:
  - id: look
    ask: Is the moon new?
    how: Look up at night.
    effort: seconds
    yes: {moon: for}
    no: {moon: against}
"""


def test_sound_entry_passes(tmp_path: Path) -> None:
    assert vetted(tmp_path, ENTRY + CHECK) == []


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("fatal: tide too low at northpier", "fatal: tide too high", "misses it"),
        ("seen: memory}]", "seen: memory}]\n    lookalikes: ['tide too low at pier']", "it matches"),
        ("seen: memory}]", "seen: memory}]\n    lookalikes: ['0123456789']", "trivially far"),
        ("tide too low at (?<pier>\\w+)", "tide too low at (", "not valid"),
        ("tide too low at (?<pier>\\w+)", "tide too low at (?:\\w+)+!|tide too low", "backtracks"),
        ("line: 'tide", "literal: 'at '\n    line: 'tide", "too short"),
        ("line: 'tide", "literal: 'flood gates'\n    line: 'tide", "no picking literal"),
        ("usual: common", "usual: common\n    clues: [{fact: depth, is: 3, speaks: for}]", "nothing produces depth"),
        ("phase: checkout", "phase: checkout\nexplains: [checkout-nothing]", "no failure checkout-nothing"),
        ("phase: checkout", "phase: checkout\nstandard: {http_status: 299}", "not a registered status"),
        ("phase: checkout", "phase: checkout\nstandard: {signal: SIGTIDE}", "not a signal"),
        ("phase: checkout", "phase: checkout\nstandard: {errno: ETIDE}", "not an error number"),
        ("phase: checkout", "phase: checkout\nstandard: {class_file_version: {'17': 60}}", "not that of Java 17"),
        ("no: {moon: against}", "no: {moon: for}", "can't tell anything apart"),
        ("no: {moon: against}", "no: {sun: against}", "no cause sun"),
    ],
)
def test_vetting_tells_what_is_wrong(old: str, new: str, problem: str, tmp_path: Path) -> None:
    text = ENTRY + CHECK
    assert old in text
    problems = vetted(tmp_path, text.replace(old, new))
    assert any(problem in p for p in problems), problems


def test_signature_that_matches_another_failure_s_example_is_told(tmp_path: Path) -> None:
    (tmp_path / "checkout").mkdir()
    other = ENTRY.replace("tide-too-low", "tide-too-high").replace("tide too low at (?<pier>\\w+)", "tide too \\w+")
    (tmp_path / "checkout" / "high.yaml").write_text(other)
    assert any("matches it too" in p for p in vetted_beside(tmp_path))


def vetted_beside(tmp_path: Path) -> list[str]:
    (tmp_path / "checkout" / "low.yaml").write_text(ENTRY)
    (tmp_path / "facts.yaml").write_text("computed: {}\n")
    return [str(p) for p in vet(load_catalogue(built_in=tmp_path, user=tmp_path / "nowhere"), growth=False)]


MARKS = [
    pytest.param(mark_id, example, id=f"{mark_id}-{number}")
    for mark_id, mark in catalogue().marks.items()
    for number, example in enumerate(catalogue().mark_examples(mark_id))
]


@pytest.mark.parametrize(("mark_id", "example"), MARKS)
def test_mark_matches_its_examples_and_picks_them(mark_id: str, example: str) -> None:
    mark = catalogue().marks[mark_id]
    pattern = compiled(mark.line)
    assert pattern is not None
    assert pattern.search(clean(example).text)
    assert any(literal in example for literal in mark.literals)


@pytest.mark.parametrize("mark_id", list(catalogue().marks))
def test_mark_does_not_match_its_lookalikes(mark_id: str) -> None:
    pattern = compiled(catalogue().marks[mark_id].line)
    assert pattern is not None
    assert [x for x in catalogue().mark_examples(mark_id, lookalikes=True) if pattern.search(clean(x).text)] == []


def test_every_mark_has_an_example() -> None:
    assert [m for m in catalogue().marks if not catalogue().mark_examples(m)] == []
