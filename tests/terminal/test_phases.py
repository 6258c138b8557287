from __future__ import annotations

import pytest

from logdoctor.model import Phase, Segment, State
from logdoctor.terminal.phases import detail, stops_of, time_words


def segment(phase: Phase, start: int, end: int, state: State = "passed", seconds: float | None = None) -> Segment:
    return Segment(
        phase=phase, lane=None, module=None, start=start, end=end, lines=end - start + 1, state=state, seconds=seconds
    )


def test_phases_come_in_the_order_of_a_build_each_once() -> None:
    stops = stops_of([segment("test", 5, 9), segment("checkout", 1, 4), segment("test", 20, 30)])
    assert [(s.phase, s.lines) for s in stops] == [("checkout", "1-4"), ("test", "5-30")]


def test_the_stretch_that_failed_comes_first_and_gives_the_state() -> None:
    stop = stops_of([segment("test", 5, 9), segment("test", 20, 30, "failed"), segment("test", 40, 41, "unfinished")])[
        0
    ]
    assert stop.state == "failed"
    assert stop.glyph == "x"
    assert [s.start for s in stop.stretches] == [20, 5, 40]


def test_a_stretch_is_told_with_all_that_is_known() -> None:
    stop = stops_of([segment("test", 5, 9, "failed", 75.2), segment("test", 20, 20)])[0]
    assert detail(stop, 0) == "x test failed, stretch 1 of 2, lines 5-9, 1 min 15 s"
    assert detail(stop, 1) == "+ test passed, stretch 2 of 2, line 20"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.0, "0.0 s"),
        (9.94, "9.9 s"),
        (9.96, "10 s"),
        (59.6, "1 min 0 s"),
        (185, "3 min 5 s"),
        (3600, "1 h 0 min"),
        (7620, "2 h 7 min"),
    ],
)
def test_durations_are_told_in_two_units_at_most(seconds: float, words: str) -> None:
    assert time_words(seconds) == words


def test_no_segments_make_no_stops() -> None:
    assert stops_of([]) == ()
