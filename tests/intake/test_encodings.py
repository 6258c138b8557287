"""Encodings of whole logs, and what is refused as no text."""

from __future__ import annotations

import random

import pytest

from logdoctor.errors import InputError
from logdoctor.intake import open_log

_GERMAN = "Prüfung der Fähre schlug fehl: größer als erwartet\n" * 20


@pytest.mark.parametrize(
    ("content", "encoding", "text"),
    [
        pytest.param(b"plain\n", "utf-8", "plain\n", id="ascii"),
        pytest.param("Fähre ✘\n".encode(), "utf-8", "Fähre ✘\n", id="utf-8"),
        pytest.param(b"\xef\xbb\xbfFerry\n", "utf-8", "Ferry\n", id="utf-8-mark-dropped"),
        pytest.param(b"\xff\xfe" + "Fähre ✘\n".encode("utf-16-le"), "utf-16-le", "Fähre ✘\n", id="utf-16-le"),
        pytest.param(b"\xfe\xff" + "Fähre ✘\n".encode("utf-16-be"), "utf-16-be", "Fähre ✘\n", id="utf-16-be"),
        pytest.param("Ferry left\n".encode("utf-16-le"), "utf-16-le", "Ferry left\n", id="unmarked-le"),
        pytest.param("Ferry left\n".encode("utf-16-be"), "utf-16-be", "Ferry left\n", id="unmarked-be"),
        pytest.param(_GERMAN.encode("latin-1"), "latin-1", _GERMAN, id="latin-1"),
        pytest.param(_GERMAN.encode("latin-1") + b"\x81", "latin-1", _GERMAN + "\x81", id="undefined-byte"),
        pytest.param("“quoted” … ok\n".encode("cp1252"), "latin-1", "“quoted” … ok\n", id="windows-1252"),
        pytest.param(b"caf\xe9 \x81\n", "utf-8 (damaged)", "caf\ufffd \ufffd\n", id="odd-bytes"),
        pytest.param(_GERMAN.encode()[2:] + b"\x80\n", "utf-8 (damaged)", None, id="head-cut-inside-a-letter"),
        pytest.param("Prüfung".encode("cp850"), "utf-8 (damaged)", "Pr\ufffdfung", id="dos-code-page"),
        pytest.param("処理に失敗".encode("gbk") * 9, "utf-8 (damaged)", None, id="another-alphabet"),
        pytest.param(b"a" * 65535 + "é".encode() + b"\n", "utf-8", None, id="letter-across-the-first-64-kib"),
        pytest.param(b"log\n\0\0\0" + b"text\n" * 200, "utf-8", None, id="a-few-nul-bytes"),
        pytest.param(b"", "utf-8", "", id="empty"),
        pytest.param(b"\xef\xbb\xbf", "utf-8", "", id="only-a-mark"),
        pytest.param(b"\xff\xfe", "utf-16-le", "", id="only-a-utf-16-mark"),
    ],
)
def test_encoding_is_recognised(content: bytes, encoding: str, text: str | None) -> None:
    with open_log(content) as log:
        raw = b"".join(log.blocks())
        assert log.encoding == encoding
        assert log.size == len(raw)
        if text is not None:
            assert log.decode(raw) == text


def test_utf_16_is_transcoded_across_chunks() -> None:
    text = "Fähre ✘ \U0001f6a2\n" * 60_000
    with open_log(b"\xff\xfe" + text.encode("utf-16-le")) as log:
        assert b"".join(log.blocks()) == text.encode()
        assert log.read_at(0, 6) == "Fähre".encode()


def test_odd_last_byte_of_utf_16_becomes_a_replacement() -> None:
    with open_log(b"\xff\xfeo\0k\0\n\0x") as log:
        assert b"".join(log.blocks()) == "ok\n\ufffd".encode()


_RANDOM = random.Random(7).randbytes(100_000)


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        pytest.param(_RANDOM, "binary", id="random"),
        pytest.param(b"\0" * 5000, "binary", id="zeros"),
        pytest.param(b"\x7fELF\x02\x01\x01" + b"\0" * 9 + b"\x03\0>\0\x01\0\0\0" * 50, "binary", id="program"),
        pytest.param(b"PK\x03\x04\x14\0\0\0\x08\0" + _RANDOM, "zip archive", id="zip"),
        pytest.param(b"BZh91AY&SY" + _RANDOM, "bzip2", id="bzip2"),
        pytest.param(b"a.log".ljust(100, b"\0").ljust(257, b"0") + b"ustar\x0000" + b"\0" * 500, "tar", id="tar"),
    ],
)
def test_what_is_no_text_is_refused(content: bytes, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        open_log(content)
    assert problem in caught.value.problem
    assert "\n" not in str(caught.value)


def test_hostile_escape_codes_are_still_text() -> None:
    with open_log(b"\x1b[31m\x1b[2J\x07\x08" * 1000) as log:
        assert log.encoding == "utf-8"
