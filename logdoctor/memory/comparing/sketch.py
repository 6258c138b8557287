"""A log in small: a fingerprint of each line, taken in one pass; never the lines themselves.

A fingerprint is CRC-32 and Adler-32 side by side: the same in every process, and quick on short lines.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from zlib import adler32, crc32

from logdoctor.memory.comparing.blocks import LineBlocks, bare, line_blocks, lines_of
from logdoctor.memory.comparing.sameness import careful_forms
from logdoctor.memory.comparing.setup_seen import SetupSeen

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from logdoctor.intake import Log

__all__ = ["NOTHING", "Sketch", "careful_fingerprints", "sketch_of"]

DIGITS = b"0123456789"
NOTHING = 0
"""The fingerprint of a line that can make no difference."""
WIDE = "Q"


@dataclass(slots=True)
class Sketch:
    """Fingerprints of all lines as they stand (`exact`) and without digits (`shape`), and the set-up the log tells."""

    exact: array[int] = field(default_factory=lambda: array(WIDE))
    shape: array[int] = field(default_factory=lambda: array(WIDE))
    setup: SetupSeen = field(default_factory=SetupSeen)


def sketch_of(log: Log) -> Sketch:
    """One pass over a log."""
    sketch = Sketch()
    for block in LineBlocks(log):
        sketch.exact.extend(_fingerprints(lines_of(block)))
        sketch.shape.extend(_fingerprints(lines_of(block.translate(None, DIGITS))))
        sketch.setup.look(block)
    return sketch


def careful_fingerprints(log: Log, wanted: bytearray, names: Mapping[bytes, bytes]) -> array[int]:
    """For each wanted line, in order, the fingerprint of what does not differ from run to run."""
    found = array(WIDE)
    first = 0
    for block in line_blocks(log):
        count = block.count(b"\n") + (not block.endswith(b"\n"))
        if wanted.find(1, first, first + count) >= 0:
            lines = zip(lines_of(block), wanted[first : first + count], strict=True)
            chosen = bare(b"\n".join(line for line, take in lines if take))
            found.extend(fingerprint(form) if form else NOTHING for form in careful_forms(chosen, names))
        first += count
    return found


def _fingerprints(lines: Sequence[bytes]) -> list[int]:
    return [crc32(line) << 32 | adler32(line) for line in lines]


def fingerprint(line: bytes) -> int:
    """64 bits that stand for a line."""
    return crc32(line) << 32 | adler32(line)
