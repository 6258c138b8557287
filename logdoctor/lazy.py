"""Patterns that are compiled at first use: a run needs few of a hundred, and compiling them all was a sixth of a short one."""

from __future__ import annotations

import re
from typing import AnyStr, cast

__all__ = ["lazy"]

_METHODS = ("search", "match", "fullmatch", "finditer", "findall", "split", "sub", "subn")


def lazy(source: AnyStr, flags: int = 0) -> re.Pattern[AnyStr]:
    """What `re.compile` gives, without compiling yet; a pattern that is not valid is told at its first use."""
    return cast("re.Pattern[AnyStr]", _Lazy(source, flags))


class _Lazy:
    """Becomes a compiled pattern when it is first asked for anything; later calls go straight to it."""

    def __init__(self, source: str | bytes, flags: int) -> None:
        self._source = source
        self._flags = flags

    def __getattr__(self, name: str) -> object:
        if name.startswith("__"):  # what copying and pickling ask for
            raise AttributeError(name)
        compiled = re.compile(self._source, self._flags)
        for method in _METHODS:
            setattr(self, method, getattr(compiled, method))
        return getattr(compiled, name)
