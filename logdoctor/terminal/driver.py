"""The terminal's input with pastes taken whole: Textual's own parser goes letter by letter, 3 s for 5 MB.

A paste of more than `LIMIT` bytes is not kept, only measured. Bytes that are no text become U+FFFD.
"""

from __future__ import annotations

import codecs
import os
import select
from typing import TYPE_CHECKING

from textual import events
from textual._parser import ParseError
from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver

from logdoctor.terminal.messages import PastedTooMuch

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.message import Message

__all__ = ["LIMIT", "PasteDriver", "PasteSplitter"]

LIMIT = 5 * 1024 * 1024
_START, _END = b"\x1b[200~", b"\x1b[201~"
_READ = 64 * 1024
_GLANCE = 0.1


class PasteSplitter:
    """Splits what the terminal sends into keys (bytes) and pastes (events)."""

    def __init__(self, limit: int = LIMIT) -> None:
        self._limit = limit
        self._held = b""
        self._paste: bytearray | None = None
        self._dropped = 0

    def feed(self, data: bytes) -> Iterator[bytes | Message]:
        """Keys and pastes in order; the beginning of a mark is held until the next call."""
        data = self._held + data
        self._held = b""
        while data:
            if self._paste is None:
                keys, mark, data = data.partition(_START)
                keys, self._held = (keys, b"") if mark else _without_partial(keys, _START)
                if keys:
                    yield keys
                if mark:
                    self._paste, self._dropped = bytearray(), 0
            else:
                text, mark, data = data.partition(_END)
                text, self._held = (text, b"") if mark else _without_partial(text, _END, least=1)
                self._keep(text)
                if mark:
                    yield self._taken()

    def release(self) -> bytes:
        """What was held for a mark that did not come; to be asked for after a silence outside of a paste."""
        held, self._held = (self._held, b"") if self._paste is None else (b"", self._held)
        return held

    def _keep(self, text: bytes) -> None:
        if self._paste is None:
            return
        room = max(self._limit - len(self._paste), 0) if not self._dropped else 0
        self._paste += text[:room]
        self._dropped += len(text[room:])

    def _taken(self) -> Message:
        paste, self._paste = self._paste or bytearray(), None
        if self._dropped:
            return PastedTooMuch(len(paste) + self._dropped)
        return events.Paste(paste.decode("utf-8", "replace"))


def _without_partial(data: bytes, mark: bytes, least: int = 3) -> tuple[bytes, bytes]:
    """Data and the beginning of a mark at its end.

    Shorter than `least` it is taken for a key (ESC, Alt+[). If it was a mark after all, Textual's parser takes that paste.
    """
    for length in range(min(len(mark) - 1, len(data)), least - 1, -1):
        if data.endswith(mark[:length]):
            return data[:-length], data[-length:]
    return data, b""


class PasteDriver(LinuxDriver):
    """The Linux and macOS driver with quick pastes."""

    def run_input_thread(self) -> None:
        """Wait for input and hand it on as events."""
        parser = XTermParser(self._debug)
        splitter = PasteSplitter()
        decode = codecs.getincrementaldecoder("utf-8")("replace").decode
        while not self.exit_event.is_set():
            ready = select.select([self.fileno], [], [], _GLANCE)[0]
            data = os.read(self.fileno, _READ) if ready else b""
            if ready and not data:  # the terminal is gone
                return
            for part in splitter.feed(data) if data else [splitter.release()]:
                if isinstance(part, bytes):
                    self._keys(parser, decode(part))
                else:
                    self.process_message(part)
            for event in parser.tick():
                self.process_message(event)

    def _keys(self, parser: XTermParser, text: str) -> None:
        if not text:  # an empty text would end the parser
            return
        try:
            for event in parser.feed(text):
                self.process_message(event)
        except ParseError:
            return
