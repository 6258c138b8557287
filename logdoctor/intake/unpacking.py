"""Packed streams, recognised by their first bytes and unpacked piece by piece within bounded memory.

gzip: RFC 1952; xz: The .xz File Format 1.2.1; Zstandard: RFC 8878. Several members or frames may follow one
another. A stream that breaks off gives what could be read before it, then raises `BrokenError`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Protocol

__all__ = ["BrokenError", "TooDemandingError", "unpacker_for"]

_PIECE = 1 << 20
_LZMA_MEMORY = 128 << 20
_ZSTD_WINDOW = 64 << 20
# What is fed at a time; more would be copied over and over where a stream has very many tiny members.
_FEED = 16 << 10
# One byte can unpack to 32 KiB (a block of 128 KiB written as 4 bytes), so 256 bytes stay within 8 MiB.
_ZSTD_FEED = 256

_GZIP_MAGIC = b"\x1f\x8b"
_XZ_MAGIC = b"\xfd7zXZ\x00"
_ZSTD_MAGIC = b"\x28\xb5\x2f\xfd"
_ZSTD_SKIPPABLE = b"\x2a\x4d\x18"

Unpacker = Callable[[Iterator[bytes]], Iterator[bytes]]


class BrokenError(Exception):
    """A stream that ends too early or is damaged; the text says which."""

    mend = "fetch the log again"


class TooDemandingError(BrokenError):
    """A packed stream that would need more memory than is allowed; the text says how much."""

    mend = "unpack it first and give the result"


def unpacker_for(head: bytes) -> Unpacker | None:
    """The unpacker for a stream that begins with `head`, or None where it is not packed."""
    for begin, may_begin, feed in _FORMATS:
        if len(head) >= _LONGEST_MAGIC and may_begin(head):
            return partial(_unpacked, begin=begin, may_begin=may_begin, feed=feed)
    return None


class _Member(Protocol):
    """The gzip member, xz stream or zstd frame that is being unpacked."""

    kind: str

    @property
    def eof(self) -> bool: ...
    @property
    def pending(self) -> bool:
        """Whether output is left that needs no more input."""
        ...

    def restart(self) -> None:
        """Make ready for the next one."""
        ...

    def feed(self, data: bytes) -> tuple[bytes, bytes]:
        """What came out, and the input that is still to be read."""
        ...


def _unpacked(
    chunks: Iterator[bytes], *, begin: Callable[[], _Member], may_begin: Callable[[bytes], bool], feed: int
) -> Iterator[bytes]:
    member = begin()
    for fed in _slices(chunks, feed):
        data = fed
        while data or member.pending:
            if member.eof:
                data = data.lstrip(b"\0")
                if not may_begin(data):
                    return  # padding, or no packed data: ignored behind the last member, as the tools do
                if not data:
                    break
                member.restart()
            piece, data = member.feed(data)
            if piece:
                yield piece
    if not member.eof:
        raise BrokenError(f"the {member.kind} data ends too early")


def _slices(chunks: Iterator[bytes], size: int) -> Iterator[bytes]:
    for chunk in chunks:
        for start in range(0, len(chunk), size):
            yield chunk[start : start + size]


class _Gzip:
    kind = "gzip"

    def __init__(self) -> None:
        import zlib

        self._error = zlib.error
        self._begin = partial(zlib.decompressobj, wbits=31)
        self.restart()

    def restart(self) -> None:
        self._unpack = self._begin()
        self.pending = False

    @property
    def eof(self) -> bool:
        return self._unpack.eof

    def feed(self, data: bytes) -> tuple[bytes, bytes]:
        try:
            piece = self._unpack.decompress(data, _PIECE)
        except self._error as error:
            raise BrokenError("the gzip data is damaged") from error
        # A full piece may have left output inside that needs no more input.
        self.pending = len(piece) == _PIECE and not self.eof
        return piece, self._unpack.unused_data if self.eof else self._unpack.unconsumed_tail


class _Xz:
    kind = "xz"

    def __init__(self) -> None:
        import lzma

        self._error = lzma.LZMAError
        self._begin = partial(lzma.LZMADecompressor, lzma.FORMAT_XZ, memlimit=_LZMA_MEMORY)
        self.restart()

    def restart(self) -> None:
        self._unpack = self._begin()

    @property
    def eof(self) -> bool:
        return self._unpack.eof

    @property
    def pending(self) -> bool:
        return not (self._unpack.eof or self._unpack.needs_input)

    def feed(self, data: bytes) -> tuple[bytes, bytes]:
        try:
            piece = self._unpack.decompress(data, _PIECE)
        except self._error as error:
            if "limit" in str(error).lower():
                raise TooDemandingError("its xz data needs more than 128 MiB of memory to unpack") from error
            raise BrokenError("the xz data is damaged") from error
        return piece, self._unpack.unused_data


class _Zstd:
    kind = "zstd"
    pending = False

    def __init__(self) -> None:
        import zstandard

        self._error = zstandard.ZstdError
        self._begin = zstandard.ZstdDecompressor(max_window_size=_ZSTD_WINDOW).decompressobj
        self.restart()

    def restart(self) -> None:
        self._unpack = self._begin()

    @property
    def eof(self) -> bool:
        return self._unpack.eof

    def feed(self, data: bytes) -> tuple[bytes, bytes]:
        try:
            piece = self._unpack.decompress(data)
        except self._error as error:
            if "memory" in str(error).lower():
                raise TooDemandingError("its zstd data needs a window above 64 MiB to unpack") from error
            raise BrokenError("the zstd data is damaged") from error
        return piece, self._unpack.unused_data if self.eof else b""


def _may_begin_gzip(data: bytes) -> bool:
    return _agree(data, _GZIP_MAGIC)


def _may_begin_xz(data: bytes) -> bool:
    return _agree(data, _XZ_MAGIC)


def _may_begin_zstd(data: bytes) -> bool:
    skippable = 0x50 <= data[0] <= 0x5F and _agree(data[1:], _ZSTD_SKIPPABLE) if data else False
    return skippable or _agree(data, _ZSTD_MAGIC)


def _agree(data: bytes, magic: bytes) -> bool:
    """Whether data begins with the magic, as far as it goes: the rest may come with the next slice."""
    return data.startswith(magic) or magic.startswith(data)


_LONGEST_MAGIC = 4
_FORMATS: tuple[tuple[Callable[[], _Member], Callable[[bytes], bool], int], ...] = (
    (_Gzip, _may_begin_gzip, _FEED),
    (_Xz, _may_begin_xz, _FEED),
    (_Zstd, _may_begin_zstd, _ZSTD_FEED),
)
