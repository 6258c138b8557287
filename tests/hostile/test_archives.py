"""Archives made to hurt: what they expand to, claim or nest is bounded, and the answer is a verdict or one clear line."""

from __future__ import annotations

import gzip
import io
import lzma
import stat
import struct
import tarfile
import time
import tracemalloc
import zipfile
from typing import TYPE_CHECKING

import pytest
import zstandard

from logdoctor.errors import InputError
from logdoctor.intake import open_log
from tests.support import diagnoser

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from logdoctor.model import Verdict

STEP = b"+ git fetch\nfatal: couldn't find remote ref main\n"
MIB = 1 << 20


def outcome_of(path: Path, limit: int = 64 * MIB) -> Verdict | str:
    """The verdict, or the one line that refuses the archive; never anything else."""
    begin = time.monotonic()
    try:
        with open_log(path, limit=limit) as log:
            return diagnoser().diagnose(log)
    except InputError as error:
        return str(error)
    finally:
        assert time.monotonic() - begin < 30


def failure_in(found: Verdict | str) -> str | None:
    assert not isinstance(found, str), found
    return str(found.root.failure.id) if found.root else None


# --- packed streams ----------------------------------------------------------------------------------


def zeros_packed(pack: Callable[[bytes], bytes]) -> bytes:
    return pack(STEP + b"0" * 63 * 1024 + b"\n" + b"\n" * (200 * MIB))


@pytest.mark.parametrize(
    "pack",
    [
        pytest.param(lambda data: gzip.compress(data, 1), id="gzip"),
        pytest.param(lambda data: lzma.compress(data, preset=0), id="xz"),
        pytest.param(zstandard.ZstdCompressor(level=1).compress, id="zstd"),
    ],
)
def test_what_expands_without_end_is_cut_at_the_limit(pack: Callable[[bytes], bytes], tmp_path: Path) -> None:
    path = tmp_path / "build.log.packed"
    path.write_bytes(zeros_packed(pack))
    found = outcome_of(path, limit=8 * MIB)
    assert not isinstance(found, str)
    assert found.source.bytes == 8 * MIB
    assert found.source.cut == "tail"
    assert any("larger than the limit" in notice for notice in found.notices)
    assert failure_in(found) == "checkout-ref-not-found"


def test_stream_that_breaks_off_says_so(tmp_path: Path) -> None:
    path = tmp_path / "build.log.gz"
    whole = gzip.compress(STEP + b"".join(b"%d berths\n" % n for n in range(200_000)))
    path.write_bytes(whole[: len(whole) // 2])
    found = outcome_of(path)
    assert failure_in(found) == "checkout-ref-not-found"
    assert not isinstance(found, str)
    assert found.source.cut == "tail"
    assert any("could not be read to its end" in notice for notice in found.notices)


def test_packed_within_packed_is_no_text(tmp_path: Path) -> None:
    data = STEP * 1000
    for _ in range(30):
        data = gzip.compress(data)
    path = tmp_path / "nested.gz"
    path.write_bytes(data)
    assert "binary file" in str(outcome_of(path))


# --- zip -----------------------------------------------------------------------------------------------


def zip_of(path: Path, **members: bytes) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(f"{name}.txt", data)
    return path


def patched(path: Path, change: Callable[[bytearray], None]) -> Path:
    data = bytearray(path.read_bytes())
    change(data)
    path.write_bytes(data)
    return path


def test_zip_that_expands_without_end(tmp_path: Path) -> None:
    found = outcome_of(zip_of(tmp_path / "a.zip", a=STEP, b=b"\n" * (200 * MIB)), limit=8 * MIB)
    assert not isinstance(found, str)
    assert found.source.bytes < 9 * MIB
    assert any("larger than the limit" in notice for notice in found.notices)


def test_zips_within_zips_are_not_opened(tmp_path: Path) -> None:
    inner = zip_of(tmp_path / "inner.zip", a=b"\n" * MIB).read_bytes()
    found = outcome_of(zip_of(tmp_path / "outer.zip", a=STEP, b=inner))
    assert failure_in(found) == "checkout-ref-not-found"
    assert not isinstance(found, str)
    assert any("b.txt is a zip archive" in notice for notice in found.notices)


def set_claimed_size(data: bytearray) -> None:
    at = data.index(b"PK\x01\x02")
    struct.pack_into("<I", data, at + 24, 5)  # the size when unpacked, in the directory


def set_encrypted(data: bytearray) -> None:
    at = data.index(b"PK\x01\x02")
    data[at + 8] |= 1


def set_count(data: bytearray) -> None:
    at = data.rindex(b"PK\x05\x06")
    struct.pack_into("<HH", data, at + 8, 0xFFFE, 0xFFFE)


def set_directory_size(data: bytearray) -> None:
    at = data.rindex(b"PK\x05\x06")
    struct.pack_into("<I", data, at + 12, 0x7FFFFFFF)


def set_directory_place(data: bytearray) -> None:
    at = data.rindex(b"PK\x05\x06")
    struct.pack_into("<I", data, at + 16, 0xFFFFFFF0)


def set_method(data: bytearray) -> None:
    at = data.index(b"PK\x01\x02")
    struct.pack_into("<H", data, at + 10, 99)


def set_lzma(data: bytearray) -> None:
    at = data.index(b"PK\x01\x02")
    struct.pack_into("<H", data, at + 10, 14)


def set_checksum(data: bytearray) -> None:
    at = data.index(b"PK\x01\x02")
    data[at + 16] ^= 0xFF


@pytest.mark.parametrize(
    "change",
    [
        set_claimed_size,
        set_encrypted,
        set_count,
        set_directory_size,
        set_directory_place,
        set_method,
        set_lzma,
        set_checksum,
    ],
)
def test_zip_that_lies(change: Callable[[bytearray], None], tmp_path: Path) -> None:
    path = patched(zip_of(tmp_path / "a.zip", first=b"berth 1\n" * 50, second=STEP), change)
    found = outcome_of(path)
    left_out = 0 if isinstance(found, str) else sum("left out: " in notice for notice in found.notices)
    assert isinstance(found, str) or left_out == 2 or failure_in(found) == "checkout-ref-not-found"


def test_other_members_still_come_when_one_is_encrypted(tmp_path: Path) -> None:
    path = patched(zip_of(tmp_path / "a.zip", first=b"berth 1\n" * 50, second=STEP), set_encrypted)
    found = outcome_of(path)
    assert failure_in(found) == "checkout-ref-not-found"
    assert not isinstance(found, str)
    assert any("first.txt can't be read" in notice for notice in found.notices)


def test_zip_with_an_absurd_directory_takes_no_memory(tmp_path: Path) -> None:
    path = tmp_path / "many.zip"
    entry = struct.pack("<4s6H3I5H2I", b"PK\x01\x02", 20, 20, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0) + b"a"
    count = 1_000_000
    body = struct.pack("<4s5H3I2H", b"PK\x03\x04", 20, 0, 0, 0, 0, 0, 0, 0, 1, 0) + b"a"
    end = struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, 0xFFFF, 0xFFFF, len(entry) * count, len(body), 0)
    path.write_bytes(body + entry * count + end)
    tracemalloc.start()
    try:
        found = outcome_of(path)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert "holds more than 10000 files" in str(found)
    assert peak < 40 * MIB


def test_zip_with_more_files_than_a_build_has(tmp_path: Path) -> None:
    path = zip_of(tmp_path / "many.zip", **{f"step{n}": b"x\n" for n in range(10_001)})
    assert "holds more than 10000 files" in str(outcome_of(path))


@pytest.mark.parametrize(
    "name",
    [
        pytest.param("²/step.txt", id="a digit that is no number"),
        pytest.param("9" * 5000 + ".txt", id="a number of five thousand digits"),
        pytest.param("x" * 60_000 + ".txt", id="a huge name"),
        pytest.param("\x1b[31m\u202e\n==> other <==\r.txt", id="controls"),
        pytest.param("../../../etc/evil.txt", id="a way out"),
        pytest.param("/abs/evil.txt", id="from the root"),
        pytest.param("٣٣٣ step.txt", id="digits of another script"),
    ],
)
def test_names_of_members(name: str, tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("1 first.txt", b"berth 1\n")
        archive.writestr("10 tenth.txt", b"berth 10\n")
        archive.writestr(name, STEP + b"Finished: FAILURE\n")
    found = outcome_of(path)
    assert failure_in(found) == "checkout-ref-not-found"
    assert not isinstance(found, str)
    assert all(part.name.isprintable() for part in found.source.parts)


# --- tar -----------------------------------------------------------------------------------------------


def tar_of(path: Path, *infos: tuple[tarfile.TarInfo, bytes]) -> Path:
    with tarfile.open(path, "w") as archive:
        for info, data in infos:
            archive.addfile(info, io.BytesIO(data))
    return path


def regular(name: str, data: bytes) -> tuple[tarfile.TarInfo, bytes]:
    info = tarfile.TarInfo(name)
    info.size = len(data)
    return info, data


def special(name: str, kind: bytes, target: str = "") -> tuple[tarfile.TarInfo, bytes]:
    info = tarfile.TarInfo(name)
    info.type, info.linkname = kind, target
    return info, b""


def test_links_and_devices_in_a_tar_are_not_followed(tmp_path: Path) -> None:
    path = tar_of(
        tmp_path / "a.tar",
        special("link.log", tarfile.SYMTYPE, "/etc/hostname"),
        special("hard.log", tarfile.LNKTYPE, "step.log"),
        special("zero.log", tarfile.CHRTYPE),
        special("disk.log", tarfile.BLKTYPE),
        special("pipe.log", tarfile.FIFOTYPE),
        regular("step.log", STEP),
    )
    found = outcome_of(path)
    assert failure_in(found) == "checkout-ref-not-found"
    assert not isinstance(found, str)
    assert [part.name for part in found.source.parts] == ["step.log"]


def header(name: str, size: bytes, kind: bytes = b"0") -> bytes:
    raw = bytearray(tarfile.TarInfo(name).tobuf(tarfile.USTAR_FORMAT))
    raw[124:136] = size.ljust(12, b"\0")
    raw[156:157] = kind
    raw[148:156] = b" " * 8
    raw[148:156] = b"%06o\0 " % sum(raw)
    return bytes(raw)


def octal(size: int) -> bytes:
    return b"%011o\0" % size


STEP_MEMBER = header("step.log", octal(len(STEP))) + STEP.ljust(512, b"\0")


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(header("a.log", b"\xff" * 12) + STEP_MEMBER, id="negative size"),
        pytest.param(header("a.log", b"\x80" + b"\x7f" * 11) + STEP_MEMBER, id="size beyond all disks"),
        pytest.param(header("a.log", b"zzzz") + STEP_MEMBER, id="size that is no number"),
        pytest.param(header("L", octal(7 << 30), b"L") + b"x" * 4096, id="name of seven gigabytes"),
        pytest.param(header("x", octal(7 << 30), b"x") + b"1" * 100_000, id="extended header of seven gigabytes"),
        pytest.param(header("x", octal(1024), b"x") + b"1" * 1024 + STEP_MEMBER, id="extended header of digits"),
        pytest.param(header("x", octal(30_000), b"x") + b"1" * 30_208 + STEP_MEMBER, id="long extended header of digits"),
        pytest.param((header("x", octal(20), b"x") + b"20 path=a234567.log\n".ljust(512, b"\0")) * 3000 + STEP_MEMBER, id="headers of headers"),
        pytest.param((header("g", octal(512), b"g") + b"12 path=a.l\n".ljust(512, b"\0")) * 3000 + STEP_MEMBER, id="global headers"),
        pytest.param((header("L", octal(8), b"L") + b"name.log".ljust(512, b"\0")) * 3000 + STEP_MEMBER, id="names of names"),
        pytest.param(header("S.log", octal(512), b"S") + STEP.ljust(512, b"\0") + STEP_MEMBER, id="sparse"),
        pytest.param(header("a.log", octal(1 << 20)) + STEP, id="cut short"),
        pytest.param(STEP_MEMBER * 10_002, id="more files than a build has"),
    ],
)  # fmt: skip
def test_tar_that_lies(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.tar"
    path.write_bytes(data + b"\0" * 1024)
    tracemalloc.start()
    try:
        found = outcome_of(path)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert isinstance(found, str) or failure_in(found) in {None, "checkout-ref-not-found"}
    assert peak < 60 * MIB


def test_sparse_member_of_zeros_without_end_is_left_out(tmp_path: Path) -> None:
    info, _ = regular("holes.log", b"")
    info.pax_headers = {"GNU.sparse.map": "0,6", "GNU.sparse.size": str(1 << 60), "GNU.sparse.numblocks": "1"}
    info.size = 6
    path = tmp_path / "a.tar"
    with tarfile.open(path, "w", format=tarfile.PAX_FORMAT) as archive:
        archive.addfile(info, io.BytesIO(b"berth\n"))
        archive.addfile(regular("step.log", STEP)[0], io.BytesIO(STEP))
    found = outcome_of(path, limit=4 * MIB)
    assert failure_in(found) == "checkout-ref-not-found"
    assert not isinstance(found, str)
    assert [part.name for part in found.source.parts] == ["step.log"]


def test_packed_tar_that_expands_without_end(tmp_path: Path) -> None:
    path = tmp_path / "a.tar.gz"
    with tarfile.open(path, "w:gz", compresslevel=1) as archive:
        for name, data in (("1.log", STEP), ("2.log", b"\n" * (150 * MIB))):
            archive.addfile(regular(name, data)[0], io.BytesIO(data))
    found = outcome_of(path, limit=8 * MIB)
    assert isinstance(found, str) or failure_in(found) == "checkout-ref-not-found"


def test_members_are_not_made_executable_or_written(tmp_path: Path) -> None:
    info, data = regular("step.log", STEP)
    info.mode = stat.S_ISUID | 0o777
    path = tar_of(tmp_path / "a.tar", (info, data))
    before = sorted(tmp_path.rglob("*"))
    assert failure_in(outcome_of(path)) == "checkout-ref-not-found"
    assert sorted(tmp_path.rglob("*")) == before
