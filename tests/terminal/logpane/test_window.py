from __future__ import annotations

import random

import pytest

from logdoctor.terminal.logpane.folding import Fold
from logdoctor.terminal.logpane.rows import FoldMap
from logdoctor.terminal.logpane.status import Standing, status_words
from logdoctor.terminal.logpane.window import Spot, Window


def window(*, wrap: bool, height: int = 7, seed: int = 1) -> Window:
    dice = random.Random(seed)
    lengths = [dice.choice([0, 3, 10, 11, 35, 120]) for _ in range(60)]
    folds = FoldMap([Fold(first=5, last=12, kind="download"), Fold(first=30, last=40, kind="repeated")])
    return Window(
        folds=folds,
        words=lambda line: "x" * lengths[line - 1],
        lines=lambda: len(lengths),
        height=height,
        width=10,
        wrap=wrap,
    )


def every_row(shown: Window) -> list[Spot]:
    places = shown.folds.places(shown.lines())
    return [spot for place in range(places) for spot in shown.spots_of(place)]


@pytest.mark.parametrize("wrap", [False, True], ids=["run on", "wrapped"])
@pytest.mark.parametrize("height", [1, 7, 200])
def test_rolling_row_by_row_shows_every_row_once_and_comes_back(wrap: bool, height: int) -> None:
    shown = window(wrap=wrap, height=height)
    rows = every_row(shown)
    top, tops = (0, 0), [(0, 0)]
    while (following := shown.rolled(*top, 1)) != top:
        top = following
        tops.append(top)
    assert top == shown.end()
    assert [shown.layout(*one)[0] for one in tops] == rows[: len(tops)]
    assert shown.layout(*top) == rows[-height:]
    for one in reversed(tops[:-1]):
        top = shown.rolled(*top, -1)
        assert top == one


@pytest.mark.parametrize("step", [2, 3, 9])
def test_rolling_by_more_is_rolling_by_one_more_often(step: int) -> None:
    shown = window(wrap=True)
    one = many = (0, 0)
    for _ in range(6):
        for _ in range(step):
            one = shown.rolled(*one, 1)
        many = shown.rolled(*many, step)
        assert one == many


def test_folded_lines_take_one_row_and_the_parts_of_a_line_are_all_of_it() -> None:
    shown = window(wrap=True, height=500)
    spots = shown.layout(0, 0)
    assert {spot.line for spot in spots} == {*range(1, 6), *range(13, 31), *range(41, 61)}
    for line in (1, 20, 60):
        parts = [spot for spot in spots if spot.line == line]
        assert [part.first for part in parts] == [True] + [False] * (len(parts) - 1)
        assert "".join(shown.words(line)[part.start : part.end] for part in parts) == shown.words(line)


def test_an_empty_log_has_no_rows() -> None:
    shown = Window(folds=FoldMap(), words=lambda line: "", lines=lambda: 0, height=5)
    assert shown.layout(0, 0) == []
    assert shown.end() == shown.rolled(0, 0, 3) == (0, 0)


@pytest.mark.parametrize(
    ("standing", "words"),
    [
        (Standing(line=1, lines=0, complete=True), "the log is empty"),
        (Standing(line=1, lines=0, complete=False), "no line yet"),
        (Standing(line=4, lines=9, complete=False, busy="counting lines, 3 %"), "line 4 of 9+ | counting lines, 3 %"),
        (Standing(line=4, lines=9, complete=True, hits=1), "line 4 of 9 | 1 line found"),
        (Standing(line=4, lines=9, complete=True, hits=5, rank=2, more_hits=True), "line 4 of 9 | hit 2 of 5+"),
        (
            Standing(line=4, lines=9, complete=True, selected=3, column=8),
            "line 4 of 9 | 3 lines selected | from column 9",
        ),
    ],
)
def test_the_words_say_how_things_stand(standing: Standing, words: str) -> None:
    assert status_words(standing) == words
