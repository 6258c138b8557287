"""How a pattern's time grows on inputs built from it: near-linear, or not.

The scan gives a pattern at most a window of 4 KiB, so that is the size looked at.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from logdoctor.catalogue.patterns import unlimited

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import regex

__all__ = ["slow_input"]

WINDOW = 4096
LIMIT_SECONDS = 0.02
ODD_END = "\x01"
FILLERS = ("a", " ", "1", "a/", "a ", "a.", ".", "/", ":", "-", "'", '"', "1.", "(", ": ", "[a]", "aA1-_. ")


def slow_input(pattern: str, examples: Iterable[str]) -> str | None:
    """Tell which kind of 4 KiB input takes a pattern too long; None when none does."""
    rule = unlimited(pattern)
    if rule is None:
        return None
    for name, text in _inputs(list(examples)[:2]):
        if _seconds(rule, text) > LIMIT_SECONDS and min(_seconds(rule, text) for _ in range(3)) > LIMIT_SECONDS:
            return name
    return None


def _seconds(rule: regex.Pattern[str], text: str) -> float:
    begin = time.perf_counter()
    try:
        rule.search(text, timeout=1.0)
    except TimeoutError:
        return 1.0
    return time.perf_counter() - begin


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
