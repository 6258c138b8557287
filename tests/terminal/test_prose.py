from __future__ import annotations

import pytest

from logdoctor.terminal.widgets.prose import Para, laid_out

WORDS = "the quick ferry leaves the old harbour at seven in the morning"


@pytest.mark.parametrize("width", [20, 33, 79])
def test_no_line_is_wider_than_the_place_and_no_word_is_lost(width: int) -> None:
    lines = laid_out([Para(WORDS, "1. "), Para(WORDS, "Caution: ", under=3)], width).plain.splitlines()
    assert all(len(line) <= width for line in lines)
    assert " ".join(" ".join(lines).split()) == f"1. {WORDS} Caution: {WORDS}"


def test_continued_lines_stand_under_the_first_word() -> None:
    lines = laid_out([Para(WORDS, "1. ")], 30).plain.splitlines()
    assert len(lines) > 1
    assert all(line.startswith("   ") and line[3] != " " for line in lines[1:])


def test_where_there_is_no_room_nothing_is_indented() -> None:
    assert laid_out([Para(WORDS, "1. ")], 10).plain == f"1. {WORDS}"


def test_an_empty_paragraph_is_an_empty_line() -> None:
    assert laid_out([Para("a"), Para(""), Para("b")], 40).plain == "a\n\nb"
