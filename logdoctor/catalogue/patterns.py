"""Compiling patterns: at first use, once, with the `regex` package."""

from __future__ import annotations

from functools import cache

import regex

__all__ = ["Pattern", "compiled", "named_groups"]

Pattern = regex.Pattern[str]


@cache
def compiled(pattern: str) -> Pattern | None:
    """Compile a pattern; None when it is not valid (vetting tells why)."""
    try:
        return regex.compile(pattern)
    except (regex.error, RecursionError, OverflowError):
        return None


def named_groups(match: regex.Match[str]) -> dict[str, str]:
    """The named groups that took part in a match."""
    return {name: value for name, value in match.groupdict().items() if value is not None}
