from __future__ import annotations

import re
from dataclasses import replace

import pytest

from logdoctor.intake import printable
from logdoctor.model import Item, Part
from logdoctor.reports.annotations import annotation_lines, column_of
from tests.reports.evil import EVIL, LOGS, hostile_verdicts, poisoned, verdict_named
from tests.reports.hostile import HOSTILE, UNSAFE
from tests.support import ROOT, verdict_of

READ = re.compile(r"^(?P<file>[^\n]+?):(?P<line>[1-9]\d*):(?:(?P<column>[1-9]\d*):)? error: (?P<text>.+)$")
"""How an editor reads a compiler's line."""


def test_each_error_points_into_its_source_with_column_where_the_log_gives_one() -> None:
    lines = annotation_lines(verdict_of(LOGS["items-with-files"]))
    assert [line.rpartition("/")[2] for line in lines] == [
        "Tariff.java:12:34: error: incompatible types: String cannot be converted to int [compile-source-error]",
        "Rate.java:7:1: error: ';' expected [compile-source-error]",
    ]


def test_failure_without_a_source_points_into_the_log() -> None:
    verdict = verdict_of(LOGS["refused"])
    assert verdict.root is not None
    (line,) = annotation_lines(verdict)
    assert line == f"test.log:{verdict.root.line}: error: {verdict.root.failure.title} [{verdict.root.failure.id}]"


def test_line_of_a_part_is_told_in_the_part() -> None:
    verdict = verdict_of(LOGS["refused"])
    source = replace(verdict.source, parts=(Part(name="2_upload.txt", first=1),))
    (line,) = annotation_lines(replace(verdict, source=source))
    assert line.startswith("test.log/2_upload.txt:1: error: ")


def test_item_without_a_place_leads_to_the_log_once() -> None:
    verdict = verdict_of(LOGS["items-with-files"])
    assert verdict.root is not None
    items = (*verdict.root.items, Item(text="x", file=None, line=None), Item(text="y", file="a.c", line=None))
    lines = annotation_lines(replace(verdict, root=replace(verdict.root, items=items)))
    assert [line.startswith("test.log:2: error: ") for line in lines] == [False, False, True]


@pytest.mark.parametrize("log", ["succeeded", "nothing"])
def test_nothing_wrong_is_no_line(log: str) -> None:
    assert annotation_lines(verdict_of(LOGS[log])) == []


def test_unknown_failure_points_at_the_line_worth_reading() -> None:
    (line,) = annotation_lines(verdict_of(LOGS["unknown"]))
    assert line.startswith("test.log:2: error: ")
    assert "bad moon rising" in line


@pytest.mark.parametrize("evil", EVIL.values(), ids=EVIL.keys())
@pytest.mark.parametrize("log", LOGS)
def test_hostile_text_stays_one_line_and_no_order(log: str, evil: str) -> None:
    for line in annotation_lines(poisoned(verdict_named(log), evil)):
        assert READ.match(line)
        assert printable(line) == line
        assert not line.lstrip().startswith("::")
        assert not re.search(r"##[^\[\]]{0,80}\[", line)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_logs_stay_one_line_an_error(name: str) -> None:
    for verdict in hostile_verdicts(name):
        told = annotation_lines(verdict)
        assert told
        assert all(READ.match(one) and not UNSAFE.search(one) for one in told)


@pytest.mark.parametrize("path", sorted((ROOT / "sample_logs").glob("*.log")), ids=lambda p: p.stem)
def test_every_failed_sample_gives_lines(path: object) -> None:
    verdict = verdict_of(path.read_bytes())  # type: ignore[attr-defined]
    assert bool(annotation_lines(verdict)) == (verdict.root is not None)


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("src/a.c:12:5: error: x", 5),
        ("[ERROR] src/a.c:[12,5] x", 5),
        ("src/a.c(12,5): error C1: x", 5),
        ("src/a.c: (12, 5): x", 5),
        ("src/a.c:12: error", None),
        ("src/a.c:123:5: error", None),
        ("src/a.c:12:0: error", None),
        ("src/axc:12:5: error", None),
    ],
)
def test_column_is_read_beside_the_place(text: str, column: int | None) -> None:
    assert column_of(Item(text="x", file="src/a.c", line=12), [text]) == column
