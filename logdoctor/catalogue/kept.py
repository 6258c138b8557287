"""A checkout's catalogue kept prepared in the user's cache folder, for as long as its files stay as they are.

Files are told apart by size and times; nothing is kept of files that were changed a moment ago, as a second change could
leave both as they are.
"""

from __future__ import annotations

import os
import time
from contextlib import suppress
from typing import TYPE_CHECKING
from zlib import crc32

from logdoctor.catalogue.prepared import FORMAT, packed, unpacked

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from logdoctor.catalogue.book import Catalogue
    from logdoctor.catalogue.prepared import Prepared

__all__ = ["kept", "stamp_of", "written"]

MOMENT = 2_000_000_000
"""Nanoseconds: the coarsest clock of a file system in use is FAT's."""

Stamp = list[list[object]]


def stamp_of(folder: Path) -> Stamp:
    """Name, size and times of every knowledge file; empty where the folder can't be read."""
    with suppress(OSError):
        return sorted(_told(os.fspath(folder), ""))
    return []


def _told(folder: str, inside: str) -> Iterator[list[object]]:
    with os.scandir(folder) as found:
        for entry in found:
            name = f"{inside}{entry.name}"
            if entry.is_dir(follow_symlinks=False):
                yield from _told(entry.path, f"{name}/")
            elif name.endswith((".yaml", ".txt")):
                status = entry.stat()
                yield [name, status.st_size, status.st_mtime_ns, status.st_ctime_ns]


def kept(cache: Path, folder: Path, stamp: Stamp) -> Prepared | None:
    """The prepared catalogue of a folder, where its files are as they were."""
    with suppress(OSError, ValueError, KeyError, TypeError, IndexError):
        prepared = unpacked(_place(cache, folder).read_bytes())
        if stamp and prepared.head["stamp"] == stamp and prepared.head["folder"] == os.fspath(folder):
            return prepared
    return None


def written(cache: Path, folder: Path, stamp: Stamp, catalogue: Catalogue) -> None:
    """Keep a catalogue, written beside the old file and swapped in; a folder that can't be written is left as it is."""
    if not stamp or any(time.time_ns() - int(str(at)) < MOMENT for _, _, *times in stamp for at in times):
        return
    import tempfile  # only when there is something to keep

    with suppress(OSError, TypeError, ValueError):
        data = packed(catalogue, _ordinary(folder), stamp=stamp, folder=os.fspath(folder))
        cache.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, temporary = tempfile.mkstemp(dir=cache, prefix=".catalogue-")
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        os.replace(temporary, _place(cache, folder))  # noqa: PTH105 - a name, not a path


def _place(cache: Path, folder: Path) -> Path:
    return cache / f"catalogue-{FORMAT}-{crc32(os.fsencode(folder)):08x}.jsonl"


def _ordinary(folder: Path) -> list[bytes]:
    """Lines that logs are full of, by which windows are chosen."""
    with suppress(OSError):
        return (folder / "ordinary.txt").read_bytes().splitlines()
    return []
