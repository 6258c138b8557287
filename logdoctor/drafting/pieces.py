"""A line cut into pieces: what is constant in it, and what differs from run to run, from log to log, from version to version.

The kinds are rules of thumb (common practice, no source); what they get wrong shows when the pattern is tried on other lines.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from http import HTTPStatus
from typing import TYPE_CHECKING

from logdoctor.masking import MASK

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from logdoctor.drafting.vocabulary import Vocabulary

__all__ = ["QUOTES", "Piece", "cut", "escaped", "is_word"]


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a line: constant where `source` is None, else the pattern that stands for it; `group` names its fact."""

    text: str
    source: str | None = None
    group: str | None = None
    level: bool = False
    """A level word at the beginning, which other versions write in another way."""

    @property
    def constant(self) -> bool:
        """Whether it stands in the pattern as it is."""
        return self.source is None


_LEVEL = re.compile(
    r"(?P<npm>npm (?:ERR!|error|WARN|warn) )|(?P<yarn>[➤ ]*YN\d{4}: )|"
    r"\s*(?:\[(?:ERROR|FATAL|WARNING|WARN|INFO|error|warn|info|fatal)\]|(?:ERROR|FATAL|Error|error|fatal|FATAL ERROR|E|ERR)(?=:? ))(?::\s*|\s+)"
    r"|(?:##\[error\]|::error(?: [^:]{1,200})?::)\s*"
)
_NPM = r"^npm (?:ERR!|error|WARN|warn) "

_PLACE = r"(?::\[?\d{1,7}(?:[:,]\d{1,7})?\]?|\(\d{1,7}(?:,\d{1,7})?\)|\[\d{1,7},\d{1,7}\])"
_FILE = r"[\w@%+=.~$#-]"
_OPEN, _CLOSE = "\u2018\u201c\xab", "\u2019\u201d\xbb"
_PHRASES = "|".join(
    re.escape(phrase) for phrase in sorted((status.phrase for status in HTTPStatus), key=len, reverse=True)
)
_TOKEN = re.compile(
    rf"""
      (?P<mask>[^\s'"=]*{MASK}[^\s'"]*)
    | (?P<url>\b[A-Za-z][A-Za-z0-9+.-]{{1,20}}://[^\s'"<>`|,;)\]}}]+)
    | (?P<stamp>\b\d{{4}}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d(?:[.,]\d+)?)?(?:Z|[+-]\d\d:?\d\d)?)?|\b\d\d?:\d\d(?::\d\d(?:[.,]\d+)?)?\b)
    | (?P<mail>(?<![\w.+-])[\w.+-]{{1,64}}@[\w-]+(?:\.[\w-]+)+(?::(?!\d)[^\s'"<>,;)]+)?)
    | (?P<digest>\bsha\d+[:-][A-Za-z0-9+/=]{{8,}})
    | (?P<hex>\b0x[0-9A-Fa-f]+\b|\b(?=[0-9A-Fa-f]*\d)(?=[0-9A-Fa-f-]*[A-Fa-f])[0-9A-Fa-f]{{7,64}}\b(?:-[0-9A-Fa-f]{{4,12}})*)
    | (?P<holder>\$\{{[^}}\s]{{1,80}}\}}|\{{\{{?[\w.]{{1,80}}\}}?\}})
    | (?P<address>(?<![\w.-])(?:\d{{1,3}}\.){{3}}\d{{1,3}}(?::\d{{1,5}})?(?![\w.-]*\w))
    | (?P<quoted>(?<!\w)(?P<open>['"`{_OPEN}])(?P<inside>[^'"`{_OPEN}{_CLOSE}]{{1,200}})['"`{_CLOSE}](?!\w))
    | (?P<winpath>(?<!\w)[A-Za-z]:[\\/][^\s'":;,*?<>|()]*{_PLACE}?)
    | (?P<scoped>@[a-z0-9][\w.-]*/[a-z0-9][\w.-]*(?:@[\w.^~<>=*-]+)?)
    | (?P<path>(?<![\w.])(?:\.{{0,2}}/|~/)(?:{_FILE}+/)*{_FILE}+/?{_PLACE}?|(?<![\w.]){_FILE}+(?:/{_FILE}+)+/?{_PLACE}?)
    | (?P<pinned>\b[A-Za-z][\w.-]*(?:@|==|>=|<=|~=|!=)v?\d[\w.+*-]*)
    | (?P<task>(?<![\w.:]):[A-Za-z][\w.-]*(?::[A-Za-z][\w.-]*)+)
    | (?P<coordinates>\b[A-Za-z][\w.-]*(?::[\w.${{}}-]+){{2,6}}|\b[a-z][\w-]*(?:\.[\w-]+)+:[A-Za-z][\w.-]*)
    | (?P<placed>\b[\w.-]+\.[A-Za-z]\w{{0,9}}{_PLACE})
    | (?P<status>\b[1-5]\d\d[ ](?:{_PHRASES})\b)
    | (?P<size>\b\d[\d.,]*[ ]?(?:ms|[KMGTkmgt]i?[Bb]|bytes|Mi|Gi)\b(?:/s\b)?|\b\d[\d.,]*(?:[smh]\b|%))
    | (?P<version>\bv?\d+(?:\.\d+)+(?:[-+._]?[A-Za-z]\w*|[-+]\w+)*)
    | (?P<code>\b[A-Z]{{1,12}}[_-]?(?:[EFSW]-?)?\d{{3,5}}[EFSWI]?\b)
    | (?P<execution>\([\w.-]{{1,60}}\)(?=[ ]on[ ]project[ ]))
    | (?P<bracketed>(?<=[ ])\[[\w.@/:-]{{1,80}}\](?=[ :,]|$))
    | (?P<number>(?<![\w.])[-+]?(?:\d{{1,3}}(?:,\d{{3}})+|\d+)(?:\.\d+)?(?![\w]))
    | (?P<dotted>\b[A-Za-z_$][\w$-]*(?:\.[A-Za-z_$*][\w$*-]*)+(?:\(\))?)
    | (?P<word>[A-Za-z_]\w*(?:[-_]\w+|\.\d\w*)*)
    | (?P<mixed>\d+[A-Za-z_]\w*)
    | (?P<blank>[ \t\xa0]{{2,}}|\t)
    | (?P<other>.)
    """,
    re.VERBOSE,
)

_TOOLS_CLASS = re.compile(
    r"(?:org\.(?:apache|gradle|junit|codehaus|eclipse|springframework)|javax?|jdk|com\.sun|sun|kotlinx?|scala|groovy)\."
)
_CODE_WORD = re.compile(r"ERR_\w+|E[A-Z]{3,}\d*")
_EXCEPTION = re.compile(r"(?:Error|Exception|Failure|Timeout|Fault|Throwable|Interrupt|Warning)$")
_KNOWN_FILES = re.compile(
    r"(?:package(?:-lock)?\.json|pom\.xml|settings\.xml|build\.gradle(?:\.kts)?|settings\.gradle(?:\.kts)?|gradle\.properties|"
    r"gradle-wrapper\.(?:jar|properties)|Dockerfile|Makefile|Cargo\.(?:toml|lock)|go\.(?:mod|sum)|requirements\.txt|pyproject\.toml|"
    r"setup\.(?:py|cfg)|yarn\.lock|pnpm-lock\.yaml|poetry\.lock|composer\.(?:json|lock)|Gemfile(?:\.lock)?|tsconfig\.json|"
    r"known_hosts|\.npmrc|\.netrc|docker\.sock|index\.lock|CMakeLists\.txt|build\.xml|Chart\.yaml|build\.sbt)$"
)
_BRIDGE = re.compile(r",? (?:status(?: code)?: ?)?")
_CODE_BEFORE = re.compile(
    r"(?:://\S{1,300}|status|code|errno|HTTP(?:/\d(?:\.\d)?)?|exit(?:ed)?(?: with)?|error|signal)[:= (]*$",
    re.IGNORECASE,
)
_PREFIXED = re.compile(
    r"(?:non|pre|post|re|un|up|read|write|self|out|multi|sub|co|cross|long|short|over|under|auto|dry|fast|case)-[a-z]"
)
_CAMEL = re.compile(r"[a-z][A-Z]|[A-Z]{2,}[a-z]|\d")
_OPTION = re.compile(r"^--?[A-Za-z][\w-]*$")
_METHODS = frozenset(["GET", "HEAD", "PUT", "POST", "PATCH", "DELETE"])
_SENTENCE_WORDS = 4
_PLAIN = re.compile(r"[A-Za-z]{2,}")

NAME = r"[\w.@/:+~-]+"
UP_TO_BLANK = r"[^\s'\",;()]+"
QUOTES = f"['\"`{_OPEN}]"
QUOTES_END = f"['\"`{_CLOSE}]"
QUOTED_NAME = rf"[^'\"`{_CLOSE}]+"


def escaped(text: str) -> str:
    """A constant text as a pattern; blanks and quotes stay readable."""
    return re.sub(r"([\\.^$*+?{}\[\]|()])", r"\\\1", text)


def is_word(piece: Piece) -> bool:
    """Whether it is a constant word of a language, two letters at least."""
    return piece.constant and _PLAIN.fullmatch(piece.text) is not None


def cut(text: str, vocabulary: Vocabulary, *, plain_names: bool = True) -> tuple[Piece, ...]:
    """The pieces of a line; with `plain_names` a plain word that this log uses as a name is variable, too."""
    level = _LEVEL.match(text)
    start = level.end() if level else 0
    head = [_level(level)] if level and start else []
    return (*head, *_bridged(list(_Cutter(text, vocabulary, plain_names=plain_names).pieces(start))))


def _bridged(pieces: list[Piece]) -> Iterator[Piece]:
    """Between an address and the status of its answer each version of a client has other words."""
    index = 0
    while index < len(pieces):
        yield pieces[index]
        index += 1
        if pieces[index - 1].group == "url":
            for length in (1, 2, 5, 7):
                words = "".join(piece.text for piece in pieces[index : index + length])
                following = pieces[index + length].text[:3] if index + length < len(pieces) else ""
                if _BRIDGE.fullmatch(words) and re.fullmatch(r"[1-5]\d\d", following):
                    yield Piece(words, r",? (?:status(?: code)?: ?)?")
                    index += length
                    break


def _level(match: re.Match[str]) -> Piece:
    return Piece(match[0], _NPM if match["npm"] else None, level=True)


class _Cutter:
    def __init__(self, text: str, vocabulary: Vocabulary, *, plain_names: bool) -> None:
        self._text = text
        self._vocabulary = vocabulary
        self._plain_names = plain_names
        self._begin = 0

    def pieces(self, start: int, end: int | None = None) -> Iterator[Piece]:
        self._begin = start
        for match in _TOKEN.finditer(self._text, start, len(self._text) if end is None else end):
            kind = match.lastgroup or "other"
            kind = "quoted" if kind == "inside" else kind
            handler = _HANDLERS.get(kind)
            if handler is not None:
                yield from handler(self, match)
            elif kind in _SOURCES:
                source, group = _SOURCES[kind]
                yield Piece(match[0], source, group)
            else:
                yield Piece(match[0])

    def trimmed(self, match: re.Match[str]) -> Iterator[Piece]:
        """An address or a path; the full stop of the sentence is none of it."""
        text = match[0]
        bare = text.rstrip(".:!?")
        if bare:
            yield from self._file(bare) if match.lastgroup != "url" else (Piece(bare, r"[^\s'\"<>,;)\]]+", "url"),)
        if bare != text:
            yield Piece(text[len(bare) :])

    def _file(self, text: str) -> Iterator[Piece]:
        place = re.search(rf"{_PLACE}$", text)
        path = text[: place.start()] if place else text
        if not place and self._is_choice(path):
            yield from (Piece(part) for part in re.split(r"(/)", path))
            return
        known = _KNOWN_FILES.search(path)
        if known:
            if known.start():
                yield Piece(path[: known.start()], r"[^\s'\":;,()]*")
            yield Piece(known[0])
        else:
            yield Piece(path, r"(?:[A-Za-z]:)?[^\s'\":;,()]+", "file")
        if place:
            yield Piece(place[0], r"[:(\[]+\d+(?:[:,]\d+)?[\])]?")

    def _is_choice(self, text: str) -> bool:
        """Words with a slash between, such as and/or, from/to."""
        parts = text.split("/")
        return len(parts) <= 3 and all(p.isalpha() and p.islower() and self._vocabulary.is_constant(p) for p in parts)

    def quoted(self, match: re.Match[str]) -> Iterator[Piece]:
        inside = match["inside"]
        yield Piece(match["open"], QUOTES)
        words = inside.split()
        if len(words) >= _SENTENCE_WORDS:
            yield from _Cutter(self._text, self._vocabulary, plain_names=self._plain_names).pieces(
                match.start("inside"), match.end("inside")
            )
        elif _OPTION.match(inside) or _KNOWN_FILES.fullmatch(inside):
            yield Piece(inside)
        else:
            yield Piece(inside, QUOTED_NAME, "url" if "://" in inside else "name")
        yield Piece(match[0][-1], QUOTES_END)

    def coordinates(self, match: re.Match[str]) -> Iterator[Piece]:
        """Coordinates; of a build plugin that runs a goal the name stays, as it is the tool that speaks."""
        text = match[0].rstrip(".:")
        parts = text.split(":")
        if len(parts) > 3 and parts[1].endswith("-plugin") and parts[2][:1].isdigit():
            yield Piece(parts[0], r"[\w.-]+")
            yield Piece(f":{parts[1]}:")
            yield Piece(parts[2], r"[^\s:]+")
            yield Piece(":" + ":".join(parts[3:]))
        else:
            yield Piece(text, r"[\w.${}-]+(?::[\w.${}-]+)+", "artifact")
        if match[0] != text:
            yield Piece(match[0][len(text) :])

    def number(self, match: re.Match[str]) -> Iterator[Piece]:
        """A number; one that is called a code stays."""
        text = match[0].rstrip()
        called = text.isdigit() and self._called_code(match.start())
        yield Piece(text) if called else Piece(text, r"[-+]?\d[\d.,]*" if text[0] in "+-" else r"\d[\d.,]*")
        if text != match[0]:
            yield Piece(match[0][len(text) :])

    def _called_code(self, start: int) -> bool:
        return _CODE_BEFORE.search(self._text, max(0, start - 320), start) is not None

    def status(self, match: re.Match[str]) -> Iterator[Piece]:
        """A status of HTTP with its name stays; the server's own errors are one kind, whatever their number."""
        yield Piece(match[0], r"5\d\d(?: [A-Z][A-Za-z-]*)+" if match[0].startswith("5") else None)

    def version(self, match: re.Match[str]) -> Iterator[Piece]:
        plain = match[0].count(".") == 1 and match[0][-1].isdigit() and match[0][0].isdigit()  # a decimal fraction, too
        yield Piece(match[0], r"v?\d[\w.+-]*", None if plain else "version")

    def dotted(self, match: re.Match[str]) -> Iterator[Piece]:
        name = match[0]
        if _TOOLS_CLASS.match(name):  # the class stays, its package moves from version to version
            package, _, last = name.rpartition(".")
            yield Piece(f"{package}.", r"[\w.]+\.")
            yield Piece(last)
        elif _EXCEPTION.search(name) or _KNOWN_FILES.fullmatch(name):
            yield Piece(name)
        else:
            yield Piece(name, r"[\w.$*()-]+", "name")

    def bracketed(self, match: re.Match[str]) -> Iterator[Piece]:
        inside = match[0][1:-1]
        stays = _EXCEPTION.search(inside) or _CODE_WORD.fullmatch(inside) or re.fullmatch(r"[A-Z]+\d{2,5}", inside)
        yield Piece(match[0]) if stays else Piece(match[0], r"\[[^\]\s]+\]")

    def word(self, match: re.Match[str]) -> Iterator[Piece]:
        word = match[0]
        if word in _METHODS:
            yield Piece(word, r"[A-Z]{3,7}")
            return
        yield Piece(word) if self._stays(word, match) else Piece(word, NAME, "name")

    def _stays(self, word: str, match: re.Match[str]) -> bool:
        vocabulary = self._vocabulary
        if vocabulary.is_constant(word) or _EXCEPTION.search(word) or _CODE_WORD.fullmatch(word):
            return True
        if word.isupper() and len(word) > 3 and self._called_code(match.start()):
            return True
        if match.start() > self._begin and self._text[match.start() - 1] == "-":
            return True  # an option of a command
        if word.isalpha():
            return self._plain_word_stays(word, match)
        if "-" in word and word.islower() and not _CAMEL.search(word):
            parts = [part.lower() for part in word.split("-")]
            return _PREFIXED.match(word.lower()) is not None or (
                all(vocabulary.is_constant(part) for part in parts) and not vocabulary.is_name(word)
            )
        return False

    def _plain_word_stays(self, word: str, match: re.Match[str]) -> bool:
        if word.isupper() and len(word) > 2:
            return self._beside_capitals(match)
        if _CAMEL.search(word):
            return False
        before = self._text[: match.start()]
        opens = match.start() == self._begin or before.rstrip()[-1:] in tuple(".:!?([>-")
        opens = opens or re.search(r"(?<!\d)[1-5]\d\d $", before) is not None  # the words of a status
        thrown = re.search(r"(?:Error|Exception): $", self._text[max(0, match.start() - 24) : match.start()])
        if word[0].isupper() and (thrown or not opens):
            return False
        return not (self._plain_names and self._vocabulary.is_name(word) and len(word) > 3)

    def _beside_capitals(self, match: re.Match[str]) -> bool:
        """A word in capitals is said loudly where its neighbour is too, or where it opens the line; else it is a name."""
        before = re.search(r"\b[A-Z]{2,}\W{1,3}$", self._text[max(0, match.start() - 24) : match.start()])
        after = re.match(r"\W{1,3}[A-Z]{2,}\b", self._text[match.end() : match.end() + 24])
        return bool(before or after) or match.start() == self._begin


_HANDLERS: dict[str, Callable[[_Cutter, re.Match[str]], Iterator[Piece]]] = {
    "url": _Cutter.trimmed,
    "path": _Cutter.trimmed,
    "winpath": _Cutter.trimmed,
    "placed": _Cutter.trimmed,
    "quoted": _Cutter.quoted,
    "coordinates": _Cutter.coordinates,
    "number": _Cutter.number,
    "version": _Cutter.version,
    "status": _Cutter.status,
    "bracketed": _Cutter.bracketed,
    "dotted": _Cutter.dotted,
    "word": _Cutter.word,
}
_SOURCES: dict[str, tuple[str, str | None]] = {
    "mask": (r"\S+", None),
    "stamp": (r"\d[\dT:.,Z+-]*(?: \d[\d:.,Z+-]*)?", None),
    "mail": (r"\S+@\S+", None),
    "digest": (r"sha\d+[:-]\S+", None),
    "hex": (r"[\w-]+", None),
    "holder": (r"[${][^\s}]+\}+", None),
    "address": (r"[\w.:-]+", "host"),
    "scoped": (UP_TO_BLANK, "name"),
    "pinned": (UP_TO_BLANK, "name"),
    "task": (r":[\w.:-]+", "name"),
    "size": (r"\d[\d.,]* ?[A-Za-z%/][\w%/]*", None),
    "execution": (r"\([^)]*\)", None),
    "blank": (r"\s+", None),
    "mixed": (r"\w+", None),
}
