"""Where the history lies: a file or a PostgreSQL address that was named, else the user's data folder."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["VARIABLE", "Place", "place_of"]

VARIABLE = "LOGDOCTOR_HISTORY"
_SERVER = ("postgresql://", "postgres://")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The history's file, or its server's address; and the folder for what waits to go in."""

    file: Path | None
    server: str | None
    waiting: Path | None

    @property
    def name(self) -> str:
        """What messages call it: never the address of a server, which may hold a password."""
        return str(self.file) if self.file else "the team's history"


def place_of(named: str | None = None, environ: Mapping[str, str] | None = None) -> Place | None:
    """The place that an option names, else the environment variable, else the user's data folder; None without a home."""
    environ = os.environ if environ is None else environ
    folder = _data_folder(environ)
    named = named or environ.get(VARIABLE)
    if named and named.startswith(_SERVER):
        key = hashlib.sha256(named.encode("utf-8", "replace")).hexdigest()[:12]
        return Place(file=None, server=named, waiting=folder / f"history-{key}.waiting" if folder else None)
    file = Path(named) if named else (folder / "history.db" if folder else None)
    return Place(file=file, server=None, waiting=file.with_name(f"{file.name}.waiting")) if file else None


def _data_folder(environ: Mapping[str, str]) -> Path | None:
    """The XDG base directory specification: a relative path is not valid and passed over."""
    base = environ.get("XDG_DATA_HOME", "")
    if os.path.isabs(base):  # noqa: PTH117 - a Path is not needed to tell
        return Path(base) / "logdoctor"
    try:
        home = Path(environ["HOME"]) if environ.get("HOME") else Path.home()
    except RuntimeError:
        return None
    return home / ".local" / "share" / "logdoctor"
