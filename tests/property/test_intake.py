"""Intake against oracles that are too simple to be wrong."""

from __future__ import annotations

import io
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logdoctor.errors import InputError
from logdoctor.intake import LineReader, clean, open_log, strip_escapes

WORD = st.text(alphabet="abcdefghij :/-", min_size=1, max_size=30).map(lambda t: f"berth {t.strip()} free")
LINES = st.lists(st.text(alphabet=st.characters(exclude_characters="\n\r\x1b", max_codepoint=0x2FFF, exclude_categories=["Cs", "Cc"]), max_size=80), max_size=30)  # fmt: skip
ENDS = st.sampled_from(["\n", "\r\n"])


class Trickle(io.RawIOBase):
    """A stream that comes in pieces of given sizes."""

    def __init__(self, data: bytes, sizes: list[int]) -> None:
        self._data, self._sizes, self._turn = data, sizes or [1 << 20], 0

    def readable(self) -> bool:
        """It is."""
        return True

    def read(self, size: int = -1) -> bytes:
        """The next piece."""
        self._turn += 1
        count = max(1, min(self._sizes[self._turn % len(self._sizes)], size))
        piece, self._data = self._data[:count], self._data[count:]
        return piece


@given(LINES, ENDS, st.booleans(), st.lists(st.integers(1, 50), max_size=5))
@settings(deadline=None)
def test_lines_are_those_that_split_finds(lines: list[str], end: str, ended: bool, sizes: list[int]) -> None:
    text = end.join(lines) + (end if ended and lines else "")
    data = text.encode()
    if text.startswith("\ufeff"):
        return
    with open_log(Trickle(data, sizes), name="x") as log:  # type: ignore[arg-type]
        assert b"".join(log.blocks(7)) == data
        reader = LineReader(log)
        spans = [reader.line_at(0), *reader.after(0, 1000)] if data else []
        shown = [reader.text(start, stop) for start, stop in spans]
    expected = text.split("\n")
    expected = expected[:-1] if expected[-1] == "" else expected
    assert shown == [line.removesuffix("\r") for line in expected]


@given(st.binary(max_size=400), st.integers(0, 450), st.integers(0, 12))
@settings(deadline=None)
def test_neighbours_are_those_of_the_list(data: bytes, offset: int, count: int) -> None:
    data = b"x" * 20 + data.replace(b"\x1f\x8b", b"").replace(b"\0", b"")
    try:
        log = open_log(data, name="x")
    except InputError:
        return
    with log:
        raw = b"".join(log.blocks())
        reader = LineReader(log)
        starts = [0, *(m.end() for m in re.finditer(rb"\n", raw) if m.end() < len(raw))]
        at = max(i for i, start in enumerate(starts) if start <= min(offset, len(raw) - 1))
        assert [s for s, _ in reader.before(offset, count)] == starts[max(0, at - count) : at]
        assert [s for s, _ in reader.after(offset, count)] == starts[at + 1 : at + 1 + count]
        assert reader.line_at(offset)[0] == starts[at]


@given(st.lists(st.one_of(WORD, st.sampled_from(["\x1b[31m", "\x1b[0m", "\x1b[1;4;33m", "\x1b[K", "\x1b]0;title\x07", "\x1b(B", "\x1b]8;;https://a.example\x1b\\", "\x1b[?25l"]))))  # fmt: skip
def test_escape_codes_go_and_nothing_else_does(parts: list[str]) -> None:
    assert strip_escapes("".join(parts)) == "".join(p for p in parts if not p.startswith("\x1b"))


@given(st.text(max_size=200))
def test_escapes_leave_no_escape(text: str) -> None:
    assert "\x1b" not in strip_escapes(text)


STAMPS = st.sampled_from(
    ["2026-03-02T10:11:12Z ", "2026-03-02 10:11:12,345 ", "[2026-03-02T10:11:12.123456Z] ", "10:11:12 ", "[10:11:12] ", "2026-03-02T10:11:12.1234567+02:00 ", "[  12.345678] "]
)  # fmt: skip
LANES = st.sampled_from(["[linux] ", "web_1  | ", "#12 3.456 ", "[jdk-21] "])


@given(STAMPS, LANES, WORD)
def test_prefixes_come_off_in_any_order(stamp: str, lane: str, text: str) -> None:
    for prefix in (stamp, lane, stamp + lane, lane + stamp if not lane.startswith("#") else stamp):
        cleaned = clean(prefix + text)
        assert cleaned.text == text, prefix
        assert (cleaned.stamp is not None) == (stamp in prefix)
        assert (cleaned.lane is not None) == (lane in prefix)


@given(WORD)
def test_a_line_without_prefixes_stays(text: str) -> None:
    assert clean(text).text == text


@given(st.text(max_size=300))
def test_clean_never_raises_nor_adds(text: str) -> None:
    assert len(clean(text).text) <= max(len(text), 1) or text.startswith('{"log":"')


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@given(lines=st.lists(WORD, min_size=12, max_size=40), sizes=st.lists(st.integers(1, 9), max_size=4))
@settings(deadline=None, max_examples=30)
def test_encodings_come_out_the_same(encoding: str, lines: list[str], sizes: list[int]) -> None:
    text = "".join(f"{line} für\n" for line in lines)
    with open_log(Trickle(text.encode(encoding), sizes), name="x") as log:  # type: ignore[arg-type]
        assert log.decode(b"".join(log.blocks())) == text
