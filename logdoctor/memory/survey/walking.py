"""Which files of a folder are logs, in a steady order."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from logdoctor.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

__all__ = ["logs_below"]

ENDINGS = (".log", ".txt", ".out", ".console", ".gz", ".xz", ".zst", ".zip", ".tar", ".tgz")


def logs_below(places: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Each log with the folder it was found below; a file that is named counts whatever it is called."""
    for place in places:
        if os.path.isdir(place):  # noqa: PTH112 - as os.walk below
            for path in _below(place):
                yield path, place
        elif os.path.exists(place):  # noqa: PTH110
            yield place, os.path.dirname(place) or "."  # noqa: PTH120
        else:
            raise InputError(place, "there is no such file or folder", "name a folder of past logs")


def _below(folder: str) -> Iterator[str]:
    for parent, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            if not name.startswith(".") and _is_log(name):
                yield os.path.join(parent, name)  # noqa: PTH118


def _is_log(name: str) -> bool:
    low = name.lower()
    return low.endswith(ENDINGS) or "." not in low
