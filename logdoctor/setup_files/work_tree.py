"""A work tree and what git keeps of its files; the parts of an address.

Git's index is read here, as running git in a foreign work tree could run whatever that tree's own configuration names.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Literal
from urllib.parse import SplitResult, urlsplit

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["Address", "WorkTree"]

LONGEST_ADDRESS = 4096
MOST_INDEX_BYTES = 64 * 1024 * 1024
_GIT_MODES = frozenset([0o040000, 0o100644, 0o100755, 0o120000, 0o160000])


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """The parts of an address that matter here; `bare` holds neither user, password nor query."""

    bare: str
    scheme: str = ""
    host: str = ""
    port: int | None = None
    path: str = ""
    user: str | None = None
    password: str | None = field(default=None, repr=False)

    @classmethod
    @lru_cache(maxsize=4096)
    def of(cls, url: str) -> Address:
        """Never fails: what is no address keeps its text as `bare`."""
        try:
            parts = urlsplit(url[:LONGEST_ADDRESS].strip())
            host, port = (parts.hostname or "").rstrip("."), parts.port
        except ValueError:
            return cls(bare=re.sub(r"//[^/]*@", "//", url[:LONGEST_ADDRESS]))
        return cls(
            bare=_bare(parts, url[:LONGEST_ADDRESS].strip()),
            scheme=parts.scheme.lower().rsplit("+", 1)[-1],
            host=host,
            port=port,
            path=parts.path,
            user=parts.username or None,
            password=parts.password or None,
        )

    @property
    def loopback(self) -> bool:
        """Whether it never leaves the machine."""
        return self.host in {"localhost", "::1"} or self.host.startswith("127.")

    @property
    def in_the_clear(self) -> bool:
        """Whether it crosses the network without encryption."""
        return self.scheme == "http" and bool(self.host) and not self.loopback

    @property
    def literal_password(self) -> bool:
        """Whether a password, or a token in the user's place, is written out."""
        return self.password is not None and not re.search(r"\$\{|\$\(|\$[A-Z_]|%\w+%|\{\{|^\*+$|^<.*>$", self.password)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkTree:
    """A folder that is being built, and what git keeps of it."""

    folder: Path | None = None
    git_root: Path | None = None
    modes: Mapping[str, int] | None = None
    """Path below `git_root` to file mode, from git's index; None: no git, or an index that can't be read."""

    @classmethod
    def of(cls, folder: Path | None) -> WorkTree:
        """The work tree of a folder."""
        if folder is None:
            return cls()
        root = next((f for f in (folder.resolve(), *folder.resolve().parents) if (f / ".git").exists()), None)
        return cls(folder=folder, git_root=root, modes=_index_modes(root) if root else None)

    def mode(self, path: Path) -> int | None:
        """The mode in git's index; None when git does not keep the file or is not there."""
        if self.modes is None or self.git_root is None:
            return None
        try:
            return self.modes.get(path.resolve().relative_to(self.git_root).as_posix())
        except (ValueError, OSError):
            return None

    def holds(self, path: Path) -> bool:
        """Whether the file lies in the tree."""
        return self.folder is not None and path.resolve().is_relative_to(self.folder.resolve())

    def exposure(self, path: Path) -> Literal["warning", "note"] | None:
        """How bad a secret written out in that file is: shared through git, only lying there, or at home."""
        if not self.holds(path):
            return None
        return "note" if self.modes is not None and self.mode(path) is None else "warning"


def _bare(parts: SplitResult, url: str) -> str:
    if not parts.scheme or not parts.netloc:
        return url
    return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path}"


def _index_modes(root: Path) -> Mapping[str, int] | None:
    """Paths and modes of git's index (gitformat-index, versions 2 to 4), or None where it can't be read."""
    try:
        git = root / ".git"
        if git.is_file():
            link = git.read_text("utf-8", "replace")[:4096].strip()
            git = root / link.removeprefix("gitdir:").strip()
        index = git / "index"
        if not index.is_file() or index.stat().st_size > MOST_INDEX_BYTES:
            return None
        data = index.read_bytes()
    except (OSError, ValueError):
        return None
    for hash_size in (20, 32):
        try:
            return _parsed_index(data, hash_size)
        except (ValueError, IndexError, struct.error):
            continue
    return None


def _parsed_index(data: bytes, hash_size: int) -> dict[str, int]:
    signature, version, count = struct.unpack_from(">4sII", data)
    if signature != b"DIRC" or version not in (2, 3, 4):
        raise ValueError(version)
    modes: dict[str, int] = {}
    place, name = 12, b""
    for _ in range(count):
        start = place
        mode = struct.unpack_from(">I", data, start + 24)[0]
        place = start + 40 + hash_size
        flags = struct.unpack_from(">H", data, place)[0]
        place += 4 if flags & 0x4000 else 2
        if mode not in _GIT_MODES:
            raise ValueError(mode)
        if version == 4:
            dropped, place = _varint(data, place)
            name = name[: len(name) - dropped]
        else:
            name = b""
        end = data.index(b"\0", place)
        name += data[place:end]
        # Up to version 3 an entry is filled up with one to eight NULs to a multiple of eight bytes.
        place = end + 1 if version == 4 else start + (end - start + 8) // 8 * 8
        modes[name.decode("utf-8", "surrogateescape")] = mode
    # A split index keeps most entries in another file: half of the truth would accuse the rest.
    if data[place : place + 4] == b"link":
        raise ValueError(place)
    return modes


def _varint(data: bytes, place: int) -> tuple[int, int]:
    """The offset encoding of pack files, which version 4 uses for the length of the shared prefix."""
    byte = data[place]
    value = byte & 0x7F
    while byte & 0x80:
        place += 1
        byte = data[place]
        value = ((value + 1) << 7) | (byte & 0x7F)
    return value, place + 1
