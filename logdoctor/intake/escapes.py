"""Escape codes out, control characters made visible.

The escape forms are those of ECMA-48 (5th edition, sections 5.3 to 5.6) and the xterm convention that BEL may
end an operating system command. Residue is what some log stores leave when they drop the ESC byte.
"""

from __future__ import annotations

import re

from logdoctor.lazy import lazy

__all__ = ["pieces", "printable", "strip_escapes"]

_ESCAPE = lazy(
    r"""
      (?: \x1b\[ | \x9b ) [0-?]* [ -/]* [@-~]?                  # control sequence, may be cut short
    | \x1b\] [^\x07\x1b\x9c]* (?: \x07 | \x1b\\ | \x9c )?       # operating system command, likewise
    | \x1b[PX^_] [^\x07\x1b\x9c]* (?: \x07 | \x1b\\ | \x9c )?       # device control and other strings; some agents end them so
    # Their 8-bit forms count only when ended, as text that was encoded twice also holds these characters.
    | \x9d [^\x07\x1b\x9c\x9d]* (?: \x07 | \x1b\\ | \x9c )
    | [\x90\x98\x9e\x9f] [^\x1b\x90\x98\x9c\x9e\x9f]* (?: \x1b\\ | \x9c )
    | \x1b [ -/]+ [0-~]?                                        # character sets and the like
    | \x1b [0-~]?                                               # two-character sequence, or a lone ESC
    """,
    re.VERBOSE,
)
_ESCAPE_STARTS = lazy(r"[\x1b\x90-\x9f]")

# A text such as `[5m]` or `[1m 12s]` is a duration, `[m]` an index: it is residue only beside a clear one.
_CLEAR_RESIDUE = lazy(r"\[\d{1,3}(?:;\d{1,3})+[mK]|\[\d{1,3}[mK](?![^\[\]]{0,12}\])")
_ANY_RESIDUE = lazy(r"\[\d{1,3}(?:;\d{1,3})*[mK]|\[[mK](?!\w[^\[\]]*\])")
_RESET_AT_END = lazy(r"\[[mK](?=\s*$)")
_RESIDUE_HINT = lazy(r"\[[\d;]*[mK]")

_TAB = "    "
# Controls, format characters, line separators, surrogates, noncharacters and what else The Unicode Standard (16.0)
# lists as ignored by default: fillers, variation selectors (but for the two that emoji have), tags.
_HIDDEN = lazy(
    "[\x00-\x1f\x7f-\x9f"
    "\u00ad\u034f\u0600-\u0605\u061c\u06dd\u070f\u0890\u0891\u08e2\u115f\u1160\u17b4\u17b5\u180b-\u180f"
    "\u200b-\u200f\u2028-\u202e\u2060-\u206f\u3164\ud800-\udfff\ufdd0-\ufdef\ufe00-\ufe0d\ufeff\uffa0\ufff0-\ufffb\ufffe\uffff"
    "\U000110bd\U000110cd\U00013430-\U0001343f\U0001bca0-\U0001bca3\U0001d173-\U0001d17a"
    "\U000e0000-\U000e0fff"
    + "".join(f"{chr(plane + 0xFFFE)}{chr(plane + 0xFFFF)}" for plane in range(0x10000, 0x110000, 0x10000))
    + "]"
    # After a letter or another selector they are no part of an emoji, and a place to hide something.
    "|(?<![\u00a9\u00ae\u2000-\u3300\U0001f000-\U0001faff#*0-9])[\ufe0e\ufe0f]"
)


def strip_escapes(text: str) -> str:
    """The text as a terminal would show it, without escape codes and their residue; controls else stay."""
    if _ESCAPE_STARTS.search(text):
        text = _ESCAPE.sub("", text)
    if _RESIDUE_HINT.search(text):
        text = _without_residue(text)
    return text


def _without_residue(text: str) -> str:
    if _CLEAR_RESIDUE.search(text):
        text = _CLEAR_RESIDUE.sub("", text)
        text = _ANY_RESIDUE.sub("", text)
    return _RESET_AT_END.sub("", text)


def pieces(raw_line: str) -> list[str]:
    """The parts of a line between lone carriage returns (a progress bar's states), empty ones dropped."""
    return [piece for piece in raw_line.split("\r") if piece.strip()]


def printable(text: str) -> str:
    """The text with nothing in it that a terminal or a reader would act on or not see."""
    if text.isascii() and text.isprintable():
        return text
    return _HIDDEN.sub(_visible, text)


def _visible(match: re.Match[str]) -> str:
    letter = match[0]
    if letter == "\t":
        return _TAB
    return f"\\x{ord(letter):02x}" if letter < "\xa0" else "\N{REPLACEMENT CHARACTER}"
