"""Lines by byte offset, held against a plain split of the same bytes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logdoctor.intake import LineReader, Log, open_log

if TYPE_CHECKING:
    from collections.abc import Iterator

_REACH = 64 * 1024


def _reader(content: bytes) -> LineReader:
    log = open_log(content)
    for _ in log.blocks():
        pass
    return LineReader(log)


def _spans(content: bytes) -> list[tuple[int, int, int]]:
    """Start, end without line end, and end of every line, the slow way."""
    spans, start = [], 0
    for line in content.splitlines(keepends=True) if b"\r" not in content else _split(content):
        body = line.removesuffix(b"\n")
        if line.endswith(b"\n"):
            body = body.removesuffix(b"\r")
        spans.append((start, start + len(body), start + len(line)))
        start += len(line)
    return spans


def _split(content: bytes) -> list[bytes]:
    lines = [part + b"\n" for part in content.split(b"\n")]
    last = lines.pop()[:-1]
    return [*lines, last] if last else lines


_CONTENT = st.lists(st.sampled_from([b"a", b"bc", b"\n", b"\r\n", b"\r", "é".encode()]), max_size=30).map(b"".join)


@given(_CONTENT, st.data())
def test_lines_and_neighbours_agree_with_a_plain_split(content: bytes, data: st.DataObject) -> None:
    content = content.replace(b"\x0b", b"")
    spans = _spans(content)
    if not spans:
        assert _reader(content).line_at(0) == (0, 0)
        return
    number = data.draw(st.integers(0, len(spans) - 1))
    start, end, stop = spans[number]
    offset = data.draw(st.integers(start, stop - 1))
    count = data.draw(st.integers(0, 5))
    reader = _reader(content)
    assert reader.line_at(offset) == (start, end)
    assert reader.before(offset, count) == [span[:2] for span in spans[max(0, number - count) : number]]
    assert reader.after(offset, count) == [span[:2] for span in spans[number + 1 : number + 1 + count]]


def test_lines_across_page_borders_are_found() -> None:
    content = b"".join(b"%d %s\n" % (number, b"x" * (number % 90)) for number in range(5000))
    reader = _reader(content)
    for start, end, _ in _spans(content)[::37]:
        assert reader.line_at((start + end) // 2) == (start, end)


def test_a_very_long_line_is_seen_through_a_window() -> None:
    content = b"first\n" + b"x" * (5 * _REACH) + b"\nlast\n"
    reader = _reader(content)
    middle = 3 * _REACH
    assert reader.line_at(middle) == (middle - _REACH, middle + _REACH)
    assert reader.before(middle, 3) == []
    assert reader.after(middle, 3) == []
    assert reader.line_at(len(content) - 2)[0] == len(content) - 5


@pytest.mark.parametrize(
    ("offset", "expected"),
    [pytest.param(-5, (0, 3), id="before-the-start"), pytest.param(999, (4, 7), id="behind-the-end")],
)
def test_an_offset_outside_the_log_means_its_nearest_line(offset: int, expected: tuple[int, int]) -> None:
    assert _reader(b"one\ntwo\n").line_at(offset) == expected


def test_text_is_decoded_and_limited() -> None:
    reader = _reader("é".encode() * 9000)
    assert reader.text(0, 4) == "éé"
    assert reader.text(1, 18000) == "\ufffd" + "é" * 4095
    assert reader.text(9, 3) == ""


class _Counting(Log):
    """A log that counts how often it is read."""

    reads = 0

    def read_at(self, offset: int, length: int) -> bytes:
        self.reads += 1
        return super().read_at(offset, length)


@pytest.fixture
def counting() -> Iterator[_Counting]:
    plain = open_log(b"a line of text\n" * 20000)
    log = _Counting(name="x", encoding="utf-8", store=plain._store)  # noqa: SLF001
    for _ in log.blocks():
        pass
    yield log
    log.close()


def test_repeated_looks_at_neighbours_read_each_page_once(counting: _Counting) -> None:
    reader = LineReader(counting)
    for offset in range(100_000, 140_000, 150):
        reader.before(offset, 3)
        reader.after(offset, 3)
    assert counting.reads <= 5
