"""Packed streams, recognised by their first bytes and unpacked piece by piece within bounded memory.

gzip: RFC 1952; xz: The .xz File Format 1.2.1; Zstandard: RFC 8878. Several members or frames may follow one
another. A stream that breaks off gives what could be read before it, then raises `BrokenError`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

__all__ = ["BrokenError", "TooDemandingError", "unpacker_for"]

_PIECE = 1 << 20
_LZMA_MEMORY = 128 << 20
_ZSTD_WINDOW = 64 << 20
# One fed byte can unpack to 32 KiB (a block of 128 KiB written as 4 bytes), so 256 bytes stay within 8 MiB.
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
    if head.startswith(_GZIP_MAGIC):
        return _gunzip
    if head.startswith(_XZ_MAGIC):
        return _unxz
    if _begins_zstd(head):
        return _unzstd
    return None


def _begins_zstd(head: bytes) -> bool:
    skippable = head[1:4] == _ZSTD_SKIPPABLE and 0x50 <= head[0] <= 0x5F
    return skippable or head.startswith(_ZSTD_MAGIC)


def _gunzip(chunks: Iterator[bytes]) -> Iterator[bytes]:
    import zlib

    member = zlib.decompressobj(wbits=31)
    begun = False
    for chunk in chunks:
        data = chunk
        while data:
            if member.eof or not begun:
                data = data.lstrip(b"\0") if member.eof else data
                if member.eof and not _may_begin(data, _GZIP_MAGIC):
                    return  # what follows the last member is padding or no gzip: ignored, as gzip itself does
                if not data:
                    break
                member, begun = zlib.decompressobj(wbits=31), True
            try:
                piece = member.decompress(data, _PIECE)
            except zlib.error as error:
                raise BrokenError("the gzip data is damaged") from error
            if piece:
                yield piece
            data = member.unused_data if member.eof else member.unconsumed_tail
    if begun and not member.eof:
        tail = member.flush()
        if tail:
            yield tail
        raise BrokenError("the gzip data ends too early")


def _may_begin(data: bytes, magic: bytes) -> bool:
    """Whether data is empty, or begins with the magic as far as it goes."""
    return magic.startswith(data[: len(magic)])


def _unxz(chunks: Iterator[bytes]) -> Iterator[bytes]:
    import lzma

    stream = lzma.LZMADecompressor(lzma.FORMAT_XZ, memlimit=_LZMA_MEMORY)
    for chunk in chunks:
        data = chunk
        while data or not (stream.eof or stream.needs_input):
            if stream.eof:
                data = data.lstrip(b"\0")
                if not _may_begin(data, _XZ_MAGIC):
                    return
                if not data:
                    break
                stream = lzma.LZMADecompressor(lzma.FORMAT_XZ, memlimit=_LZMA_MEMORY)
            try:
                piece = stream.decompress(data, _PIECE)
            except lzma.LZMAError as error:
                if "limit" in str(error).lower():
                    raise TooDemandingError(
                        "its xz data needs more than 128 MiB of memory to unpack"
                    ) from error
                raise BrokenError("the xz data is damaged") from error
            if piece:
                yield piece
            data = stream.unused_data if stream.eof else b""
    if not stream.eof:
        raise BrokenError("the xz data ends too early")


def _unzstd(chunks: Iterator[bytes]) -> Iterator[bytes]:
    import zstandard

    factory = zstandard.ZstdDecompressor(max_window_size=_ZSTD_WINDOW)
    frame = factory.decompressobj()
    open_frame = False
    for chunk in chunks:
        for start in range(0, len(chunk), _ZSTD_FEED):
            data = chunk[start : start + _ZSTD_FEED]
            while data:
                try:
                    piece = frame.decompress(data)
                except zstandard.ZstdError as error:
                    if "memory" in str(error).lower() or "window" in str(error).lower():
                        raise TooDemandingError(
                            "its zstd data needs a window above 64 MiB to unpack"
                        ) from error
                    raise BrokenError("the zstd data is damaged") from error
                if piece:
                    yield piece
                data, open_frame = b"", True
                if frame.eof:
                    data, open_frame = frame.unused_data, False
                    frame = factory.decompressobj()
    if open_frame:
        raise BrokenError("the zstd data ends too early")
