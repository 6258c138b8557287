"""A watch: lines that are looked at besides the rules, for another purpose than the diagnosis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import re
    from collections.abc import Callable

__all__ = ["Watch"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """Which lines are shown to `see`, and what it names is noted with the line.

    A line is shown when it holds one of the `literals` or a match of `pattern`.
    """

    see: Callable[[str], list[str]]
    literals: tuple[bytes, ...] = ()
    pattern: re.Pattern[bytes] | None = None
