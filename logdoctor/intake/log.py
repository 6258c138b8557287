"""A log that can be read: a name, an encoding and a stream of bytes that can be gone over again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.intake.encodings import decode
from logdoctor.intake.escapes import printable
from logdoctor.intake.stores import PlainStore

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import TracebackType
    from typing import Self

    from logdoctor.intake.bundles import Bundle
    from logdoctor.intake.stores import Store

__all__ = ["Log"]


class Log:
    """One open log; closing it lets go of the file and of the spool."""

    __slots__ = ("_bundle", "_encoding", "_name", "_store")

    def __init__(self, *, name: str, encoding: str, store: Store, bundle: Bundle | None = None) -> None:
        self._name = printable(name)
        self._encoding = encoding
        self._store = store
        self._bundle = bundle

    @property
    def name(self) -> str:
        """What the log is called on screen, safe to print."""
        return self._name

    @property
    def encoding(self) -> str:
        """`utf-8`, `utf-8 (damaged)`, `utf-16-le`, `utf-16-be` or `latin-1`, as the bytes were found."""
        return self._encoding

    @property
    def size(self) -> int | None:
        """Bytes of the stream; None while a first pass over a pipe or a packed file has not ended."""
        return self._store.size

    @property
    def in_place(self) -> bool:
        """Whether its bytes lie in a plain file, so that any of them can be read before a first pass."""
        return isinstance(self._store, PlainStore)

    @property
    def bundle(self) -> Bundle | None:
        """The files of a log made of several, complete after the first pass."""
        return self._bundle

    @property
    def truncated_at_limit(self) -> bool:
        """Whether bytes beyond the limit were left unread."""
        return self._store.truncated_at_limit

    @property
    def damage(self) -> str | None:
        """Why a packed log could be read only in part, once that is known."""
        return self._store.damage

    def blocks(self, size: int = 1 << 20) -> Iterator[bytes]:
        """The bytes in order, unpacked, at most `size` at a time; UTF-16 comes as UTF-8. Can be repeated."""
        return self._store.blocks(size)

    def read_at(self, offset: int, length: int) -> bytes:
        """Bytes of the same stream from an offset on; of a spooled log, as far as a pass has come."""
        return self._store.read_at(offset, length)

    def decode(self, raw: bytes) -> str:
        """The text of some of these bytes; what is no text becomes U+FFFD."""
        return decode(raw, self._encoding)

    def close(self) -> None:
        """Let go of the file and of the spool."""
        self._store.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()
