from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from logdoctor.intake import open_log
from logdoctor.terminal.logpane.index import STEP, LineIndex


@contextmanager
def whole_index(data: bytes) -> Iterator[LineIndex]:
    with open_log(data, name="test.log") as log:
        for _ in log.blocks():
            pass
        index = LineIndex(log)
        for _ in index.grow():
            pass
        yield index


def spans_of(data: bytes) -> list[tuple[int, int]]:
    """The plain way: split, and add up."""
    spans, start = [], 0
    lines = data.split(b"\n")
    for line in lines if lines[-1] else lines[:-1]:
        spans.append((start, start + len(line)))
        start += len(line) + 1
    return spans


def random_log(seed: int) -> bytes:
    dice = random.Random(seed)
    lengths = [dice.choice([0, 1, 7, 80, 300, STEP - 1, STEP, STEP + 1, 3 * STEP]) for _ in range(400)]
    return b"\n".join(b"x" * length for length in lengths) + dice.choice([b"", b"\n", b"\n\n"])


@pytest.mark.parametrize("seed", range(6))
def test_every_line_begins_and_ends_where_splitting_says(seed: int) -> None:
    data = random_log(seed)
    expected = spans_of(data)
    with whole_index(data) as index:
        assert index.lines == len(expected)
        assert index.spans(1, len(expected) + 5) == expected
        for line in random.Random(seed).sample(range(1, len(expected) + 1), 60):
            assert index.start_of(line) == expected[line - 1][0]
            assert index.spans(line, 3) == expected[line - 1 : line + 2]
            assert index.line_at(expected[line - 1][0]) == line


@pytest.mark.parametrize(
    ("data", "lines"), [(b"a", 1), (b"a\n", 1), (b"a\nb", 2), (b"\n\n", 2), (b"a\rb\r\nc", 2), (b"x" * STEP + b"\n", 1)]
)
def test_lines_count_as_grep_counts_them(data: bytes, lines: int) -> None:
    with whole_index(data) as index:
        assert index.lines == lines


def test_a_partly_read_log_answers_for_its_part(tmp_path: Path) -> None:
    path = tmp_path / "build.log"
    path.write_bytes(b"0123456789\n" * 400_000)
    with open_log(path) as log:
        index = LineIndex(log)
        next(index.grow())
        assert not index.complete
        known = index.lines
        assert 1 < known < 400_000
        assert index.spans(known - 2, 2) == [
            ((known - 3) * 11, (known - 3) * 11 + 10),
            ((known - 2) * 11, (known - 2) * 11 + 10),
        ]
        assert index.start_of(10**9) == index.done


def test_the_index_takes_eight_bytes_for_64_kib() -> None:
    with whole_index(b"y" * 30 + b"\n" + b"x" * (100 * STEP)) as index:
        assert len(index._before) == 101  # noqa: SLF001 - memory is what this is about
