from __future__ import annotations

import time

import pytest
from textual import events

from logdoctor.terminal.app import with_line_ends
from logdoctor.terminal.driver import LIMIT, PasteSplitter
from logdoctor.terminal.messages import PastedTooMuch

START, END = b"\x1b[200~", b"\x1b[201~"


def fed(data: bytes, size: int, limit: int = LIMIT) -> list[object]:
    """What comes out when the data comes in pieces; keys joined, pastes as texts."""
    splitter = PasteSplitter(limit)
    out: list[object] = []
    for start in range(0, len(data), size):
        out += splitter.feed(data[start : start + size])
    out.append(splitter.release())
    told: list[object] = []
    for part in out:
        if isinstance(part, bytes):
            if told and isinstance(told[-1], bytes):
                told[-1] += part
            elif part:
                told.append(part)
        elif isinstance(part, events.Paste):
            told.append(part.text)
        else:
            assert isinstance(part, PastedTooMuch)
            told.append(part.size)
    return told


@pytest.mark.parametrize("size", [5, 7, 64, 4096])
def test_keys_and_pastes_are_told_apart_however_the_bytes_come(size: int) -> None:
    data = b"ab" + START + "line 1\rZürich ✗\r".encode() + END + b"\x1b[A" + START + b"x" + END + b"q"
    assert fed(data, size) == [b"ab", "line 1\rZürich ✗\r", b"\x1b[A", "x", b"q"]


def test_an_escape_key_is_not_held_back() -> None:
    assert list(PasteSplitter().feed(b"\x1b")) == [b"\x1b"]


def test_the_beginning_of_a_mark_that_never_comes_is_released() -> None:
    splitter = PasteSplitter()
    assert list(splitter.feed(b"\x1b[2")) == []
    assert splitter.release() == b"\x1b[2"


def test_a_mark_inside_of_a_paste_is_released_only_as_a_part_of_it() -> None:
    splitter = PasteSplitter()
    assert list(splitter.feed(START + b"a\x1b[20")) == []
    assert splitter.release() == b""
    (paste,) = splitter.feed(b"b" + END)
    assert isinstance(paste, events.Paste)
    assert paste.text == "a\x1b[20b"


def test_bytes_that_are_no_text_do_not_end_the_app() -> None:
    assert fed(START + b"\xff\xfe ok" + END, 64) == ["\N{REPLACEMENT CHARACTER}\N{REPLACEMENT CHARACTER} ok"]


def test_line_ends_of_a_terminal_become_those_of_a_log() -> None:
    assert with_line_ends("a\rb\r") == "a\nb\n"
    assert with_line_ends("a\r\nb 10%\rb 20%\nc") == "a\nb 10%\rb 20%\nc"


def test_too_much_is_measured_not_kept() -> None:
    assert fed(START + b"x" * 250 + END + b"q", 16, limit=100) == [250, b"q"]


def test_five_megabytes_are_split_at_once() -> None:
    line = b"[INFO] Downloaded from public: https://repo.public.example/maven2/org/a/b.jar\r"
    data = START + line * (5_000_000 // len(line)) + END
    begun = time.perf_counter()
    (text,) = fed(data, 4096)
    assert isinstance(text, str)
    assert text.count("\r") == 5_000_000 // len(line)
    assert time.perf_counter() - begun < 1.5  # a tenth of that on an ordinary machine; the whole way may take 3 s
