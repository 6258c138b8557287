"""Which words are constant: those that the known wordings are made of; and which are names in this log."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from logdoctor.catalogue import Catalogue
    from logdoctor.drafting.lines import KeptLines

__all__ = ["Vocabulary", "known_words", "tool_names", "vocabulary_of"]

_NO_TEXT = re.compile(r"\(\?P?<\w+>|\(\?[a-zA-Z]+\)|\\[a-zA-Z]")
_WORD = re.compile(r"[A-Za-z][A-Za-z]+(?:[-_][A-Za-z]+)*")
# Where a word is a name: a part of an address or a path, of coordinates, of a package with its version, or quoted alone.
_SURE = re.compile(
    r"://(?P<address>[^\s'\"<>]{3,300})|(?<![\w.])(?P<path>(?:[\w.@+-]*/)+[\w.@+-]+)|(?P<coordinates>[\w.-]{2,80}(?::[\w.-]{1,80}){2,5})"
    r"|(?P<filed>[\w-]{2,80})\.(?:java|class|jar|kts?|go|rs|py|tsx?|jsx?|cs|cpp|rb|php)\b|(?P<package>@?[\w./-]{2,80})(?:@|==)v?\d|(?:[Bb]uilding|[Pp]roject|[Mm]odule|[Jj]ob|[Bb]ranch)[: ]+['\"]?(?P<named>[\w./-]{2,80})"
)
_PARTS = re.compile(r"[^\w-]+")
SHORTEST_NAME = 3
MANY_NAMES = 20_000
# Parts of paths and addresses that are words of the trade, not names of this log's maker.
_TRADE = frozenset(
    """
    src main test tests java kotlin scala python resources target build dist out lib libs bin etc opt usr var tmp home data
    node modules node_modules packages package json xml yaml yml txt log logs html css com org net www api v1 v2 repository
    repositories repo maven npm pypi simple releases snapshots public private group content browse workspace agent work jobs
    builds runner cache config settings project projects module modules service services docker registry library images image
    branch master develop release feature file files version versions source sources classes reports report tools tool user
    users root local share system default deploy upload download plugin plugins commit pull merge request refs heads tags tag
    origin remote index check checks compile install verify validate publish stage step error errors failed failure rule rules
    table row line page record field value key name port host server client device board gate order limit quota
    """.split()  # noqa: SIM905 -- a table of words reads better as text
)


class Vocabulary:
    """Constant words and this log's names."""

    def __init__(self, constant: frozenset[str], names: frozenset[str]) -> None:
        self._constant = constant
        self._names = names

    def is_constant(self, word: str) -> bool:
        """Whether known wordings hold this word."""
        return word.lower() in self._constant

    def is_name(self, word: str) -> bool:
        """Whether this log uses the word as a name, and no known wording does."""
        return word.lower() in self._names and not self.is_constant(word)


def vocabulary_of(catalogue: Catalogue, lines: KeptLines) -> Vocabulary:
    """The words of one catalogue and the names of one log."""
    return Vocabulary(known_words(catalogue) | _TRADE, frozenset(_names(text for _, text in lines.texts())))


@lru_cache(maxsize=4)
def known_words(catalogue: Catalogue) -> frozenset[str]:
    """The words that stand in patterns of the catalogue, in small letters."""
    words: set[str] = set()
    for rule in catalogue.rules():
        text = " ".join([_NO_TEXT.sub(" ", rule.line), *rule.literals])
        for word in _WORD.findall(text):
            words.add(word.lower())
            words.update(part.lower() for part in re.split("[-_]", word))
    return frozenset(words)


@lru_cache(maxsize=4)
def tool_names(catalogue: Catalogue) -> frozenset[str]:
    """The tools that the catalogue knows."""
    marked = {mark.tool for mark in catalogue.marks.values()}
    return frozenset(marked | {signature.tool for failure in catalogue for signature in failure.signatures})


def _names(texts: Iterable[str]) -> set[str]:
    names: set[str] = set()
    for text in texts:
        for match in _SURE.finditer(text):
            for part in _PARTS.split(match[match.lastgroup or 0]):
                if len(part) >= SHORTEST_NAME and not part.isdigit():
                    names.add(part.lower())
        if len(names) > MANY_NAMES:
            break
    return names
