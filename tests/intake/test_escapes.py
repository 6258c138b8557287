"""Escape codes against ECMA-48 as a terminal emulator reads it, residue, and what is made visible."""

from __future__ import annotations

import unicodedata

import pyte
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logdoctor.intake import pieces, printable, strip_escapes

_WORDS = st.sampled_from(["error", "BUILD FAILED", " ", "a [0] b", "§ 3", "x=1;", "café", "[INFO]", "100%"])
# Sequences that move no character: colours, modes, titles, links, character sets, keypad.
_INVISIBLE = st.sampled_from(
    [
        "\x1b[0m",
        "\x1b[m",
        "\x1b[1;31m",
        "\x1b[38;5;196m",
        "\x1b[38;2;10;20;30m",
        "\x1b[?25l",
        "\x1b[?2004h",
        "\x1b[K",
        "\x1b[0K",
        "\x1b]0;a title\x07",
        "\x1b]2;a title\x1b\\",
        "\x1b]8;;https://docs.brackwater.example/a\x1b\\",
        "\x1b]8;;\x1b\\",
        "\x1b(B",
        "\x1b>",
        "\x1b=",
        "\x9b31m",
        "\x9d0;a title\x9c",
    ]
)


@given(st.lists(st.one_of(_WORDS, _INVISIBLE), max_size=12))
def test_stripping_leaves_what_a_terminal_shows(parts: list[str]) -> None:
    text = "".join(parts)
    screen = pyte.Screen(250, 2)
    pyte.Stream(screen).feed(text)
    assert strip_escapes(text).rstrip() == screen.display[0].rstrip()


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        pytest.param("a\x1b]0;title never ended", "a", id="operating-system-command-cut-short"),
        pytest.param("a\x1b[31", "a", id="control-sequence-cut-short"),
        pytest.param("a\x1b", "a", id="lone-escape"),
        pytest.param("a\x1bPq#0;2;0\x1b\\b", "ab", id="device-control-string"),
        pytest.param("a\x1b[>0;276;0cb", "ab", id="private-parameters"),
        pytest.param("a\x1b[1 qb", "ab", id="intermediate-byte"),
        pytest.param("a\x1b#8b", "ab", id="one-intermediate-escape"),
        pytest.param("\x1b]8;;\x1b[31mred", "red", id="command-broken-by-a-colour"),
        pytest.param("â\x80\x9dquoted twice", "â\x80\x9dquoted twice", id="double-encoded-quote-is-no-command"),
        pytest.param("a\x9b1;31mb", "ab", id="8-bit-control-sequence"),
    ],
)
def test_odd_sequences_are_stripped(text: str, shown: str) -> None:
    assert strip_escapes(text) == shown


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        pytest.param("[31mfatal[0m: no", "fatal: no", id="colour"),
        pytest.param("[[1;34mINFO[m] Scanning", "[INFO] Scanning", id="bracketed-level"),
        pytest.param("[[1;31mERROR[0;39m] [my-pod] x", "[ERROR] [my-pod] x", id="other-brackets-stay"),
        pytest.param("remote: done.[K", "remote: done.", id="erase-at-the-end"),
        pytest.param("[0Ksection", "section", id="erase-at-the-start"),
        pytest.param("[31mmake: *** [main.o] Error 1[m", "make: *** [main.o] Error 1", id="beside-a-target"),
        pytest.param("[33mplugins[0m [maven-a, b]", "plugins [maven-a, b]", id="beside-a-list"),
    ],
)
def test_residue_of_lost_escape_bytes_is_stripped(text: str, shown: str) -> None:
    assert strip_escapes(text) == shown


@pytest.mark.parametrize(
    "text",
    [
        "x = a[0]",
        "[0] task",
        "rate(errors[5m])",
        "took [1m 12s]",
        "[main] started",
        "[K8s] ready",
        "[make] x",
        "a[m]",
        "Map[K, V]",
        "[ 50%] Building",
        "[1/4] Resolving",
        "[2K items]",
        "m[k] = 31m",
    ],
)
def test_ordinary_brackets_are_no_residue(text: str) -> None:
    assert strip_escapes(text) == text


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        pytest.param("10%\r50%\r100%", ["10%", "50%", "100%"], id="progress"),
        pytest.param("\r\rdone\r", ["done"], id="empty-ones-dropped"),
        pytest.param("plain", ["plain"], id="none"),
        pytest.param("", [], id="empty"),
    ],
)
def test_pieces_are_split_on_carriage_returns(line: str, expected: list[str]) -> None:
    assert pieces(line) == expected


def test_printable_replaces_all_that_acts_or_hides() -> None:
    everything = "".join(map(chr, range(0x110000)))
    left = {unicodedata.category(letter) for letter in printable(everything)}
    assert not left & {"Cc", "Cf", "Cs", "Zl", "Zp"}


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        pytest.param("a\tb", "a    b", id="tab"),
        pytest.param("a\x1b[31mb", "a\\x1b[31mb", id="escape"),
        pytest.param("a\nb\x07", "a\\x0ab\\x07", id="control"),
        pytest.param("a\u202eb\u200bc", "a\ufffdb\ufffdc", id="bidi-and-zero-width"),
        pytest.param("Grüße 漢字 é 👍", "Grüße 漢字 é 👍", id="letters-stay"),
    ],
)
def test_printable_shows_what_was_hidden(text: str, shown: str) -> None:
    assert printable(text) == shown
