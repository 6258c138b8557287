"""Lines are numbered as everywhere else, and those that matter are kept."""

from __future__ import annotations

import pytest

from logdoctor.drafting.lines import AFTER, BEFORE, HEAD, LONGEST, TAIL, keep_lines, numbered
from logdoctor.intake import open_log


@pytest.mark.parametrize(
    ("data", "lines"),
    [
        (b"a\nb\n", [b"a", b"b"]),
        (b"a\r\nb", [b"a", b"b"]),
        (b"a\n\n\nb\n", [b"a", b"", b"", b"b"]),
        (b"a\rb\n", [b"a\rb"]),
    ],
)
def test_numbers_and_line_ends(data: bytes, lines: list[bytes]) -> None:
    with open_log(data, name="x") as log:
        assert list(numbered(log)) == list(enumerate(lines, start=1))


def test_a_very_long_line_is_cut_and_counts_once() -> None:
    with open_log(b"a" * (3 << 20) + b"\nb\n", name="x") as log:
        found = list(numbered(log))
    assert [(number, len(line)) for number, line in found] == [(1, LONGEST), (2, 1)]


def test_keeps_head_tail_the_chosen_and_the_asked_for() -> None:
    total = 20_000
    with open_log("".join(f"line {n}\n" for n in range(1, total + 1)).encode(), name="x") as log:
        kept = keep_lines(log, 9_000, {5_000})
    assert kept.total == total
    assert set(kept.raw) == {
        *range(1, HEAD + 1),
        *range(4_999, 5_002),
        *range(9_000 - BEFORE, 9_001 + AFTER),
        *range(total - TAIL + 1, total + 1),
    }
    assert all(kept.raw[n] == f"line {n}" for n in kept.raw)
    assert list(kept.raw) == sorted(kept.raw)
