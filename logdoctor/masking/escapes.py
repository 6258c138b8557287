"""A text without what a terminal does not show, and where each of its characters stood.

Control sequences are those of ECMA-48, section 5.4, and of operating-system commands; the invisible characters are
formatting characters (general category Cf) of Unicode that stand inside no word.
"""

from __future__ import annotations

from logdoctor.masking.patterns import Pattern

__all__ = ["has_hidden", "shown_parts"]

_HIDDEN = Pattern(
    "\x1b\\[[0-?]*+[ -/]*+[@-~]|\x9b[0-?]*+[ -/]*+[@-~]|\x1b\\][^\x07\x1b\n]*+(?:\x07|\x1b\\\\)|\x1b[ -/]*+[0-~]"
    "|[\x00\x1b\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]"
)


def has_hidden(text: str) -> bool:
    """Whether something in the text is not shown; quick for a text of ordinary characters."""
    if text.isascii():
        return "\x1b" in text or "\x00" in text
    return _HIDDEN.search(text) is not None


def shown_parts(text: str) -> tuple[str, list[int]]:
    """What is shown of the text, and for each character of it the place where it stands in the text."""
    pieces: list[str] = []
    places: list[int] = []
    start = 0
    for match in _HIDDEN.finditer(text):
        pieces.append(text[start : match.start()])
        places += range(start, match.start())
        start = match.end()
    pieces.append(text[start:])
    places += range(start, len(text))
    return "".join(pieces), places
