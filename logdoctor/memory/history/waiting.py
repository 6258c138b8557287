"""What waits to go into the history: one small file a run, beside it, made whole by a rename.

A run is first written here, then taken in. So a lock held by another process, a slow disk or a kill at any moment loses
nothing: the next one that opens the history takes in what waits, and an identity that is there already counts once.
"""

from __future__ import annotations

import json
import os
import time
from contextlib import suppress
from typing import TYPE_CHECKING

from logdoctor.memory.history.model import Run
from logdoctor.memory.history.plain import entry_of, plain_entry

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

__all__ = ["drop", "keep", "kept"]

_ENDING = ".json"
_LEFT_OVER = ".part"
_OLD = 86400.0
_LARGEST = 20000


def keep(folder: Path, run: Run) -> Path:
    """Write a run into the folder; OSError where that can't be done."""
    for each in (folder.parent, folder):  # a parent made on the way would get the usual rights
        each.mkdir(mode=0o700, parents=True, exist_ok=True)
    whole = folder / f"{run.id}{_ENDING}"
    part = folder / f"{run.id}.{os.getpid()}{_LEFT_OVER}"
    try:
        with open(os.open(part, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), "w", encoding="utf-8") as out:  # noqa: PTH123
            json.dump(plain_entry(run), out)
        part.replace(whole)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    return whole


def kept(folder: Path | None, most: int) -> list[tuple[Path, Run | None]]:
    """The files that wait, with their runs; None for a file that holds none. What a kill left half-written goes."""
    found: list[tuple[Path, Run | None]] = []
    with suppress(OSError):
        for path in folder.iterdir() if folder else ():
            if path.suffix == _LEFT_OVER:
                _clear(path)
            elif path.suffix == _ENDING and len(found) < most:
                with suppress(FileNotFoundError):  # another process has taken it in meanwhile
                    found.append((path, _read(path)))
    return found


def drop(paths: Iterable[Path]) -> None:
    """Remove files that were taken in, and the folder when it is empty."""
    folders = set()
    for path in paths:
        with suppress(OSError):
            path.unlink(missing_ok=True)
        folders.add(path.parent)
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()


def _read(path: Path) -> Run | None:
    if path.stat().st_size > _LARGEST:
        return None
    try:
        entry = entry_of(json.loads(path.read_text(encoding="utf-8")))
    except ValueError:
        return None
    return entry if isinstance(entry, Run) else None


def _clear(path: Path) -> None:
    with suppress(OSError):
        if time.time() - path.stat().st_mtime > _OLD:
            path.unlink(missing_ok=True)
