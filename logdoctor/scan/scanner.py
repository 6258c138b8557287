"""One pass over a log: literals pick lines, patterns decide.

Lines without a literal are neither decoded nor looked at; memory does not grow with the log.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.catalogue.patterns import compiled, given_up, named_groups
from logdoctor.intake import Cleaned, Log, clean, strip_escapes
from logdoctor.lazy import lazy
from logdoctor.model import Hit
from logdoctor.scan.result import KEPT_TALLIES, KEPT_WATCHED, RuleHits, Scan, Tally
from logdoctor.scan.sharing import shared_out, shares

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from logdoctor.catalogue import Rule
    from logdoctor.scan.rulebook import Candidates, RuleBook
    from logdoctor.scan.watch import Watch

__all__ = ["RuleHits", "Scan", "Tally", "scan"]

MOST_SHOWN = 50_000
"""Lines that the watch is shown: four seconds of a log of nothing but such lines."""
PIECES_BEFORE_SIEVE = 1000
PARTS_OF_A_LINE = 1000
"""Windows of 4 KiB around literals."""
LONG_LINE = 64 << 10
BLOCK = 1 << 20
WINDOW = 4096
OVERLAP = 4096
# Tools colour words apart, each in its own way: literals are looked for in the text as it is read on a screen.
# `ESC[0K` stays: section markers end in it.
COLOUR = lazy(rb"\x1b\[(?:[0-9;:]*m|K)")
LINE_END = lazy(rb"\n")


def scan(log: Log, book: RuleBook, watch: Watch | None = None) -> Scan:
    """Read the whole log once and return every rule's hits."""
    parts = shares(log)
    if len(parts) > 1:
        return shared_out(parts, lambda part: _scanned(log, book, watch, _blocks_of(log, part), part[0]))
    return _scanned(log, book, watch, log.blocks(), 0)


def _scanned(log: Log, book: RuleBook, watch: Watch | None, blocks: Iterable[bytes], begin: int) -> Scan:
    """The hits in a part of the log that begins there, its first line being the first."""
    result = Scan()
    pass_ = _Pass(log, book, result, watch)
    line, offset, ended = 1, begin, True
    for chunk, overlap in _chunks(blocks):
        pass_.look(chunk, offset, line)
        fresh = len(chunk) - overlap
        line += chunk.count(b"\n", 0, fresh)
        offset += fresh
        ended = chunk.endswith(b"\n")
    result.bytes = offset - begin
    result.lines = line - 1 if ended else line
    return result


def _blocks_of(log: Log, part: tuple[int, int]) -> Iterator[bytes]:
    offset, end = part
    while offset < end and (block := log.read_at(offset, min(BLOCK, end - offset))):
        yield block
        offset += len(block)


def _chunks(blocks: Iterable[bytes]) -> Iterator[tuple[bytes, int]]:
    """Blocks cut at line ends; of a very long line, parts that overlap. Yields the block and how much of it comes again."""
    rest = b""
    for block in blocks:
        joined = rest + block if rest else block
        cut = joined.rfind(b"\n") + 1
        if cut:
            yield joined[:cut], 0
            rest = joined[cut:]
        else:
            rest = joined
        while len(rest) > LONG_LINE * 4:
            yield rest[: LONG_LINE * 4], OVERLAP
            rest = rest[LONG_LINE * 4 - OVERLAP :]
    if rest:
        yield rest, 0


class _Pass:
    def __init__(self, log: Log, book: RuleBook, result: Scan, watch: Watch | None) -> None:
        self._log = log
        self._book = book
        self._result = result
        self._watch = watch
        self._seen_on_line: tuple[int, set[str]] = (0, set())
        self._pieces = 0
        self._parts = (0, 0)
        self._shown = 0

    def look(self, chunk: bytes, offset: int, line: int) -> None:
        """Pick lines of one block."""
        if b"\x1b" in chunk:
            starts = [0, *(end.end() for end in LINE_END.finditer(chunk))]
            self._pick(COLOUR.sub(b"", chunk), offset, line, starts)
        else:
            self._pick(chunk, offset, line, None)

    def _pick(self, chunk: bytes, offset: int, first: int, starts: list[int] | None) -> None:
        """Pick lines of a block without colours; `starts`: where its lines began before they were taken out."""
        self._look_for_pattern(chunk, first)
        counted = skip_until = 0
        line = first
        known, look_up = self._book.behind, self._book.look_up
        for window, place, _ in self._book.places(chunk):
            if place < skip_until:
                continue
            for before, literal, _number, tally in known[window] or look_up(window):
                start = place - before
                if start < skip_until or not chunk.startswith(literal, start):
                    continue
                line += chunk.count(b"\n", counted, start)
                counted = start
                if tally is not None:
                    self._count(tally, line, offset + (start if starts is None else starts[line - first]))
                    continue
                begin, stop, skip_until = self._piece_around(chunk, start, start + len(literal), line)
                if begin < stop:
                    self._line(chunk[begin:stop], offset + (begin if starts is None else starts[line - first]), line)
                break

    def _piece_around(self, chunk: bytes, start: int, end: int, line: int) -> tuple[int, int, int]:
        """Begin and end of the line, or of the part of a long one, around a literal, and where to look on behind it."""
        begin = chunk.rfind(b"\n", 0, start) + 1
        stop = chunk.find(b"\n", end)
        stop = len(chunk) if stop < 0 else stop
        if stop - begin > WINDOW * 2:
            if not self._has_patience(line):
                return 0, 0, stop
            begin, stop = max(begin, start - WINDOW), min(stop, end + WINDOW)
        return begin, stop, stop

    def _has_patience(self, line: int) -> bool:
        """Whether another part of an overlong line is looked at: one of a gigabyte must not take minutes."""
        self._parts = (line, self._parts[1] + 1 if self._parts[0] == line else 1)
        return self._parts[1] <= PARTS_OF_A_LINE

    def _look_for_pattern(self, chunk: bytes, line: int) -> None:
        if self._watch is None or self._watch.pattern is None:
            return
        counted = 0
        for match in self._watch.pattern.finditer(chunk):
            line += chunk.count(b"\n", counted, match.start())
            counted = match.start()
            begin = max(chunk.rfind(b"\n", 0, counted) + 1, counted - WINDOW)
            stop = chunk.find(b"\n", match.end())
            stop = min(len(chunk) if stop < 0 else stop, match.end() + WINDOW)
            self._show(self._log.decode(chunk[begin:stop]), line)

    def _show(self, text: str, line: int) -> None:
        if self._watch is not None and len(self._result.watched) < KEPT_WATCHED and self._shown < MOST_SHOWN:
            self._shown += 1
            shown = strip_escapes(text)
            self._result.watched += [(line, kind, shown) for kind in self._watch.see(shown)]

    def _count(self, rule: Rule, line: int, offset: int) -> None:
        tallies = self._result.tallies
        last = tallies[-1] if tallies else None
        if last is not None and last.rule == rule.key and line - last.last <= 2:
            last.last, last.count = line, last.count + 1
        elif len(tallies) < KEPT_TALLIES:
            tallies.append(Tally(rule=rule.key, first=line, last=line, count=1, offset=offset))

    def _line(self, raw: bytes, offset: int, line: int) -> None:
        at = 0
        for piece in raw.split(b"\r"):
            if piece:
                picked = self._book.candidates(piece)
                if picked.rules or picked.watched:
                    self._piece(piece, offset + at, line, picked)
            at += len(piece) + 1

    def _piece(self, piece: bytes, offset: int, line: int, picked: Candidates) -> None:
        decoded = self._log.decode(piece)
        if picked.watched:
            self._show(decoded, line)
        cleaned = clean(decoded)
        if self._seen_on_line[0] != line:
            self._seen_on_line = (line, set())
        for rule in self._worth_trying(cleaned.text, picked):
            if rule.key not in self._seen_on_line[1]:
                self._decide(rule, cleaned, offset, line)

    def _worth_trying(self, text: str, picked: Candidates) -> Iterable[Rule]:
        """The rules that may match; of many lines told by the sieve, as it takes its time to be made."""
        self._pieces += 1
        if self._pieces > PIECES_BEFORE_SIEVE and len(text) <= WINDOW:
            return self._book.sieve.may_match(text, picked.literals, picked.rules)
        return (rule for rule in picked.rules if self._may_match(rule, text))

    @staticmethod
    def _may_match(rule: Rule, text: str) -> bool:
        return rule.may_match(text if len(text) <= WINDOW else _window(text, rule))

    def _decide(self, rule: Rule, cleaned: Cleaned, offset: int, line: int) -> None:
        text = cleaned.text if len(cleaned.text) <= WINDOW else _window(cleaned.text, rule)
        pattern = compiled(rule.line)
        if pattern is None:
            self._result.unusable.add(rule.key)
            return
        match = pattern.search(text)
        if given_up(rule.line):
            # A rule that is given up half-way has no hits at all, so that a verdict does not depend on when.
            self._result.hits.pop(rule.key, None)
            return
        if match is None:
            return
        self._seen_on_line[1].add(rule.key)
        stamp = cleaned.stamp
        hit = Hit(
            rule=rule.key,
            line=line,
            offset=offset,
            text=text,
            groups=named_groups(match),
            lane=cleaned.lane,
            seconds=stamp.seconds if stamp else None,
            clock=stamp.kind if stamp else None,
        )
        self._result.hits.setdefault(rule.key, RuleHits()).add(hit)


def _window(text: str, rule: Rule) -> str:
    """The part of a long line around the rule's literal."""
    at = min((i for i in (text.find(literal) for literal in rule.literals) if i >= 0), default=0)
    return text[max(0, at - WINDOW // 2) : at + WINDOW // 2]
