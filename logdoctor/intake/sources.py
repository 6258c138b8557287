"""Opening a log: a file, a packed file, a folder or archive of step logs, standard input, a stream or bytes.

What can't be opened is refused with one clear line.

Regular plain files are read in place; all else goes through a spool while the first pass goes over it.
"""

from __future__ import annotations

import errno
import io
import os
import stat
import sys
from itertools import chain
from typing import TYPE_CHECKING, BinaryIO

from logdoctor.errors import InputError
from logdoctor.intake.encodings import HEAD, detect, is_tar, is_zip, transcoded, why_not_text
from logdoctor.intake.log import Log
from logdoctor.intake.stores import PlainStore, SpoolStore
from logdoctor.intake.unpacking import BrokenError, unpacker_for

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from logdoctor.intake.bundles import Member
    from logdoctor.intake.stores import Store

__all__ = ["open_log"]

_CHUNK = 256 * 1024
_MAGIC = 6
_STANDARD_INPUT = "standard input"
_LIMIT = 8 * 1024**3

_PROBLEMS = {
    errno.ENOENT: ("there is no such file", "check the path"),
    errno.ENOTDIR: ("there is no such file", "check the path"),
    errno.EACCES: ("may not be read (permission denied)", "ask for read permission or copy it"),
    errno.EPERM: ("may not be read (permission denied)", "ask for read permission or copy it"),
    errno.ELOOP: ("is a link that leads to itself", "check the path"),
    errno.ENAMETOOLONG: ("the name is too long", "check the path"),
}


def open_log(source: str | os.PathLike[str] | bytes | BinaryIO, *, name: str | None = None, limit: int = _LIMIT) -> Log:
    """Open a log; `-` is standard input, bytes are the content itself. Raises InputError.

    An unbuffered file (`io.FileIO`) is read in place and closed with the log; other streams are left open.
    """
    if isinstance(source, bytes):
        return _open_stream(io.BytesIO(source), name or "pasted text", limit, owned=True)
    if isinstance(source, str) and source == "-":
        return _open_standard_input(name or _STANDARD_INPUT, limit)
    if isinstance(source, (str, os.PathLike)):
        return _open_path(os.fspath(source), name or os.fspath(source), limit)
    if isinstance(source, io.FileIO):
        file = source
        return _closed_on_error(file, lambda: _open_file(file, name or str(file.name), limit))
    called = getattr(source, "name", None)
    return _open_stream(source, name or (called if isinstance(called, str) else "stream"), limit, owned=False)


def _open_standard_input(name: str, limit: int) -> Log:
    stream: BinaryIO | None = getattr(sys.stdin, "buffer", None)
    if stream is None or stream.closed:
        raise InputError(name, "is closed", "pipe a log into it or name a file")
    try:
        status = os.fstat(stream.fileno())
        if stat.S_ISREG(status.st_mode) and status.st_size:
            file = io.FileIO(os.dup(stream.fileno()))
            return _closed_on_error(file, lambda: _open_regular(file, name, limit, stream.tell()))
    except (OSError, ValueError):  # no descriptor behind it
        pass
    return _open_stream(stream, name, limit, owned=False)


def _open_path(path: str, name: str, limit: int) -> Log:
    try:
        status = os.stat(path)  # noqa: PTH116 - pathlib would load a dozen modules more
        if stat.S_ISDIR(status.st_mode):
            return _open_folder(path, name, limit)
        _refuse_special(status, name)
        file = io.FileIO(path)
    except OSError as error:
        raise _refused(error, name) from error
    except ValueError as error:  # a NUL inside the name
        raise InputError(name, "is no possible file name", "check the path") from error
    return _closed_on_error(file, lambda: _open_file(file, name, limit))


def _open_folder(path: str, name: str, limit: int) -> Log:
    from logdoctor.intake.bundles import folder_members

    return _open_members(folder_members(path, name), name, limit, _nothing)


def _open_members(members: Sequence[Member], name: str, limit: int, release: Callable[[], None]) -> Log:
    """Step logs as one log."""
    from logdoctor.intake.bundles import Bundle, joined

    bundle = Bundle()
    store = SpoolStore(joined(members, bundle), name=name, limit=limit, release=release)
    return Log(name=name, encoding="utf-8", store=store, bundle=bundle)


def _open_tar(store: Store, name: str, limit: int) -> Log:
    from logdoctor.intake.bundles import tar_members

    try:
        return _open_members(tar_members(store, name), name, limit, store.close)
    except BaseException:
        store.close()
        raise


def _open_file(file: io.FileIO, name: str, limit: int) -> Log:
    status = os.fstat(file.fileno())
    _refuse_special(status, name)  # again, as the name may lead elsewhere by now
    if stat.S_ISREG(status.st_mode) and status.st_size:
        return _open_regular(file, name, limit)
    # A pipe, or a file of the kernel that tells no size.
    return _open_stream(file, name, limit, owned=True)


def _closed_on_error(file: io.FileIO, open_it: Callable[[], Log]) -> Log:
    try:
        return open_it()
    except BaseException:
        file.close()
        raise


def _refuse_special(status: os.stat_result, name: str) -> None:
    mode = status.st_mode
    if stat.S_ISDIR(mode):  # only where the name led elsewhere before
        raise InputError(name, "is a folder", "name it once more")
    if stat.S_ISCHR(mode) or stat.S_ISBLK(mode):
        raise InputError(name, "is a device, not a log", "name a file, or use - for standard input")
    if stat.S_ISSOCK(mode):
        raise InputError(name, "is a socket, not a log", "name a file, or use - for standard input")


def _refused(error: OSError, name: str) -> InputError:
    problem, mend = _PROBLEMS.get(
        error.errno or 0, (f"can't be read ({error.strerror or error})", "copy it and try again")
    )
    return InputError(name, problem, mend)


def _open_regular(file: io.FileIO, name: str, limit: int, base: int = 0) -> Log:
    try:
        head = os.pread(file.fileno(), HEAD, base)
        file.seek(base)
    except OSError as error:
        raise _refused(error, name) from error
    encoding, mark = detect(head, whole=len(head) < HEAD)
    if is_zip(head):
        from logdoctor.intake.bundles import zip_members

        return _open_members(zip_members(file, name), name, limit, file.close)
    if is_tar(head):
        return _open_tar(PlainStore(file, name=name, base=base, limit=limit), name, limit)
    if unpacker_for(head) or encoding.startswith("utf-16"):
        return _open_stream(file, name, limit, owned=True)
    _refuse_binary(head, encoding, name)
    return Log(name=name, encoding=encoding, store=PlainStore(file, name=name, base=base + mark, limit=limit))


def _open_stream(stream: BinaryIO | io.FileIO, name: str, limit: int, *, owned: bool) -> Log:
    magic, raw = _ahead(_chunks(stream), _MAGIC, name)
    unpacker = unpacker_for(magic)
    head, stream_of_bytes = _ahead(unpacker(raw) if unpacker else raw, HEAD, name)
    encoding, mark = detect(head, whole=len(head) < HEAD)
    release = stream.close if owned else _nothing
    if is_tar(head):
        return _open_tar(SpoolStore(stream_of_bytes, name=name, limit=limit, release=release), name, limit)
    _refuse_binary(head, encoding, name)
    if mark:
        stream_of_bytes = _without_first(stream_of_bytes, mark)
    if encoding.startswith("utf-16"):
        stream_of_bytes = transcoded(stream_of_bytes, encoding)
    store = SpoolStore(stream_of_bytes, name=name, limit=limit, release=release)
    return Log(name=name, encoding=encoding, store=store)


def _nothing() -> None:
    """A stream that someone else opened is left open."""


def _chunks(stream: BinaryIO | io.FileIO) -> Iterator[bytes]:
    read: Callable[[int], bytes | None] = getattr(stream, "read1", stream.read)
    while True:
        try:
            chunk = read(_CHUNK)
        except OSError as error:
            raise BrokenError(f"reading stopped ({error.strerror or error})") from error
        if not chunk:
            return
        yield chunk


def _ahead(chunks: Iterator[bytes], length: int, name: str) -> tuple[bytes, Iterator[bytes]]:
    """The first `length` bytes, as far as there are, and the whole stream with them in it again."""
    parts: list[bytes] = []
    held = 0
    rest = chunks
    while held < length:
        try:
            chunk = next(chunks, b"")
        except BrokenError as broken:
            if not held:
                raise InputError(name, str(broken), broken.mend) from broken
            rest = _failing(broken)
            break
        if not chunk:
            break
        parts.append(chunk)
        held += len(chunk)
    return b"".join(parts)[:length], chain(parts, rest)


def _failing(broken: BrokenError) -> Iterator[bytes]:
    yield from ()
    raise broken


def _without_first(chunks: Iterator[bytes], count: int) -> Iterator[bytes]:
    for chunk in chunks:
        kept = chunk[count:]
        count -= len(chunk) - len(kept)
        if kept:
            yield kept


def _refuse_binary(head: bytes, encoding: str, name: str) -> None:
    problem = why_not_text(head, encoding)
    if problem:
        raise InputError(name, problem, "give the console log as plain text, or packed as .gz, .xz or .zst")
