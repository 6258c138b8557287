"""Runs of lines that a reader skips: downloads that went well, and lines that repeat the one before.

Which words show a download is common practice, no source; a line that speaks of trouble is never one. Lines repeat
when they are the same but for their time stamp.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from logdoctor.intake import clean
from logdoctor.terminal.logpane.passes import passes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from logdoctor.intake import Log
    from logdoctor.terminal.logpane.passes import Piece

__all__ = ["LEAST", "MOST_FOLDS", "Fold", "Folder", "find_folds"]

Kind = Literal["download", "repeated"]

LEAST = 4
MOST_FOLDS = 200_000
_LONGEST_LINE = 2000
_DIGITS = b"0123456789"

_HINTS = (
    b"ownload",
    b"Get:",
    b"Pull",
    b"Verifying Checksum",
    b"Already exists",
    b"Waiting",
    b"http fetch",
    b"ached ",
    b"Collecting ",
    b"Progress (",
    b"already satisfied",
)
# On the shape of a line: without digits, each address, path or dotted name as one slash.
_DOWNLOAD = re.compile(
    rb"\b[Dd]ownload(?:ing|ed):?\s|\bDownload /"  # maven, gradle, cargo, pip, go, composer
    rb"|\bGet: /"  # apt
    rb"|(?:^|\s)[a-f]{0,12}: (?:Pull|Download|Verifying|Waiting|Extract|Already)"  # container layers
    rb"|\bfetch GET +/"  # npm
    rb"|(?:^|\s)(?:Collecting|Using cached|Requirement already satisfied:?) \S"  # pip
    rb"|\bProgress \(\): "  # maven's bar
)
_TROUBLE = re.compile(
    rb"(?i)error|fail|could ?n.t|could not|cannot|can't|unable|denied|forbidden|unauthori|timed? ?out|refused|warn"
    rb"|retry|not found|exception|corrupt|mismatch|missing"
)
_BAD_STATUS = re.compile(rb"(?<![\w.,-])[45]\d\d(?![.,]?\w)(?! ?(?:[kMG]i?)?B\b| bytes)")
_MOST_SHAPES = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """A run of lines that may be shown as one."""

    first: int
    last: int
    kind: Kind

    @property
    def lines(self) -> int:
        """How many lines it stands for."""
        return self.last - self.first + 1

    @property
    def says(self) -> str:
        """What it hides, in words."""
        return f"… {self.lines} {self.kind} lines, {self.first}-{self.last}"


def find_folds(log: Log, tell: Callable[[int], bool]) -> list[Fold]:
    """All runs of a log; `tell` gets the bytes gone over and answers whether to go on."""
    folder = Folder()
    for piece in passes(log):
        folder.feed(piece)
        if len(folder.found) >= MOST_FOLDS or not tell(piece.end):
            break
    return folder.finish()


class Folder:
    """Finds runs in pieces that come in order."""

    def __init__(self) -> None:
        self.found: list[Fold] = []
        self._kind: Kind | None = None
        self._first = 0
        self._next = 1
        self._last_line: bytes | None = None
        self._skips: dict[bytes, int] = {}
        self._shapes: dict[bytes, bool] = {}

    def feed(self, piece: Piece) -> None:
        """Take in the next piece."""
        if piece.part:
            self._close(piece.line)
            self._next, self._last_line = piece.line + 1, None
            return
        lines = piece.data.split(b"\n")
        if not lines[-1]:
            lines.pop()
        kinds = self._kinds(piece.data, lines)
        if any(kinds):
            for number, kind in enumerate(kinds, start=piece.line):
                if kind != self._kind:
                    self._turn(number, kind)
        elif self._kind is not None:
            self._close(piece.line)
        self._next = piece.line + len(lines)
        self._last_line = lines[-1] if lines else None

    def finish(self) -> list[Fold]:
        """The runs, once all pieces came in."""
        self._close(self._next)
        return self.found

    def _turn(self, number: int, kind: Kind | None) -> None:
        self._close(number)
        self._kind = kind
        # A line repeats the one before it, which belongs to the run unless another run has it.
        taken = bool(self.found) and self.found[-1].last >= number - 1
        self._first = number - 1 if kind == "repeated" and not taken else number

    def _close(self, number: int) -> None:
        if self._kind is not None and number - self._first >= LEAST:
            self.found.append(Fold(first=self._first, last=number - 1, kind=self._kind))
        self._kind = None

    def _kinds(self, data: bytes, lines: Sequence[bytes]) -> Sequence[Kind | None]:
        kinds: list[Kind | None] = [None] * len(lines)
        for place in self._repeats(data, lines):
            kinds[place] = "repeated"
        for hint in _HINTS:
            if hint in data:
                hinted = [place for place, line in enumerate(lines) if hint in line]
                for place in hinted:
                    if self._is_download(lines[place]):
                        kinds[place] = "download"
        return kinds

    def _is_download(self, line: bytes) -> bool:
        """Lines alike but for their digits and first address are decided once, as there may be millions of them."""
        if len(line) > _LONGEST_LINE:
            return False
        slash = line.find(b"/")
        if slash >= 0:
            behind = line.find(b" ", slash)
            line = line[: slash + 1] + (line[behind:] if behind > 0 else b"")
        if _BAD_STATUS.search(line):
            return False
        key = line.translate(None, _DIGITS)
        known = self._shapes.get(key)
        if known is None:
            if len(self._shapes) > _MOST_SHAPES:
                self._shapes.clear()
            known = self._shapes[key] = _says_download(line)
        return known

    def _repeats(self, data: bytes, lines: Sequence[bytes]) -> Iterator[int]:
        """Places of lines that say what the line before says; digits apart is what a quick look can tell."""
        before = self._last_line
        if lines and before is not None and self._same(before, lines[0]):
            yield 0
        # Over all lines at once: this is the pass that ten million lines go through.
        bare = data.translate(None, _DIGITS).split(b"\n")
        alike = [place for place, (one, two) in enumerate(pairwise(bare), start=1) if one == two]
        for place in alike:
            if place < len(lines) and self._same(lines[place - 1], lines[place]):
                yield place

    def _same(self, one: bytes, two: bytes) -> bool:
        if one == two:
            return True
        if len(one) != len(two) or len(one) > _LONGEST_LINE:
            return False
        skip = self._prefix(one)
        return skip > 0 and one[skip:] == two[skip:]

    def _prefix(self, line: bytes) -> int:
        """How many bytes of a line are time stamp and the like."""
        key = line.translate(None, _DIGITS)
        if key not in self._skips:
            if len(self._skips) > 1000:
                self._skips.clear()
            body = clean(line.decode("utf-8", "replace")).text.encode()
            self._skips[key] = len(line.rstrip()) - len(body) if line.rstrip().endswith(body) else 0
        return self._skips[key]


def _says_download(line: bytes) -> bool:
    words = [b"/" if b"/" in w or b"." in w[1:-1] or b"_" in w or b"@" in w else w for w in line.split()]
    shape = b" ".join(words).translate(None, _DIGITS)
    return _DOWNLOAD.search(shape) is not None and _TROUBLE.search(shape) is None
