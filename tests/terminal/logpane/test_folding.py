from __future__ import annotations

import pytest

from logdoctor.intake import open_log
from logdoctor.terminal.logpane import LogMark
from logdoctor.terminal.logpane.folding import Fold, find_folds
from logdoctor.terminal.logpane.marks import MarkBook
from logdoctor.terminal.logpane.passes import passes
from logdoctor.terminal.logpane.rows import FoldMap, without_marked


def folds_of(text: str, *, size: int = 1 << 20) -> list[tuple[int, int, str]]:
    with open_log(text.encode(), name="test.log") as log:
        for _ in log.blocks():
            pass
        return [(f.first, f.last, f.kind) for f in find_folds(log, lambda done: True)]


DOWNLOADS = {
    "maven": "[INFO] Downloaded from central: https://repo.public.example/maven2/org/a/maven-failsafe-plugin-{0}.jar ({0} kB at 404 kB/s)",
    "maven before 3.5": "Downloading: https://repo.public.example/maven2/org/a/error_prone_annotations-2.{0}.pom",
    "gradle": "Download https://repo.public.example/maven2/org/a/a-{0}.jar",
    "apt": "Get:{0} http://deb.public.example/debian bookworm/main amd64 libc6 amd64 2.36 [2,757 kB]",
    "container layers": "5a{0:010d}: Pull complete",
    "npm": "npm http fetch GET 200 https://registry.public.example/left-pad 40{0}ms (cache miss)",
    "pip": "Collecting example-fares=={0}.0",
    "cargo": "  Downloaded serde v1.0.{0}",
    "go": "go: downloading example.brackwater/fares v1.2.{0}",
}


@pytest.mark.parametrize("line", DOWNLOADS.values(), ids=DOWNLOADS)
@pytest.mark.parametrize("stamp", ["", "2026-03-04T10:11:{0:02d}.1234567Z "], ids=["bare", "stamped"])
def test_a_run_of_downloads_folds(line: str, stamp: str) -> None:
    text = "before\n" + "".join((stamp + line).format(n) + "\n" for n in range(1, 7)) + "after\n"
    assert folds_of(text) == [(2, 7, "download")]


TROUBLE = (
    "[WARNING] Could not transfer metadata, Downloading from central: https://repo.public.example/a",
    "Downloading https://repo.public.example/a.jar failed, see https://ci.brackwater.example/1",
    "[ERROR] Downloaded from central: https://repo.public.example/a.jar: checksum mismatch",
    "npm http fetch GET 404 https://registry.public.example/left-pad 40ms (cache miss)",
    "Downloading: https://repo.public.example/a.pom status: 403.",
    "5a0000000001: Download retrying in 5 seconds",
)


@pytest.mark.parametrize("line", TROUBLE)
def test_a_line_that_speaks_of_trouble_is_never_folded(line: str) -> None:
    downloads = [DOWNLOADS["maven"].format(n) for n in range(8)]
    text = "\n".join([*downloads[:4], line, *downloads[4:]]) + "\n"
    assert folds_of(text) == [(1, 4, "download"), (6, 9, "download")]


def test_lines_alike_but_for_the_time_stamp_fold_and_others_do_not() -> None:
    stamped = "".join(f"2026-03-04T10:11:{n:02d}.1234567Z waiting for the pier\n" for n in range(6))
    assert folds_of(stamped) == [(1, 6, "repeated")]
    counted = "".join(f"2026-03-04T10:11:{n:02d}.1234567Z Tests run: {n}, Failures: {n % 3}\n" for n in range(6))
    assert folds_of(counted) == []


def test_short_runs_stay_as_they_are() -> None:
    assert folds_of("same\n" * 3 + "other\n") == []
    assert folds_of("same\n" * 4 + "other\n") == [(1, 4, "repeated")]


def test_a_run_goes_on_across_the_pieces_of_a_pass() -> None:
    text = "first\n" + "the same words again and again\n" * 90_000 + "last\n"
    assert folds_of(text) == [(2, 90_001, "repeated")]


def test_pieces_hold_every_line_whole_and_numbered() -> None:
    data = b"a\n" * 50 + b"z" * 20_000 + b"\nb\nc\n" + b"y" * 5000
    with open_log(data, name="test.log") as log:
        for _ in log.blocks():
            pass
        found = list(passes(log, size=6000))
    whole = [piece for piece in found if not piece.part]
    assert {p.line for p in found if p.part} == {51}
    assert b"".join(p.data for p in whole) == b"a\n" * 50 + b"b\nc\n" + b"y" * 5000
    for piece in found:
        assert data[piece.offset : piece.end] == piece.data
        assert data.count(b"\n", 0, piece.offset) + 1 == piece.line
    covered = bytearray(len(data))
    for piece in found:
        covered[piece.offset : piece.end] = b"\1" * len(piece.data)
    assert all(covered)


FOLDS = (Fold(first=3, last=6, kind="download"), Fold(first=10, last=19, kind="repeated"))


def test_places_and_lines_answer_each_other() -> None:
    rows = FoldMap(FOLDS)
    shown = [1, 2, 3, 7, 8, 9, 10, 20, 21]
    assert [rows.line_of(place) for place in range(len(shown))] == shown
    assert [rows.place_of(line) for line in shown] == list(range(len(shown)))
    assert rows.place_of(5) == 2
    assert rows.places(21) == 9


def test_an_opened_fold_shows_its_lines_and_closes_again() -> None:
    rows = FoldMap(FOLDS)
    rows.flip(FOLDS[0])
    assert [rows.line_of(place) for place in range(8)] == [1, 2, 3, 4, 5, 6, 7, 8]
    rows.flip(FOLDS[0])
    assert rows.line_of(3) == 7
    rows.switch(active=False)
    assert rows.line_of(12) == 13


def test_a_marked_line_is_left_out_of_its_fold() -> None:
    marks = MarkBook([LogMark(line=15, role="root", evidence=True, label="")])
    parts = without_marked(FOLDS, marks)
    assert [(f.first, f.last) for f in parts] == [(3, 6), (10, 14), (16, 19)]
    assert without_marked(FOLDS, MarkBook([LogMark(line=4, role="root", evidence=True, label="")]))[0].first == 10
