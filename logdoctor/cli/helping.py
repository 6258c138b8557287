"""How help is laid out."""

from __future__ import annotations

import argparse
import os
from contextlib import suppress

__all__ = ["HelpText"]

NARROW = 80


class HelpText(argparse.RawDescriptionHelpFormatter):
    """Finds the terminal's width by itself: `argparse` imports `shutil` and all packers for it, for every option it is given."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=_columns() - 2)


def _columns() -> int:
    """The terminal's width; COLUMNS beats it."""
    told = os.environ.get("COLUMNS", "")
    if told.isdecimal() and int(told) > 0:
        return int(told)
    with suppress(OSError):
        return os.get_terminal_size(1).columns or NARROW
    return NARROW
