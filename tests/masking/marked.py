"""Lines in which the secret stands between two marks."""

from __future__ import annotations

import re

from logdoctor.masking import MASK

__all__ = ["as_printed", "as_shown"]

_SECRET = re.compile("«([^»]*)»")


def as_printed(line: str) -> str:
    """The line as a tool prints it."""
    return _SECRET.sub(r"\g<1>", line)


def as_shown(line: str) -> str:
    """The line as a person may see it."""
    return _SECRET.sub(MASK, line)
