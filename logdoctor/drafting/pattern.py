"""Pieces to patterns: which clauses of a line tell the failure, from the shortest that does to the whole line."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.catalogue.literals import FREQUENT, MIN_LENGTH
from logdoctor.catalogue.patterns import compiled
from logdoctor.drafting.pieces import QUOTES, Piece, cut, escaped, is_word
from logdoctor.intake import clean

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from logdoctor.drafting.vocabulary import Vocabulary

__all__ = ["FAILURE", "GAP", "Candidate", "candidates"]

ENOUGH_WORDS = 3
MANY_CLAUSES = 10
MANY_PIECES = 160
LONGEST_LITERAL = 60
GAP = "…"
_CLAUSE_END = re.compile(r"[:;]$|^(?:->|=>|[|,>-])$")
_GENERAL = frozenset(["error", "errors", "failed", "failure", "fatal", "warning", "message"])
# What a tool says around the reason, and what follows from it.
_BESIDE = re.compile(
    r"(?i)failed to execute goal|execution failed for|(?:the )?command failed|process completed|which\b|see\b|please\b|ask\b|try\b|and\b|or\b|"
    r"for more\b|to (?:see|get|fix|solve)\b|run\b|use\b|at least\b|caused by\b|exit(?:ed)?\b|error:? *$"
)
_HELP = re.compile(r" -> \[Help \d+\]\s*$")
FAILURE = re.compile(
    r"(?i)\b(?:fatal|un\w{6,}|exception|panic\w*|abort\w*|abend\w*|cannot|can't|could not|couldn't|unable|denied|refus\w+|reject\w+|not|no|missing|"
    r"invalid|illegal|unexpected|unsupported|fail\w*|undefined|unresolved|unknown|violat\w+|mismatch\w*|giv(?:e|ing) up|gave up|wrong|bad|lost|corrupt\w*|"
    r"conflict\w*|expired?|timed out|exceed\w*|too|must|only|without|beyond|outside|overlap\w*|differ\w*|already|never|nothing|broken|stuck|killed|off|full|twice|late|less than|more than)\b"
)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A pattern, the fixed text that picks its lines, its constant words, and what it says with a gap for each variable."""

    line: str
    literal: str
    words: tuple[str, ...]
    says: str
    enough: bool
    """Whether it holds so many words that it can hardly stand for something else."""


@dataclass(frozen=True, slots=True)
class _Span:
    pieces: tuple[Piece, ...]
    clauses: int
    after_comma: bool

    @property
    def words(self) -> tuple[str, ...]:
        return tuple(p.text for p in self.pieces if is_word(p))

    def rank(self) -> tuple[bool, bool, bool, int, int]:
        """What tells a failure in enough words comes first, then what is short in clauses, then what has most fixed letters."""
        said = "".join(p.text for p in self.pieces if p.constant)
        beside = self.after_comma or _BESIDE.match(said.strip()) is not None
        tells = FAILURE.search(" ".join(self.words)) is not None
        coded = any(p.constant and re.fullmatch(r"[A-Z][A-Z_-]*\d{3,5}\w?", p.text) for p in self.pieces)
        telling = [word for word in self.words if word.lower() not in _GENERAL]
        enough = len(telling) >= ENOUGH_WORDS or (coded and len(telling) > 1)
        return (not enough, not tells, beside, self.clauses, -sum(map(str.isalnum, said)))


def candidates(text: str, vocabulary: Vocabulary, rare: Callable[[str], bool]) -> Iterator[Candidate]:
    """Patterns for a line, the best first; `rare` says whether a text may pick lines."""
    given: set[str] = set()
    end = _HELP.search(text)
    text = text[: end.start()] if end else text
    for plain_names in (True, False):
        pieces = cut(text, vocabulary, plain_names=plain_names)[:MANY_PIECES]
        for span in sorted(_spans(pieces), key=_Span.rank):
            if span.rank()[0] and plain_names:
                continue
            made = _candidate(span, rare)
            if made is not None and made.line not in given and _matches(made, text):
                given.add(made.line)
                yield made


def _matches(candidate: Candidate, text: str) -> bool:
    rule = compiled(candidate.line)
    if rule is None or candidate.literal not in text:
        return False
    return all(rule.search(form) is not None for form in {text, clean(text).text})


def _spans(pieces: Sequence[Piece]) -> Iterator[_Span]:
    clauses = _clauses(pieces)
    for first in range(len(clauses)):
        for last in range(first, min(first + MANY_CLAUSES, len(clauses))):
            joined = tuple(piece for clause in clauses[first : last + 1] for piece in clause)
            comma = first > 0 and clauses[first - 1][-1].text == ","
            yield _Span(_trimmed(joined, opens=first == 0), clauses=last - first + 1, after_comma=comma)


def _clauses(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """Cut after a colon, a semicolon and the like that a blank follows; a level word belongs to the first clause."""
    clauses: list[list[Piece]] = [[]]
    for index, piece in enumerate(pieces):
        clauses[-1].append(piece)
        following = pieces[index + 1].text if index + 1 < len(pieces) else ""
        if index + 2 < len(pieces) and pieces[index + 2].constant and pieces[index + 2].text.isdigit():
            continue  # a code belongs to the words before it
        if (piece.constant and not piece.level and _CLAUSE_END.search(piece.text) and following[:1] in (" ", "\t")) or (
            piece.constant and piece.text == "." and following[:1] == " "
        ):
            clauses.append([])
    return [clause for clause in clauses if any(piece.text.strip() for piece in clause)]


def _trimmed(pieces: tuple[Piece, ...], *, opens: bool) -> tuple[Piece, ...]:
    """Without what begins or ends a clause and tells nothing; a variable beginning stays only where the line begins with it."""
    first, last = 0, len(pieces)
    if opens and pieces and pieces[0].level and pieces[0].constant:
        first = 1
    while first < last and not pieces[first].level and _no_begin(pieces[first], keep=opens and first == 0):
        if pieces[first].source == QUOTES and last - first > ENOUGH_WORDS:
            break  # a quoted name that opens the sentence: a quote is rare enough to begin with
        first += 1
    while last > first and pieces[last - 1].constant and not any(map(str.isalnum, pieces[last - 1].text)):
        last -= 1
    return pieces[first:last]


def _no_begin(piece: Piece, *, keep: bool) -> bool:
    if piece.constant:
        return not any(map(str.isalnum, piece.text))
    return not keep or not piece.text.strip()


def _candidate(span: _Span, rare: Callable[[str], bool]) -> Candidate | None:
    if not span.pieces:
        return None
    pieces = _either_case(span.pieces)
    literal = _literal(pieces, rare)
    if literal is None:
        return None
    taken: list[str] = []
    parts: list[str] = []
    previous: Piece | None = None
    for piece in pieces:
        source = escaped(piece.text) if piece.source is None else _named(piece, taken)
        if piece.source is not None and previous is not None and previous.source == piece.source:
            continue  # two names side by side are one repeat, or the pattern could divide a text in many ways
        parts.append(source)
        previous = piece
    line = "".join(parts)
    first = pieces[0]
    if not span.pieces[0].constant and not first.level and first.source != QUOTES:
        line = "^" + line
    elif first.text[:1].isalnum() and span.pieces[0].constant:
        line = r"\b" + line
    says = "".join(p.text if p.constant else "" if p.level else GAP for p in span.pieces)
    return Candidate(line, literal, span.words, " ".join(says.split()), not span.rank()[0])


def _either_case(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """The first letter of a sentence is small or not, by version and by what stands before it."""
    word = pieces[0].text
    if not is_word(pieces[0]) or not word[1:].islower() or len(word) < MIN_LENGTH:
        return pieces
    letter = word[0]
    return (Piece(letter, f"[{letter.upper()}{letter.lower()}]"), Piece(word[1:]), *pieces[1:])


def _named(piece: Piece, taken: list[str]) -> str:
    assert piece.source is not None  # noqa: S101 - for the type checker; only variable pieces come here
    if piece.group is None:
        return piece.source
    name = (
        piece.group
        if piece.group not in taken
        else f"{piece.group}_{sum(t.startswith(piece.group) for t in taken) + 1}"
    )
    taken.append(name)
    return f"(?<{name}>{piece.source})"


def _literal(pieces: Sequence[Piece], rare: Callable[[str], bool]) -> str | None:
    """The longest run of fixed text that is rare enough."""
    runs: list[str] = []
    run = ""
    for piece in pieces:
        if piece.constant and not piece.level:
            run += piece.text
        else:
            runs.append(run)
            run = ""
    runs.append(run)
    for text in sorted((_shortened(r) for r in runs), key=len, reverse=True):
        if len(text.strip()) >= MIN_LENGTH and text.strip().lower() not in FREQUENT and rare(text):
            return text
    return None


def _shortened(text: str) -> str:
    if len(text) <= LONGEST_LITERAL:
        return text
    return text[:LONGEST_LITERAL].rpartition(" ")[0] or text[:LONGEST_LITERAL]
