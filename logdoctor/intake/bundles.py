"""Step logs of one build as one log: a folder, a zip or a tar of them, its files in natural order.

Before each file stands a line with its name, as `tail` prints it for several files; `Bundle.parts` tells where. What is no
text, no ordinary file or a link is passed over and named. ZIP: APPNOTE.TXT 6.3; tar: POSIX.1-2001 ustar and pax.
"""

from __future__ import annotations

import errno
import io
import os
import re
import stat
import struct
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, cast

from logdoctor.errors import InputError
from logdoctor.intake.encodings import HEAD, decode, detect, transcoded, why_not_text
from logdoctor.intake.escapes import printable
from logdoctor.intake.unpacking import BrokenError, unpacker_for
from logdoctor.lazy import lazy
from logdoctor.model import Part

if TYPE_CHECKING:
    import tarfile
    import zipfile
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from typing import BinaryIO

    from logdoctor.intake.stores import Store

__all__ = ["Bundle", "Member", "folder_members", "joined", "tar_members", "zip_members"]

MOST_FILES = 10_000
DEEPEST = 12
_CHUNK = 256 * 1024
_MAGIC = 6
# The most that is read at once: names and extended headers are kept in memory, whatever size a hostile archive claims.
_TAR_PIECE = 32 * 1024
_ZIP_DIRECTORY = 4 << 20
_NUMBER = lazy(r"(\d+)")
_COMBINED = lazy(r"(?:\d+_)?(?P<job>.+)\.(?:txt|log)")
_NO_LOG = lazy(r"\.(?:json|xml|ya?ml|html?|css|js|png|jpe?g|svg|ico|jar|class|md)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One file of a bundle: its name within it, and what reads it."""

    name: str
    read: Callable[[], Iterator[bytes]]


@dataclass(slots=True)
class Bundle:
    """What is known of the files so far; complete when the stream has been read to its end."""

    parts: list[Part] = field(default_factory=list)
    passed_over: list[str] = field(default_factory=list)
    lines: int = 0
    bytes: int = 0


def joined(members: Sequence[Member], bundle: Bundle) -> Iterator[bytes]:
    """The files one after the other, as UTF-8, each after a line with its name."""
    at = 0
    for member in members:
        body = _text_of(member, bundle)
        if body is None:
            continue
        name = printable(member.name).replace("\n", " ")
        at += 1
        bundle.parts.append(Part(name=name, first=at))
        yield f"==> {name} <==\n".encode("utf-8", "replace")
        ended = True
        for chunk in body:
            count = chunk.count(b"\n")
            at, bundle.lines, bundle.bytes = at + count, bundle.lines + count, bundle.bytes + len(chunk)
            ended = chunk.endswith(b"\n")
            yield chunk
        if not ended:
            at, bundle.lines = at + 1, bundle.lines + 1
            yield b"\n"


def _text_of(member: Member, bundle: Bundle) -> Iterator[bytes] | None:
    """The member's text as UTF-8; None where it is none, which is noted down."""
    try:
        raw = _Ahead(member.read())
        unpack = unpacker_for(raw.peek(_MAGIC))
        stream = _Ahead(unpack(raw.rest())) if unpack else raw
        head = stream.peek(HEAD)
    except (BrokenError, OSError, ValueError, RuntimeError, NotImplementedError, EOFError) as error:
        bundle.passed_over.append(f"{member.name} can't be read ({error})")
        return None
    encoding, mark = detect(head, whole=len(head) < HEAD)
    problem = why_not_text(head, encoding)
    if problem or not head:
        if problem:
            bundle.passed_over.append(f"{member.name} {problem}")
        return None
    return _guarded(_as_utf8(stream.rest(skip=mark), encoding), member, bundle)


def _as_utf8(chunks: Iterator[bytes], encoding: str) -> Iterator[bytes]:
    if encoding.startswith("utf-16"):
        return transcoded(chunks, encoding)
    return (decode(c, encoding).encode() for c in chunks) if encoding == "latin-1" else chunks


def _guarded(chunks: Iterator[bytes], member: Member, bundle: Bundle) -> Iterator[bytes]:
    """A file that breaks off gives what came before; the others still come."""
    try:
        yield from (chunk for chunk in chunks if chunk)
    except (BrokenError, OSError, ValueError, RuntimeError, EOFError) as error:
        bundle.passed_over.append(f"{member.name} breaks off ({error})")


class _Ahead:
    """A stream of chunks whose beginning can be looked at first."""

    def __init__(self, chunks: Iterator[bytes]) -> None:
        self._chunks = chunks
        self._head = b""

    def peek(self, length: int) -> bytes:
        """The first bytes, fewer where the stream ends."""
        while len(self._head) < length and (chunk := next(self._chunks, b"")):
            self._head += chunk
        return self._head[:length]

    def rest(self, *, skip: int = 0) -> Iterator[bytes]:
        """All of it, but for the first `skip` bytes."""
        yield self._head[skip:]
        yield from self._chunks


# --- where the files come from ---------------------------------------------------------------------


def folder_members(path: str, name: str) -> list[Member]:
    """The files below a folder; links and special files are left out."""
    found: list[Member] = []
    waiting = [("", 0)]
    while waiting:
        below, depth = waiting.pop()
        try:
            entries = list(os.scandir(os.path.join(path, below)))  # noqa: PTH118 - pathlib would load a dozen modules more
        except OSError as error:
            if not below:
                raise InputError(name, f"can't be read ({error.strerror})", "check the rights on it") from error
            continue
        for entry in entries:
            inner = f"{below}/{entry.name}" if below else entry.name
            if entry.is_dir(follow_symlinks=False) and depth < DEEPEST and not entry.name.startswith("."):
                waiting.append((inner, depth + 1))
            elif entry.is_file(follow_symlinks=False):
                found.append(Member(name=inner, read=_file_reader(entry.path)))
    return _in_order(found, name)


def _file_reader(path: str) -> Callable[[], Iterator[bytes]]:
    def read() -> Iterator[bytes]:
        # Without waiting or following: since the folder was listed, a pipe or a link may have taken its place.
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
        with io.FileIO(os.open(path, flags)) as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise OSError(errno.EINVAL, "it is no ordinary file any more")
            yield from _pieces(file)

    return read


def zip_members(file: io.FileIO, name: str) -> list[Member]:
    """The files of a zip archive."""
    import zipfile

    try:
        archive = zipfile.ZipFile(cast("BinaryIO", _Bounded(file, _ZIP_DIRECTORY)))
    except _TooMuchError as error:
        raise InputError(name, f"holds more than {MOST_FILES} files", "name the folder of one build") from error
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, struct.error) as error:
        raise InputError(name, "is a damaged zip archive", "fetch it again") from error
    return _in_order([Member(name=i.filename, read=_zip_reader(archive, i)) for i in _plain_entries(archive)], name)


def _plain_entries(archive: zipfile.ZipFile) -> Iterator[zipfile.ZipInfo]:
    for info in archive.infolist():
        link = (info.external_attr >> 16) & 0o170000 == 0o120000
        if not info.is_dir() and not link:
            yield info


def _zip_reader(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> Callable[[], Iterator[bytes]]:
    def read() -> Iterator[bytes]:
        import zipfile
        import zlib

        if info.compress_type == zipfile.ZIP_LZMA:
            raise BrokenError("it is packed with LZMA, which may need any amount of memory")
        try:
            with archive.open(info) as file:
                yield from _pieces(file)
        except (zipfile.BadZipFile, zlib.error) as error:
            raise BrokenError("its packed data is damaged") from error

    return read


def tar_members(store: Store, name: str) -> list[Member]:
    """The files of a tar archive that lies in a store."""
    import tarfile

    try:
        bounded = _Bounded(io.BufferedReader(_StoreFile(store)), _TAR_PIECE)
        archive = tarfile.open(fileobj=cast("BinaryIO", bounded), mode="r:")  # noqa: SIM115 - lives as long as the log
        infos = []
        for info in archive:
            infos.append(info)
            if len(infos) > MOST_FILES:
                break
    except (tarfile.TarError, OSError, ValueError, EOFError, LookupError, OverflowError, RecursionError) as error:
        raise InputError(name, "is a damaged tar archive", "fetch it again") from error
    return _in_order(
        [Member(name=i.name, read=_tar_reader(archive, i)) for i in infos if i.isreg() and not i.issparse()], name
    )


def _tar_reader(archive: tarfile.TarFile, info: tarfile.TarInfo) -> Callable[[], Iterator[bytes]]:
    def read() -> Iterator[bytes]:
        file = archive.extractfile(info)
        if file is not None:
            yield from _pieces(file, _TAR_PIECE)

    return read


class _StoreFile(io.RawIOBase):
    """A store's bytes as a file to read; what is not in yet is brought in."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._at = 0
        for _ in store.blocks(_CHUNK):
            pass

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._store.size or 0}[whence]
        self._at = max(0, base + offset)
        return self._at

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        data = self._store.read_at(self._at, len(buffer))
        buffer[: len(data)] = data
        self._at += len(data)
        return len(data)


class _TooMuchError(OSError):
    """An archive asks for more to be read at once than names and headers can take."""


class _Bounded:
    """A file of which no more than so much can be read at once."""

    def __init__(self, file: io.FileIO | io.BufferedReader, most: int) -> None:
        self._file = file
        self._most = most
        self.seek, self.tell, self.seekable, self.close = file.seek, file.tell, file.seekable, file.close

    def read(self, size: int = -1) -> bytes:
        """As a file's own; raises `_TooMuchError`."""
        data = b"" if size > self._most else self._file.read(size if size >= 0 else self._most + 1)
        if max(size, len(data)) > self._most:
            raise _TooMuchError(errno.EFBIG, "it claims a name or header of an absurd size")
        return data


def _pieces(file: BinaryIO | io.FileIO | Iterable[bytes], size: int = _CHUNK) -> Iterator[bytes]:
    while chunk := file.read(size):  # type: ignore[union-attr]
        yield chunk


def _in_order(members: Sequence[Member], name: str) -> list[Member]:
    """The logs among the files, numbers within names counted as numbers; raises InputError where there is none."""
    logs = [m for m in members if not _NO_LOG.search(m.name)]
    folders = {m.name.partition("/")[0] for m in logs if "/" in m.name}
    # Where a job's steps lie in a folder of their own, the file that holds them all once more is left out.
    kept = [
        m for m in logs if "/" in m.name or not ((match := _COMBINED.fullmatch(m.name)) and match["job"] in folders)
    ]
    if not kept:
        raise InputError(name, "holds no log files", "name the folder or archive that holds the step logs")
    if len(kept) > MOST_FILES:
        raise InputError(name, f"holds more than {MOST_FILES} files", "name the folder of one build")
    return sorted(kept, key=lambda m: _natural(m.name))


def _natural(name: str) -> list[tuple[int, str]]:
    """Texts and numbers in turn; of numbers the longer is the greater, however many digits they have."""
    parts = _NUMBER.split(name)
    return [(len(p.lstrip("0")), p.lstrip("0")) if index % 2 else (0, p) for index, p in enumerate(parts)]
