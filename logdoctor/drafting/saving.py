"""Where a drafted entry is kept; what a person wrote is never replaced."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["place_in_layer", "write_new"]


def place_in_layer(folder: Path, entry: str, phase: str) -> Path:
    """The file of an entry in a layer: FOLDER/PHASE/NAME.yaml, the name being the id without its phase."""
    return folder / phase / f"{entry.removeprefix(phase + '-')}.yaml"


def write_new(target: Path, text: str) -> None:
    """Write a file that is not there yet; FileExistsError where it is, OSError where it can't be written."""
    target.parent.mkdir(parents=True, exist_ok=True)
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
    with os.fdopen(os.open(target, flags, 0o644), "w", encoding="utf-8", newline="\n") as out:
        out.write(text)
