"""Compiling patterns: at first use, once, with the `regex` package.

Built-in patterns are vetted to be near-linear. Those of other layers nobody may have vetted: they are limited, so that
one that backtracks without bound is given up, and named, instead of holding a diagnosis up.
"""

from __future__ import annotations

import time
from functools import cache
from typing import TYPE_CHECKING

import regex

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = [
    "PatientPattern",
    "Pattern",
    "any_given_up",
    "compiled",
    "forget_limits",
    "given_up",
    "limit",
    "named_groups",
    "unlimited",
]

# A near-linear pattern takes well under a millisecond in the scan's window of 4 KiB; common practice, no source.
PATIENCE = 0.25
# A pattern that is slow without ever reaching the limit must not add up to minutes either.
BUDGET = 2.0
SLOW_ON_AVERAGE = 0.005

# Compiling takes seconds at a million characters; the longest built-in pattern has a few thousand.
LONGEST = 20_000

_limited: set[str] = set()
_given_up: set[str] = set()


class PatientPattern:
    """A pattern with a time limit: one search that takes too long, or many slow ones, and it matches nothing any more."""

    __slots__ = ("_pattern", "_searches", "_spent")

    def __init__(self, pattern: regex.Pattern[str]) -> None:
        self._pattern = pattern
        self._searches = 0
        self._spent = 0.0

    @property
    def groupindex(self) -> Mapping[str, int]:
        """The named groups and their numbers."""
        return self._pattern.groupindex

    def search(self, text: str, *, timeout: float = PATIENCE) -> regex.Match[str] | None:
        """The first match; None once the pattern is given up."""
        if given_up(self._pattern.pattern):
            return None
        begin = time.perf_counter()
        try:
            return self._pattern.search(text, timeout=timeout)
        except (TimeoutError, MemoryError, RecursionError):
            _given_up.add(self._pattern.pattern)
            return None
        finally:
            self._searches += 1
            self._spent += time.perf_counter() - begin
            if self._spent > BUDGET and self._spent > SLOW_ON_AVERAGE * self._searches:
                _given_up.add(self._pattern.pattern)


Pattern = regex.Pattern[str] | PatientPattern


@cache
def compiled(pattern: str) -> Pattern | None:
    """Compile a pattern; None when it is not valid (vetting tells why)."""
    made = unlimited(pattern)
    return PatientPattern(made) if made is not None and pattern in _limited else made


def unlimited(pattern: str) -> regex.Pattern[str] | None:
    """The pattern itself, without a time limit, for those who measure it."""
    if len(pattern) > LONGEST:
        return None
    try:
        return regex.compile(pattern)
    except (regex.error, RecursionError, OverflowError, MemoryError):
        return None


def forget_limits() -> None:
    """No pattern is limited or given up any more."""
    if _limited or _given_up:
        _limited.clear()
        _given_up.clear()
        compiled.cache_clear()


def limit(patterns: Iterable[str]) -> None:
    """From now on these patterns have a time limit."""
    new = set(patterns) - _limited
    if new:
        _limited.update(new)
        compiled.cache_clear()


def given_up(pattern: str) -> bool:
    """Whether a pattern took too long and is left out."""
    return pattern in _given_up


def any_given_up() -> bool:
    """Whether a pattern of this process took too long."""
    return bool(_given_up)


def named_groups(match: regex.Match[str]) -> dict[str, str]:
    """The named groups that took part in a match."""
    return {name: value for name, value in match.groupdict().items() if value is not None}
