"""Packed logs: recognised by content, several members, broken ends, bounded memory."""

from __future__ import annotations

import bz2
import gzip
import lzma
import tracemalloc
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
import zstandard

from logdoctor.errors import InputError
from logdoctor.intake import open_log

if TYPE_CHECKING:
    from pathlib import Path

_TEXT = b"".join(b"line %d of the ferry's build log\n" % number for number in range(60_000))
_MIB = 1 << 20

Pack = Callable[[bytes], bytes]


def _zstd(data: bytes) -> bytes:
    return zstandard.ZstdCompressor(write_checksum=True).compress(data)


_PACKERS = [
    pytest.param(gzip.compress, id="gzip"),
    pytest.param(lzma.compress, id="xz"),
    pytest.param(_zstd, id="zstd"),
]


@pytest.mark.parametrize("pack", _PACKERS)
def test_a_packed_file_is_known_by_its_content_and_read_twice(pack: Pack, tmp_path: Path) -> None:
    path = tmp_path / "build.log"
    path.write_bytes(pack(_TEXT))
    with open_log(path) as log:
        assert b"".join(log.blocks()) == _TEXT
        assert b"".join(log.blocks(5000)) == _TEXT
        assert (log.size, log.damage, log.encoding) == (len(_TEXT), None, "utf-8")
        assert log.read_at(1_000_000, 50) == _TEXT[1_000_000:1_000_050]


@pytest.mark.parametrize("pack", _PACKERS)
@pytest.mark.parametrize("size", [1, 700, 300_000])
def test_several_members_follow_one_another(pack: Pack, size: int) -> None:
    parts = [_TEXT[:size], b"", _TEXT[size : 3 * size], b"end\n"]
    with open_log(b"".join(map(pack, parts))) as log:
        assert b"".join(log.blocks()) == b"".join(parts)
        assert log.damage is None


@pytest.mark.parametrize("pack", _PACKERS)
def test_a_truncated_file_gives_what_could_be_read(pack: Pack) -> None:
    packed = pack(_TEXT)
    with open_log(packed[: len(packed) * 2 // 3]) as log:
        read = b"".join(log.blocks())
        assert len(read) > 100_000
        assert _TEXT.startswith(read)
        assert log.damage is not None
        assert "too early" in log.damage


@pytest.mark.parametrize("pack", _PACKERS)
def test_a_file_cut_at_its_very_end_is_damaged(pack: Pack) -> None:
    with open_log(pack(_TEXT)[:-1]) as log:
        read = b"".join(log.blocks())
        assert _TEXT.startswith(read)
        assert log.damage is not None


@pytest.mark.parametrize("pack", _PACKERS)
def test_a_damaged_middle_keeps_the_beginning(pack: Pack) -> None:
    first = pack(_TEXT)
    with open_log(first + pack(b"more text\n" * 900)[:12] + b"\xff" * 4000) as log:
        assert b"".join(log.blocks()).startswith(_TEXT[:-10])
        assert log.damage is not None


@pytest.mark.parametrize("pack", _PACKERS)
def test_a_file_with_nothing_readable_is_refused(pack: Pack) -> None:
    with pytest.raises(InputError) as caught:
        open_log(pack(_TEXT)[:9], name="build.log.gz")
    assert str(caught.value).startswith("build.log.gz: the ")


@pytest.mark.parametrize("pack", _PACKERS)
def test_an_empty_packed_file_is_an_empty_log(pack: Pack) -> None:
    with open_log(pack(b"")) as log:
        assert list(log.blocks()) == []
        assert log.size == 0


@pytest.mark.parametrize("pack", _PACKERS)
def test_very_many_tiny_members_are_read_in_bounded_time(pack: Pack) -> None:
    packed = pack(b"a\n") * 20_000
    with open_log(packed) as log:
        assert sum(map(len, log.blocks())) == 40_000


def test_padding_after_the_last_member_is_ignored() -> None:
    with open_log(gzip.compress(b"text\n") + b"\0" * 512) as log:
        assert b"".join(log.blocks()) == b"text\n"
        assert log.damage is None


def test_a_skippable_zstd_frame_is_skipped() -> None:
    with open_log(b"\x50\x2a\x4d\x18\x04\0\0\0abcd" + _zstd(b"text\n")) as log:
        assert b"".join(log.blocks()) == b"text\n"


def test_packed_utf_16_is_transcoded() -> None:
    with open_log(gzip.compress(b"\xff\xfe" + "Fähre\n".encode("utf-16-le"))) as log:
        assert b"".join(log.blocks()) == "Fähre\n".encode()


def test_a_packed_binary_is_refused() -> None:
    with pytest.raises(InputError, match="binary"):
        open_log(gzip.compress(bz2.compress(_TEXT)[10:]))


def test_a_zstd_window_above_64_mib_is_refused() -> None:
    parameters = zstandard.ZstdCompressionParameters(window_log=27, write_content_size=False)
    packer = zstandard.ZstdCompressor(compression_params=parameters).compressobj()
    packed = packer.compress(_TEXT) + packer.flush()
    with pytest.raises(InputError, match="64 MiB"):
        open_log(packed)


def test_an_xz_dictionary_above_128_mib_is_refused() -> None:
    # The filter flags of the block header say how large the dictionary is; packing with it would need the memory.
    filters = [{"id": lzma.FILTER_LZMA2, "dict_size": 1 << 16, "mode": lzma.MODE_FAST}]
    packed = bytearray(lzma.compress(_TEXT, filters=filters))
    header = packed[12 : 12 + (packed[12] + 1) * 4]
    flags = header.index(b"\x21\x01")
    header[flags + 2] = 36  # 1 GiB, .xz File Format 1.2.1 section 5.3.1
    header[-4:] = _crc32(header[:-4])
    packed[12 : 12 + len(header)] = header
    with pytest.raises(InputError, match="128 MiB"):
        open_log(bytes(packed))


def _crc32(data: bytes | bytearray) -> bytes:
    import zlib

    return zlib.crc32(data).to_bytes(4, "little")


@pytest.mark.parametrize("pack", _PACKERS)
def test_a_bomb_is_read_to_the_limit_within_little_memory(pack: Pack) -> None:
    packed = pack(b"a" * (200 * _MIB))
    tracemalloc.start()
    with open_log(packed, limit=30 * _MIB) as log:
        read = sum(map(len, log.blocks()))
        peak = tracemalloc.get_traced_memory()[1]
        assert (read, log.truncated_at_limit) == (30 * _MIB, True)
    tracemalloc.stop()
    assert peak < 40 * _MIB
