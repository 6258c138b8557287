"""Whatever a terminal would act on or a reader would not see is replaced."""

from __future__ import annotations

import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logdoctor.intake import printable
from logdoctor.reports.formats import FORMATS, Beside, render
from tests.support import verdict_of

UNSEEN = frozenset(["Cc", "Cf", "Cs", "Zl", "Zp"])


def unsafe(letter: str) -> bool:
    """Written apart from the code under test: by category, and the noncharacters by their definition."""
    point = ord(letter)
    return unicodedata.category(letter) in UNSEEN or point & 0xFFFE == 0xFFFE or 0xFDD0 <= point <= 0xFDEF


def test_every_code_point_that_is_not_seen_is_replaced() -> None:
    letters = [chr(point) for point in range(sys.maxunicode + 1)]
    assert [hex(ord(x)) for x in letters if unsafe(x) and x in printable(f"a{x}")] == []


def test_letters_marks_and_symbols_stay() -> None:
    kept = ["L", "N", "P", "S"]
    letters = [chr(p) for p in range(sys.maxunicode + 1) if unicodedata.category(chr(p))[0] in kept]
    fillers = {"\u115f", "\u1160", "\u3164", "\uffa0"}  # letters without a shape
    assert [hex(ord(x)) for x in letters if printable(x) != x and x not in fillers] == []


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        pytest.param("\u26a0\ufe0f deprecated", "\u26a0\ufe0f deprecated", id="emoji keeps its selector"),
        pytest.param("a\ufe0f\ufe0e", "a\ufffd\ufffd", id="selectors after a letter"),
        pytest.param("\u2714\ufe0f\ufe0f", "\u2714\ufe0f\ufffd", id="one selector, not a row of them"),
        pytest.param("a\U000e0101b", "a\ufffdb", id="supplementary selectors"),
        pytest.param("\ufffe\uffff\U0010ffff", "\ufffd" * 3, id="noncharacters"),
        pytest.param("\u202egpj.exe", "\ufffdgpj.exe", id="right-to-left override"),
        pytest.param("\x1b[2J\x9b", "\\x1b[2J\\x9b", id="escape codes"),
    ],
)
def test_invisible_text(text: str, shown: str) -> None:
    assert printable(text) == shown


@given(st.text())
def test_printable_is_final(text: str) -> None:
    once = printable(text)
    assert printable(once) == once
    assert not any(map(unsafe, once))


@pytest.mark.parametrize("form", FORMATS)
def test_no_report_holds_what_is_not_seen(form: str) -> None:
    evil = "".join(
        chr(p) for p in range(0x11000) if unsafe(chr(p)) and chr(p) not in "\n\r" and not 0xD800 <= p < 0xE000
    )
    lines = [evil[i : i + 40] for i in range(0, len(evil), 40)]
    body = "\n".join(f"ERROR: could not open {line} file" for line in lines)
    log = (
        "berth ready\n" * 400
        + f"+ ./berth {evil[:90]}\n{body}\nfatal: couldn't find remote ref {lines[0]}x{lines[1]}\nFinished: FAILURE\n"
    )
    text = render(form, verdict_of(log.encode()), Beside())
    assert {hex(ord(x)) for x in text if x != "\n" and unsafe(x)} == set()
