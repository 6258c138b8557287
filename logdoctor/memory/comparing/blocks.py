"""The bytes of a log in blocks of whole lines, without colours and without the time stamps before the lines."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from logdoctor.intake import Log

__all__ = ["LineBlocks", "bare", "line_blocks", "lines_of", "texts_at"]

LONGEST_LINE = 64 << 10
HEAD = 64 << 10
COLOUR = re.compile(rb"\x1b\[[0-9;:]*[mK]")

_CLOCK = rb"\d{1,2}:\d\d:\d\d(?:[.,]\d{1,9})?(?: ?(?:[AaPp][Mm])\b)?"
_ZONE = rb"(?: ?(?:[Zz]|UTC|GMT|[+-]\d\d:?\d\d)(?![\w+-]))?"
_MONTH = rb"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)"
# The forms that logdoctor/intake/stamps.py takes off, for a whole block at a time.
_FORMS = (
    rb"\d{4}[-/]\d\d[-/]\d\d[Tt _]" + _CLOCK + _ZONE,
    rb"(?:[A-Z][a-z]{2},? )?\d\d?[-/. ](?:" + _MONTH + rb"|\d\d?)[-/. ]\d{4}[ T:]" + _CLOCK + _ZONE,
    rb"(?:[A-Z][a-z]{2} )?" + _MONTH + rb" {1,2}\d\d? " + _CLOCK + rb"(?: [A-Z]{3,5})?(?: \d{4})?",
    _CLOCK,
    rb"(?<=\[) *\d{1,10}(?:\.\d{1,9})?(?: ?s)?(?=\])",
)


@cache
def _stamp(forms: tuple[bytes, ...]) -> re.Pattern[bytes]:
    """Stamps of these forms before a line, with the stream's name that may follow."""
    return re.compile(
        rb"^(?:[\[(]? ?(?:" + b"|".join(forms) + rb")[\])]?:?(?:[ \t]|$)(?:\d\d[OE][ +])?(?:std(?:out|err) [FP] )?)+",
        re.MULTILINE,
    )


class LineBlocks:
    """Goes over a log in blocks of whole lines; which stamps it has is settled on the first block."""

    def __init__(self, log: Log) -> None:
        self._log = log
        self._forms: tuple[bytes, ...] | None = None

    def __iter__(self) -> Iterator[bytes]:
        for block in line_blocks(self._log):
            plain = _colourless(block)
            if self._forms is None:
                self._forms = tuple(form for form in _FORMS if _stamp((form,)).search(plain[:HEAD]))
            yield _stamp(self._forms).sub(b"", plain) if self._forms else plain


def bare(block: bytes) -> bytes:
    """A block without colours and the stamps before its lines."""
    return _stamp(_FORMS).sub(b"", _colourless(block))


def _colourless(block: bytes) -> bytes:
    return COLOUR.sub(b"", block) if b"\x1b" in block else block


def line_blocks(log: Log) -> Iterator[bytes]:
    """Blocks that end with a line's end; of a line longer than 64 KiB that no block holds whole, its beginning."""
    rest, skipping = b"", False
    for block in log.blocks():
        if skipping:
            end = block.find(b"\n")
            if end < 0:
                continue
            block, skipping = block[end:], False  # noqa: PLW2901 - the rest of a line that is cut here
        joined = rest + block if rest else block
        cut = joined.rfind(b"\n") + 1
        if cut:
            yield joined[:cut]
        rest = joined[cut:]
        if len(rest) > LONGEST_LINE:
            rest, skipping = rest[:LONGEST_LINE], True
    if rest:
        yield rest


def lines_of(block: bytes) -> list[bytes]:
    """The lines of a block."""
    lines = block.split(b"\n")
    if not lines[-1]:
        lines.pop()
    return lines


def texts_at(log: Log, numbers: Collection[int]) -> dict[int, str]:
    """The cleaned text of a few lines by number; reading ends with the last of them."""
    from logdoctor.intake import clean

    found: dict[int, str] = {}
    wanted = sorted(set(numbers))
    first = 1
    for block in line_blocks(log):
        if not wanted:
            break
        count = block.count(b"\n") + (not block.endswith(b"\n"))
        if wanted[0] < first + count:
            lines = lines_of(block)
            while wanted and wanted[0] < first + count:
                number = wanted.pop(0)
                found[number] = clean(log.decode(lines[number - first][:LONGEST_LINE])).text
        first += count
    return found
