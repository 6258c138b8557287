from __future__ import annotations

import pytest

from logdoctor.intake import open_log
from logdoctor.terminal.logpane.finding import BadPatternError, Hits, Query, run_search


def found(data: bytes, pattern: str, *, is_regex: bool = False) -> list[int]:
    with open_log(data, name="test.log") as log:
        for _ in log.blocks():
            pass
        hits = Hits()
        run_search(log, Query(pattern, is_regex=is_regex), hits, lambda done: True)
        return list(hits.lines)


LINES = b"Alpha\nbeta gamma\n\nBETA\r\nalpha alpha\nlast (beta"


@pytest.mark.parametrize(
    ("pattern", "is_regex", "lines"),
    [
        ("beta", False, [2, 4, 6]),
        ("BETA", False, [4]),
        ("alpha", False, [1, 5]),
        ("(beta", False, [6]),
        ("^beta$", True, [4]),
        (r"\bgam", True, [2]),
        (r"a\s+b", True, []),
        ("^$", True, [3]),
        (r"(\w+) \1", True, [5]),
        (r"\Salpha", True, []),
        ("nothing", False, []),
    ],
)
def test_lines_are_found_one_by_one(pattern: str, is_regex: bool, lines: list[int]) -> None:
    assert found(LINES, pattern, is_regex=is_regex) == lines


def test_colours_within_a_word_do_not_hide_it() -> None:
    data = b"one\n\x1b[1;31mFAI\x1b[0mLURE: \x1b[4mpier\x1b[0m\nthree\n"
    assert found(data, "FAILURE: pier") == [2]
    assert found(data, "^FAILURE", is_regex=True) == [2]


def test_letters_of_other_encodings_are_found() -> None:
    assert found("eins\nFähre fährt ab\n".encode() * 2, "fähr") == [2, 4]
    assert found("eins\nDie Fähre fährt über Nacht\n".encode("latin-1"), "fähre") == [2]
    assert found("eins\nFähre\n".encode("utf-16"), "fähre") == [2]


def test_a_text_deep_in_an_overlong_line_is_found_also_across_the_cut() -> None:
    for place in (5_000, (1 << 20) - 3, 2_500_000):
        data = b"first\n" + b"x" * place + b"needle" + b"y" * 100_000 + b"\nneedle\n"
        with open_log(data, name="test.log") as log:
            for _ in log.blocks():
                pass
            for is_regex in (False, True):
                hits = Hits()
                run_search(log, Query("needle", is_regex=is_regex), hits, lambda done: True)
                assert list(hits.lines) == [2, 3]
                assert hits.far == {2: place}


def test_a_bad_pattern_is_one_clear_line() -> None:
    with pytest.raises(BadPatternError, match="can't be read") as caught:
        Query("(open", is_regex=True)
    assert "\n" not in str(caught.value)
    with pytest.raises(BadPatternError, match="nothing to look for"):
        Query("", is_regex=False)


def test_a_pattern_without_end_is_given_up() -> None:
    with pytest.raises(BadPatternError, match="takes too long"):
        found(b"a" * 5000 + b"b\n", r"(?:a|aa|a?a)+(?:a|aa)+$", is_regex=True)


def test_a_search_that_is_told_to_stop_stops() -> None:
    with open_log(b"needle\n" * 600_000, name="test.log") as log:
        for _ in log.blocks():
            pass
        hits = Hits()
        run_search(log, Query("needle", is_regex=False), hits, lambda done: False)
    assert 0 < len(hits.lines) < 600_000


def test_next_and_previous_go_around_the_end() -> None:
    hits = Hits()
    for line in (3, 3, 8):
        hits.add(line, 0)
    assert list(hits.lines) == [3, 8]
    assert (hits.beside(3, 1), hits.beside(8, 1), hits.beside(3, -1), hits.beside(5, -1)) == (8, 3, 8, 3)
    assert (hits.from_line(4), hits.from_line(9), hits.rank(8), hits.rank(4)) == (8, None, 2, None)
