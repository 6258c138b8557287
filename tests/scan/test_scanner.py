from __future__ import annotations

from collections.abc import Iterator

import pytest

from logdoctor.catalogue import Rule
from logdoctor.intake import Log, open_log
from logdoctor.scan import RuleBook, Scan, scan
from logdoctor.scan import result as result_module
from logdoctor.scan.pickers import PlainPicker, make_picker

RULES = [
    Rule(key="a/gave-up", kind="signature", line=r"^gave up on (?<what>\w+)", literals=("gave up",)),
    Rule(key="b/refused", kind="signature", line=r"refused \d+ times", literals=("refused",)),
    Rule(key="t/read", kind="mark", line="Fetching file ", literals=("Fetching file ",), tally=True),
]


def scanned(text: bytes, rules: list[Rule] = RULES) -> Scan:
    with open_log(text) as log:
        return scan(log, RuleBook(rules))


def places(result: Scan, key: str) -> list[int]:
    return [hit.line for hit in result.hits[key].kept()] if key in result.hits else []


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        (b"", 0),
        (b"\n", 1),
        (b"one", 1),
        (b"one\n", 1),
        (b"one\ntwo", 2),
        (b"one\r\ntwo\r\n", 2),
        (b"a\rb\rc\n", 1),
    ],
)
def test_lines_are_counted_as_grep_counts_them(text: bytes, lines: int) -> None:
    assert scanned(text).lines == lines


def test_hit_carries_line_groups_and_offset() -> None:
    result = scanned(b"start\n\x1b[31mgave up on hope\x1b[0m\n")
    (hit,) = result.hits["a/gave-up"].kept()
    assert (hit.line, hit.offset, dict(hit.groups), hit.text) == (2, 6, {"what": "hope"}, "gave up on hope")


def test_words_coloured_apart_are_read_as_on_a_screen() -> None:
    log = b"\x1b[1mstart\x1b[0m\n\x1b[33mgave\x1b[0m \x1b[1;31mup on\x1b[K\x1b[m hope\nrefused 2 times\n\x1b[32mFetch\x1b[0ming file \n"
    result = scanned(log)
    (hit,) = result.hits["a/gave-up"].kept()
    assert (hit.line, hit.offset, hit.text) == (2, log.index(b"\n") + 1, "gave up on hope")
    (later,) = result.hits["b/refused"].kept()
    assert (later.line, later.offset) == (3, log.index(b"refused"))
    assert [(t.first, t.offset) for t in result.tallies] == [(4, log.index(b"\x1b[32m"))]
    assert (result.lines, result.bytes) == (4, len(log))


def test_literal_alone_is_no_hit() -> None:
    assert not scanned(b"the offer was refused\n").hits


def test_two_rules_can_hit_one_line() -> None:
    result = scanned(b"gave up on it: refused 3 times\n")
    assert places(result, "a/gave-up") == places(result, "b/refused") == [1]


def test_progress_bar_pieces_are_looked_at_one_by_one() -> None:
    assert places(scanned(b"10%\r50%\rgave up on hope\r\nend\n"), "a/gave-up") == [1]


def test_hit_across_a_block_border_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    text = b"x" * 100 + b"\ngave up on hope\n"
    for size in range(95, 125):

        def blocks(_: Log, size: int = size) -> Iterator[bytes]:
            return (text[i : i + size] for i in range(0, len(text), size))

        monkeypatch.setattr(Log, "blocks", blocks)
        assert places(scanned(text), "a/gave-up") == [2], size


def test_very_long_line_is_looked_at_in_windows() -> None:
    text = b"y" * 700_000 + b" refused 7 times " + b"z" * 700_000 + b"\nrefused 8 times\n"
    assert places(scanned(text), "b/refused") == [1, 2]


def test_tallied_lines_are_counted_and_not_decided() -> None:
    text = b"".join(b"Fetching file %d\n" % n for n in range(6)) + b"pause\n" * 5 + b"Fetching file 9\n"
    result = scanned(text)
    assert [(t.first, t.last, t.count) for t in result.tallies] == [(1, 6, 6), (12, 12, 1)]
    assert "t/read" not in result.hits


def test_first_and_last_hits_are_kept_and_all_counted() -> None:
    result = scanned(b"".join(b"refused %d times\n" % n for n in range(5000)))
    hits = result.hits["b/refused"]
    kept = [hit.line for hit in hits.kept()]
    assert hits.count == 5000
    assert (kept[0], kept[-1]) == (1, 5000)
    assert len(kept) == result_module.KEPT_FIRST + result_module.KEPT_LAST


def test_lines_without_a_literal_are_not_decoded(monkeypatch: pytest.MonkeyPatch) -> None:
    decoded: list[bytes] = []
    original = Log.decode

    def counting(self: Log, raw: bytes) -> str:
        decoded.append(raw)
        return original(self, raw)

    monkeypatch.setattr(Log, "decode", counting)
    scanned(b"ordinary line\n" * 10_000 + b"gave up on hope\n" + b"ordinary line\n" * 10_000)
    assert decoded == [b"gave up on hope"]


def test_invalid_pattern_is_named_and_left_out() -> None:
    result = scanned(b"gave up\n", [Rule(key="c/bad", kind="signature", line="gave (up", literals=("gave up",))])
    assert result.unusable == {"c/bad"}


def test_plain_picker_finds_the_same_lines() -> None:
    literals = [b"refused", b"gave up", b"used", b"up on"]
    text = b"gave up on it, refused\nused up\nnothing\nup one\n" * 50
    fast, slow = make_picker(literals), PlainPicker(literals)
    assert fast.places(text) == slow.places(text)
    assert fast.literals_in(text) == slow.literals_in(text)
