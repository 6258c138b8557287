"""Gradle build scripts as nested blocks, read without running them: Groovy and Kotlin alike.

Only what stands there literally is known; comments, text blocks and strings are told apart, everything else is tokens.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Block", "Token", "blocks"]

MOST_TOKENS = 400_000

_TOKEN = re.compile(
    r"""
      (?P<skip>[ \t\r\f]+ | //[^\n]* | /\*.*?(?:\*/|\Z) | \\\n | ~/[^/\n]*/ )
    | (?P<text>\"\"\".*?(?:\"\"\"|\Z) | '''.*?(?:'''|\Z) | "(?:[^"\\\n]|\\.)*+(?:"|(?=\n)|\Z) | '(?:[^'\\\n]|\\.)*+(?:'|(?=\n)|\Z))
    | (?P<word>[A-Za-z_][A-Za-z_0-9]*+ (?:<[A-Za-z_][\w.]*+>)?)
    | (?P<sign>\n|.)
    """,
    re.VERBOSE | re.DOTALL,
)
_PLACEHOLDER = re.compile(r"\$\{[^}]*\}|\$[A-Za-z_]\w*")
_ESCAPE = re.compile(r"\\(.)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A word, a sign or a string; of a string, what stands between its quotes."""

    kind: str
    text: str
    line: int
    computed: bool = False
    """A string with something to be put in."""


@dataclass(slots=True, kw_only=True)
class Block:
    """`names(head) { parts }`, or a statement, which is a block without parts."""

    tokens: list[Token]
    line: int
    parts: list[Block] = field(default_factory=list)
    braced: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """The dotted words it begins with: `publishing.repositories`."""
        names: list[str] = []
        before = ""
        for token in self.tokens:
            if token.kind == "word" and (not names or before == "."):
                names.append(token.text)
            elif token.text != ".":
                break
            before = token.text
        return tuple(names)

    @property
    def words(self) -> set[str]:
        """All words in it."""
        return {token.text for token in self.tokens if token.kind == "word"}

    @property
    def strings(self) -> list[Token]:
        """All strings in it, in order."""
        return [token for token in self.tokens if token.kind == "text"]


def blocks(text: str) -> list[Block]:
    """The statements and blocks of a script, outermost first."""
    root = Block(tokens=[], line=1)
    open_blocks, depth = [root], 0
    current: list[Token] = []
    depths: list[int] = []

    def close_statement() -> None:
        nonlocal current
        if current:
            open_blocks[-1].parts.append(Block(tokens=current, line=current[0].line))
            current = []

    for token in _tokens(text):
        sign = token.text if token.kind == "sign" else ""
        if sign == "{":
            block = Block(tokens=current, line=current[0].line if current else token.line, braced=True)
            open_blocks[-1].parts.append(block)
            open_blocks.append(block)
            depths.append(depth)
            current, depth = [], 0
        elif sign == "}":
            close_statement()
            if len(open_blocks) > 1:
                open_blocks.pop()
                depth = depths.pop()
        elif sign in ("\n", ";") and depth <= 0:
            close_statement()
        elif sign != "\n":
            depth += (sign in "([") - (sign in ")]") if sign else 0
            current.append(token)
    close_statement()
    return root.parts


def _tokens(text: str) -> Iterator[Token]:
    line = 1
    for number, match in enumerate(_TOKEN.finditer(text)):
        if number > MOST_TOKENS:
            return
        kind, found = match.lastgroup or "sign", match[0]
        if kind == "text":
            yield _string(found, line)
        elif kind != "skip":
            yield Token(kind=kind, text=found, line=line)
        line += found.count("\n")


def _string(found: str, line: int) -> Token:
    quotes = 3 if found[:3] in ('"""', "'''") else 1
    inner = found[quotes:]
    inner = inner[:-quotes] if inner.endswith(found[:quotes]) else inner
    computed = found[0] == '"' and bool(_PLACEHOLDER.search(inner.replace("\\$", "")))
    return Token(kind="text", text=_ESCAPE.sub(r"\1", inner), line=line, computed=computed)
