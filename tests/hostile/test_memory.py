"""Peak memory stays within 150 MiB, whatever the log is; the full sizes run behind the `long` marker."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest

from tests.hostile.commands import environment, measured

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="peak memory is asked of the system as POSIX has it")

MOST = 150.0
MIB = 1 << 20


def one_line(size: int) -> Iterator[bytes]:
    piece = b"berths are free at the quay " * 40_000
    for _ in range(size // len(piece)):
        yield piece


def one_line_of_literals(size: int) -> Iterator[bytes]:
    piece = b"fatal: couldn't find remote ref main " * 30_000
    for _ in range(size // len(piece)):
        yield piece


def short_lines(size: int) -> Iterator[bytes]:
    piece = b"ok\n" * 400_000
    for _ in range(size // len(piece)):
        yield piece


def findings(size: int) -> Iterator[bytes]:
    line = b"fatal: couldn't find remote ref main%07d\n"
    for first in range(0, size // len(line % 0), 10_000):
        yield b"".join(line % n for n in range(first, first + 10_000))


def lanes(size: int) -> Iterator[bytes]:
    for first in range(0, size // 40, 10_000):
        yield b"".join(b"[berth%d] + npm ci # at the quay today\n" % n for n in range(first, first + 10_000))


def colours(size: int) -> Iterator[bytes]:
    piece = b"\x1b[31mberth\x1b[0m\n" * 80_000
    for _ in range(size // len(piece)):
        yield piece


def carriage_returns(size: int) -> Iterator[bytes]:
    piece = b"fatal: 10%\r" * 100_000
    for _ in range(size // len(piece)):
        yield piece


SLOW = [pytest.param(make, marks=pytest.mark.long) for make in (findings, carriage_returns, lanes)]
MAKERS = [one_line, one_line_of_literals, short_lines, colours]


def peak_of(make: Callable[[int], Iterator[bytes]], size: int, tmp_path: Path, *, piped: bool = False) -> float:
    path = tmp_path / "build.log"
    with path.open("wb") as file:
        file.writelines(make(size))
    arguments = ["diagnose", "--format", "json", *([] if piped else [str(path)])]
    measured(["--help"], env=environment(tmp_path))
    measured(["diagnose", "--format", "json"], env=environment(tmp_path))  # fills the cache, which is no part of this
    ran = measured(arguments, env=environment(tmp_path), stdin=path if piped else None, seconds=900)
    assert ran.status == 0, ran.err
    assert "Traceback" not in ran.err
    return ran.peak


@pytest.mark.parametrize("make", [*MAKERS, *SLOW])
def test_peak_memory(make: Callable[[int], Iterator[bytes]], tmp_path: Path) -> None:
    assert peak_of(make, 16 * MIB, tmp_path) <= MOST


def test_one_line_of_64_mib(tmp_path: Path) -> None:
    assert peak_of(one_line, 64 * MIB, tmp_path) <= MOST


@pytest.mark.huge
@pytest.mark.parametrize(
    ("make", "size"),
    [
        pytest.param(one_line, 1024 * MIB, id="one line of 1 GB"),
        pytest.param(one_line_of_literals, 64 * MIB, id="one line of literals"),
        pytest.param(findings, 45 * 1_000_000, id="a million findings"),
        pytest.param(short_lines, 30 * 1_000_000, id="ten million short lines"),
        pytest.param(lanes, 64 * MIB, id="a million lanes"),
    ],
)
def test_peak_memory_at_full_size(make: Callable[[int], Iterator[bytes]], size: int, tmp_path: Path) -> None:
    assert peak_of(make, size, tmp_path) <= MOST
