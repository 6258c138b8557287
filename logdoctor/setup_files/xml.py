"""Reads an XML file into plain nodes that know their line; hostile files end in one `XmlProblem`, never in a traceback.

Entity declarations are refused, so nothing can expand or be fetched; size, depth and number of elements are bounded.
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal
from xml.parsers import expat

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

__all__ = ["MAX_BYTES", "MAX_DEPTH", "MAX_ELEMENTS", "Node", "XmlProblem", "parse_xml", "read_xml"]

MAX_BYTES = 8 * 1024 * 1024
MAX_DEPTH = 200
MAX_ELEMENTS = 200_000

ProblemKind = Literal["missing", "unreadable", "too-large", "not-xml"]


class XmlProblem(Exception):  # noqa: N818 (it is a finding about a file, not an error of this program)
    """Why a file was not read: its kind, the line (0: none), and the reason in a few words."""

    def __init__(self, kind: ProblemKind, line: int, reason: str) -> None:
        super().__init__(kind, line, reason)
        self.kind = kind
        self.line = line
        self.reason = reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """An element: local name, line of its start tag, trimmed text of its own, and its child elements."""

    name: str
    line: int
    text: str = ""
    children: tuple[Node, ...] = ()
    attributes: Mapping[str, str] = field(default_factory=dict)

    def first(self, *path: str) -> Node | None:
        """The first element at this path of names, None where there is none."""
        node: Node | None = self
        for name in path:
            node = next((each for each in node.children if each.name == name), None) if node else None
        return node

    def all(self, *path: str) -> Iterator[Node]:
        """Every element whose parent is the first at the path and whose name is the path's last."""
        holder = self.first(*path[:-1])
        if holder is not None:
            yield from (each for each in holder.children if each.name == path[-1])

    def value(self, *path: str) -> str | None:
        """The text at this path, None where the element is missing or empty."""
        node = self.first(*path)
        return node.text or None if node is not None else None


def read_xml(path: Path, name: str | None = None) -> Node:
    """The root element of a file, which must have that name where one is given; raises `XmlProblem`."""
    root = parse_xml(_bytes_of(path))
    if name is not None and root.name != name:
        raise XmlProblem("not-xml", root.line, f"its root element is {root.name[:60]}, not {name}")
    return root


def parse_xml(data: bytes) -> Node:
    """The root element of a text in XML; raises `XmlProblem`."""
    if len(data) > MAX_BYTES:
        raise XmlProblem("too-large", 0, f"it is larger than {MAX_BYTES // 1024 // 1024} MiB")
    builder = _Builder()
    try:
        builder.parser.Parse(data, True)  # noqa: FBT003 (expat takes no keywords)
    except expat.ExpatError as error:
        raise XmlProblem("not-xml", error.lineno, expat.ErrorString(error.code)) from None
    except (LookupError, ValueError, UnicodeError):
        # An encoding name that nobody knows, or one that expat can't map byte by byte.
        raise XmlProblem("not-xml", 1, "its encoding is not known") from None
    if builder.root is None:
        raise XmlProblem("not-xml", 1, "it holds no element")
    return builder.root


def _bytes_of(path: Path) -> bytes:
    try:
        # Without waiting: a named pipe must not hold the program up.
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(descriptor, "rb") as file:
            if not stat.S_ISREG(os.fstat(descriptor).st_mode):
                raise XmlProblem("unreadable", 0, "it is not a regular file")
            return file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise XmlProblem("missing", 0, "it is not there") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name can't be used"
        raise XmlProblem("unreadable", 0, f"it can't be read ({reason})") from None


@dataclass(slots=True, kw_only=True)
class _Open:
    name: str
    line: int
    attributes: Mapping[str, str]
    texts: list[str] = field(default_factory=list)
    children: list[Node] = field(default_factory=list)


class _Builder:
    """Expat's callbacks: a stack of open elements."""

    def __init__(self) -> None:
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text
        self.parser.EntityDeclHandler = self._entity
        self.root: Node | None = None
        self._stack: list[_Open] = []
        self._count = 0

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._count += 1
        if self._count > MAX_ELEMENTS:
            raise XmlProblem("too-large", self._line, f"it holds more than {MAX_ELEMENTS:,} elements")
        if len(self._stack) >= MAX_DEPTH:
            raise XmlProblem("too-large", self._line, f"its elements are nested deeper than {MAX_DEPTH}")
        self._stack.append(_Open(name=name.rpartition(":")[2], line=self._line, attributes=attributes))

    def _end(self, _name: str) -> None:
        done = self._stack.pop()
        text = "".join(done.texts).strip()
        node = Node(
            name=done.name, line=done.line, text=text, children=tuple(done.children), attributes=done.attributes
        )
        if self._stack:
            self._stack[-1].children.append(node)
        else:
            self.root = node

    def _text(self, text: str) -> None:
        if self._stack:
            self._stack[-1].texts.append(text)

    def _entity(self, *_declaration: object) -> None:
        raise XmlProblem("not-xml", self._line, "it declares entities, which are not read")

    @property
    def _line(self) -> int:
        return self.parser.CurrentLineNumber
