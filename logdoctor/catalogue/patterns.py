"""Compiling patterns: at first use, once, in the syntax of the `regex` package.

Most patterns mean the same to the standard library's `re`, in text of ASCII characters: it compiles them in a third of the
time, and a run of a small log needs no `regex` at all. All other texts and patterns are left to `regex`, and so are long
lines, as it looks beforehand whether what a pattern needs is there at all.

Built-in patterns are vetted to be near-linear. Those of other layers nobody may have vetted: they are limited, so that
one that backtracks without bound is given up, and named, instead of holding a diagnosis up.
"""

from __future__ import annotations

import re
import time
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import regex

__all__ = [
    "SHORT",
    "AsciiPattern",
    "Match",
    "PatientPattern",
    "Pattern",
    "any_given_up",
    "any_limited",
    "compiled",
    "for_ascii",
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

SHORT = 600
"""Characters; nearly all lines are shorter."""

# Compiling takes seconds at a million characters; the longest built-in pattern has a few thousand.
LONGEST = 20_000

# What means something else to `re`, or is an error there only in part: sets in sets, classes of POSIX, set operations, errors
# allowed (`{e<=1}`), and references to a group whose name may be given twice.
_NOT_FOR_RE = re.compile(
    r"\[\[|\[:\^?\w+:\]|\[[^\]]*(?:--|&&|~~|\|\|)|(?<!\\)\{[^}]*[deis][^}]*\}|\(\?P=|\(\?P?>|\\[gk]<"
)
_NAME = re.compile(r"\(\?P?<(?P<name>[A-Za-z_]\w*)>")
_AGAIN = "__again"
"""A name's second group and those after it have another name in `re`, which allows each only once."""

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


class AsciiPattern:
    """A pattern for `re` where the text is short and ASCII, and for `regex` elsewhere."""

    __slots__ = ("_standard", "pattern")

    def __init__(self, pattern: str, standard: re.Pattern[str]) -> None:
        self.pattern = pattern
        self._standard = standard

    @property
    def groupindex(self) -> Mapping[str, int]:
        """The named groups and their numbers."""
        found: dict[str, int] = {}
        for name, number in self._standard.groupindex.items():
            found.setdefault(_own_name(name), number)
        return found

    def search(self, text: str) -> Match | None:
        """The first match."""
        if len(text) <= SHORT and text.isascii():
            return self._standard.search(text)
        everywhere = unlimited(self.pattern)
        return everywhere.search(text) if everywhere is not None else None


if TYPE_CHECKING:
    Match = re.Match[str] | regex.Match[str]
    Pattern = regex.Pattern[str] | AsciiPattern | PatientPattern


@cache
def compiled(pattern: str) -> Pattern | None:
    """Compile a pattern; None when it is not valid (vetting tells why)."""
    if pattern not in _limited:
        standard = for_ascii(pattern)
        return AsciiPattern(pattern, standard) if standard is not None else unlimited(pattern)
    made = unlimited(pattern)
    return PatientPattern(made) if made is not None else None


def for_ascii(pattern: str) -> re.Pattern[str] | None:
    """The pattern for `re`; None where it may mean something else there."""
    if len(pattern) > LONGEST or _NOT_FOR_RE.search(pattern):
        return None
    met: dict[str, int] = {}

    def named(found: re.Match[str]) -> str:
        name = found["name"]
        met[name] = met.get(name, 0) + 1
        return f"(?P<{name}>" if met[name] == 1 else f"(?P<{name}{_AGAIN}{met[name]}>"

    try:
        return re.compile(_NAME.sub(named, pattern))
    except (re.error, RecursionError, OverflowError, MemoryError):
        return None


@cache
def unlimited(pattern: str) -> regex.Pattern[str] | None:
    """The pattern for `regex`, without a time limit."""
    if len(pattern) > LONGEST:
        return None
    import regex  # slow to import

    try:
        return regex.compile(pattern)
    except (regex.error, RecursionError, OverflowError, MemoryError):
        return None


def _own_name(name: str) -> str:
    return name.partition(_AGAIN)[0]


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


def any_limited() -> bool:
    """Whether any pattern has a time limit."""
    return bool(_limited)


def any_given_up() -> bool:
    """Whether a pattern of this process took too long."""
    return bool(_given_up)


def named_groups(match: Match) -> dict[str, str]:
    """The named groups that took part in a match."""
    return {_own_name(name): value for name, value in match.groupdict().items() if value is not None}
