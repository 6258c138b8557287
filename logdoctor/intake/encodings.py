"""Which encoding a log has, decided on its first 64 KiB, and whether it is text at all.

Byte order marks: The Unicode Standard, section 23.8. Latin-1 read as windows-1252: WHATWG Encoding
Standard, section 4.2. The thresholds are common practice, no source.
"""

from __future__ import annotations

import codecs
from typing import TYPE_CHECKING

from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["HEAD", "Encoding", "decode", "detect", "is_tar", "is_zip", "transcoded", "why_not_text"]

HEAD = 64 * 1024

Encoding = str

_UTF16_MARKS = ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_MULTI_BYTE = lazy(
    rb"[\xc2-\xdf][\x80-\xbf]|\xe0[\xa0-\xbf][\x80-\xbf]|[\xe1-\xec\xee\xef][\x80-\xbf]{2}|\xed[\x80-\x9f][\x80-\xbf]"
    rb"|\xf0[\x90-\xbf][\x80-\xbf]{2}|[\xf1-\xf3][\x80-\xbf]{3}|\xf4[\x80-\x8f][\x80-\xbf]{2}"
)
_HIGH_RUN = lazy(rb"[\x80-\xff]+")
# Letters of Latin-1 without the two signs among them, and the signs that prose uses.
_LATIN_LIKELY = (
    bytes(set(range(0xC0, 0x100)) - {0xD7, 0xF7})
    + b"\xa7\xa9\xab\xae\xb0\xb5\xbb"
    + b"\x80\x85\x91\x92\x93\x94\x95\x96\x97"  # windows-1252 quotes, dashes, dots and the euro
)
# Control characters that text does not hold; tab, line ends, BEL, BS, VT, FF, SO, SI and ESC it may.
_NON_TEXT = bytes(set(range(0x20)) - set(range(7, 16)) - {0x1B} | {0x7F})

_ARCHIVES = (
    (b"PK\x03\x04", "is a zip archive"),
    (b"PK\x05\x06", "is a zip archive"),
    (b"BZh", "is packed with bzip2"),
    (b"7z\xbc\xaf\x27\x1c", "is a 7-Zip archive"),
    (b"Rar!\x1a\x07", "is a RAR archive"),
)


def detect(head: bytes, *, whole: bool) -> tuple[Encoding, int]:
    """The encoding of a log that begins with `head`, and the length of its byte order mark."""
    if head.startswith(codecs.BOM_UTF8):
        return _eight_bit(head[3:], whole=whole), 3
    for mark, name in _UTF16_MARKS:
        if head.startswith(mark):
            return name, 2
    return _unmarked_utf16(head) or _eight_bit(head, whole=whole), 0


def is_zip(head: bytes) -> bool:
    """Whether a file is a zip archive: its magic, then a small number in two bytes, which no text has there."""
    return head.startswith((b"PK\x03\x04", b"PK\x05\x06")) and head[5:6] == b"\0"


def is_tar(head: bytes) -> bool:
    """Whether a file is a tar archive, by the magic of POSIX.1-1988 and later."""
    return head[257:262] == b"ustar"


def why_not_text(head: bytes, encoding: Encoding) -> str | None:
    """What a file is that is no text, or None where it is text."""
    if head.startswith(b"\x1f\x8b\x08"):
        return "is a binary file: it is packed once more"
    for magic, problem in _ARCHIVES:
        if head.startswith(magic) and why_not_text(head[len(magic) :], encoding):
            return problem
    if head[257:262] == b"ustar":
        return "is a tar archive"
    if encoding.startswith("utf-16"):
        head = head.decode(encoding, "replace").encode()
    strange = len(head) - len(head.translate(None, _NON_TEXT))
    # Random bytes hold a tenth of such characters; a damaged or padded log a few.
    return "is a binary file, not a text log" if strange > 1 and strange * 16 > len(head) else None


def decode(raw: bytes, encoding: Encoding) -> str:
    """Text of a log's byte stream, in which UTF-16 has already become UTF-8."""
    if encoding != "latin-1":
        return raw.decode("utf-8", "replace")
    try:
        return raw.decode("cp1252")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def transcoded(chunks: Iterator[bytes], encoding: Encoding) -> Iterator[bytes]:
    """A stream of UTF-16 as UTF-8."""
    decoder = codecs.getincrementaldecoder(encoding)("replace")
    for chunk in chunks:
        text = decoder.decode(chunk)
        if text:
            yield text.encode()
    rest = decoder.decode(b"", final=True)
    if rest:
        yield rest.encode()


def _unmarked_utf16(head: bytes) -> Encoding | None:
    """UTF-16 without a mark shows as every other byte being NUL."""
    pairs = len(head) // 2
    if pairs < 2 or b"\0" not in head:
        return None
    first, second = head[: pairs * 2 : 2].count(0), head[1 : pairs * 2 : 2].count(0)
    if second * 10 >= pairs * 7 and first * 50 <= pairs:
        return "utf-16-le"
    if first * 10 >= pairs * 7 and second * 50 <= pairs:
        return "utf-16-be"
    return None


def _eight_bit(head: bytes, *, whole: bool) -> Encoding:
    try:
        codecs.utf_8_decode(head, "strict", whole)
    except UnicodeDecodeError:
        return "latin-1" if _looks_latin(head) else "utf-8 (damaged)"
    return "utf-8"


def _looks_latin(head: bytes) -> bool:
    rest, valid = _MULTI_BYTE.subn(b" ", head)
    runs = _HIGH_RUN.findall(rest)
    bad = b"".join(runs)
    unlikely = len(bad.translate(None, _LATIN_LIKELY))
    # Letters with marks stand alone or in pairs; long runs are another alphabet.
    return valid * 10 <= len(bad) and unlikely * 5 <= len(bad) and len(bad) <= 2 * len(runs)
