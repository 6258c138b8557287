"""How a pattern's time grows on inputs built from it: near-linear, or not.

The scan gives a pattern at most a window of 4 KiB, so that is the size looked at.
"""

from __future__ import annotations

import os
import signal
import threading
import time
from functools import partial
from typing import TYPE_CHECKING

from logdoctor.catalogue.literals import holds, needed_texts
from logdoctor.catalogue.patterns import SHORT, for_ascii, unlimited

if TYPE_CHECKING:
    import re
    from collections.abc import Callable, Iterable, Iterator

    import regex

__all__ = ["slow_input"]

WINDOW = 4096
LIMIT_SECONDS = 0.02
MOST_SECONDS = 1.0
ODD_END = "\x01"
FILLERS = ("a", " ", "1", "a/", "a ", "a.", ".", "/", ":", "-", "'", '"', "1.", "(", ": ", "[a]", "aA1-_. ")


def slow_input(pattern: str, examples: Iterable[str]) -> str | None:
    """Tell which kind of 4 KiB input takes a pattern too long, with either engine; None when none does."""
    rule = unlimited(pattern)
    if rule is None:
        return None
    standard, needs = for_ascii(pattern), needed_texts(pattern)
    for name, text in _inputs(list(examples)[:2]):
        if _is_slow(partial(_seconds, rule, text)):
            return name
        short = text[:SHORT]
        # The scan tries a signature only where the texts that it needs stand in the line.
        tried = standard is not None and short.isascii() and (needs is None or holds(needs, short, short.lower()))
        if standard is not None and tried and _is_slow(partial(_standard_seconds, standard, short)):
            return f"{name}, of {SHORT} characters"
    return None


def _is_slow(seconds: Callable[[], float]) -> bool:
    return seconds() > LIMIT_SECONDS and min(seconds() for _ in range(3)) > LIMIT_SECONDS


def _seconds(rule: regex.Pattern[str], text: str) -> float:
    begin = time.perf_counter()
    try:
        rule.search(text, timeout=MOST_SECONDS)
    except TimeoutError:
        return MOST_SECONDS
    return time.perf_counter() - begin


def _standard_seconds(rule: re.Pattern[str], text: str) -> float:
    """Nought where no alarm can be set: `re` knows no time limit. It runs built-in patterns alone, which are vetted where one can."""
    if os.name != "posix" or threading.current_thread() is not threading.main_thread():
        return 0.0
    before = signal.signal(signal.SIGALRM, _stop)
    signal.setitimer(signal.ITIMER_REAL, MOST_SECONDS)
    begin = time.perf_counter()
    try:
        rule.search(text)
    except TimeoutError:
        return MOST_SECONDS
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    return time.perf_counter() - begin


def _stop(_number: int, _frame: object) -> None:
    raise TimeoutError


def _inputs(examples: list[str]) -> Iterator[tuple[str, str]]:
    """Each input as it is, and ended by what no pattern expects: a repeat runs away only where the end fails."""
    for name, text in _runs(examples):
        yield name, text
        yield f"{name}, then an odd end", text[: WINDOW - 1] + ODD_END


def _runs(examples: list[str]) -> Iterator[tuple[str, str]]:
    for filler in FILLERS:
        yield f"a run of {filler!r}", (filler * WINDOW)[:WINDOW]
    for example in examples:
        line = example.splitlines()[0]
        yield "an example over and over", (line * (WINDOW // max(1, len(line)) + 1))[:WINDOW]
        for head in _heads(line):
            for filler in FILLERS[:6]:
                yield f"the head of an example and a run of {filler!r}", (head + filler * WINDOW)[:WINDOW]


def _heads(line: str) -> Iterator[str]:
    """An example cut at several words: a repeat can only run away once what stands before it has matched."""
    ends = [i + 1 for i, letter in enumerate(line) if letter in " :'\"(=/"]
    for end in sorted({0, *ends[:: max(1, len(ends) // 5)], *ends[-1:]}):
        yield line[:end]
