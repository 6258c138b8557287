"""The part of a log that a report shows: around evidence, at the borders of segments, at its end; never all of a large one.

With the open log its lines are read in one pass over blocks; without it only the lines that the verdict holds are there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from logdoctor.intake import pieces, strip_escapes
from logdoctor.reports.words import last_line, middle_out, told_others

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from logdoctor.intake import Log
    from logdoctor.model import Verdict
    from logdoctor.reports.plain import Gate

__all__ = ["Kind", "Row", "choose", "excerpt", "lines_between", "read_lines"]

Kind = Literal["root", "evidence", "reading", "closing", "border", "around"]

MOST_LINES = 600
MOST_CHARACTERS = 150_000
"""Of the rows as a page holds them, escaped and with what stands around them."""
ROW_COST = 90
LONGEST = 600
LONGEST_TOLD = 2000
"""A line that the verdict points at may be longer than the others."""
_READ = 1 << 17
_KEPT = 8 * 1024
_FIRST, _LAST = 3, 12
_BORDERS, _OTHERS = 60, 25


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line of the log, through the gate; `line` counts in the whole, `number` in its own file."""

    line: int
    number: int
    file: str | None
    text: str
    kind: Kind
    left_out: int
    """Lines between the row before, or the beginning, and this one."""


def excerpt(verdict: Verdict, gate: Gate, log: Log | None = None) -> list[Row]:
    """The rows in order of their lines."""
    known = _told(verdict)
    wanted = choose(verdict)
    if log is None:
        wanted = {line: kind for line, kind in wanted.items() if line in known}
        texts = known
    else:
        read = read_lines(log, wanted)
        texts = {line: _shown(raw, known.get(line)) for line, raw in read.items()}
    rows = _gated(verdict, gate, {line: kind for line, kind in wanted.items() if line in texts}, texts)
    kept = _within([rows[line] for line in wanted if line in rows])
    befores = [0, *(row.line for row in kept)]
    return [
        replace(row, left_out=lines_between(verdict, before, row.line))
        for row, before in zip(kept, befores, strict=False)
    ]


def lines_between(verdict: Verdict, before: int, line: int) -> int:
    """How many lines of the log stand between two; those with the names of its files are none of them."""
    return line - before - 1 - sum(before < part.first < line for part in verdict.source.parts)


def choose(verdict: Verdict, most: int = MOST_LINES) -> dict[int, Kind]:
    """The lines worth showing and why; the weightiest first to be taken when there are too many."""
    last = last_line(verdict.source)
    names = {part.first for part in verdict.source.parts}
    chosen: dict[int, Kind] = {}
    for line, kind in _candidates(verdict):
        if len(chosen) >= most:
            break
        if 1 <= line <= last and line not in names:
            chosen.setdefault(line, kind)
    return chosen


def read_lines(log: Log, wanted: Iterable[int]) -> dict[int, str]:
    """The texts of some lines by number, in one pass that ends with the last of them; of each at most 8 KiB."""
    left = sorted(set(wanted), reverse=True)
    found: dict[int, str] = {}
    open_line = bytearray()
    line = 1
    for block in log.blocks(_READ):
        if not left:
            return found
        place = 0
        following = line + block.count(b"\n")
        while left and left[-1] <= following:
            while line < left[-1]:
                place = block.find(b"\n", place) + 1
                line += 1
            end = block.find(b"\n", place)
            open_line += block[place : len(block) if end < 0 else end][: _KEPT - len(open_line)]
            if end < 0:
                break
            found[left.pop()] = log.decode(bytes(open_line))
            open_line.clear()
            place, line = end + 1, line + 1
        line = following
    if left and line == left[-1] and open_line:
        found[left.pop()] = log.decode(bytes(open_line))
    return found


def _candidates(verdict: Verdict) -> Iterator[tuple[int, Kind]]:
    """Lines in order of their weight; the first kind given to a line stays."""
    root = verdict.root
    if root is not None:
        yield root.line, "root"
        yield from ((e.line, "evidence") for e in root.evidence)
        yield from _near(root.line, 8, 8)
        for evidence in (*root.evidence, *root.excerpt):
            yield from _near(evidence.line, 2, 2)
    yield from ((w.line, "reading") for w in verdict.worth_reading)
    for worth in verdict.worth_reading:
        yield from _near(worth.line, 4, 4)
    last = last_line(verdict.source)
    yield from ((line, "closing") for line in range(last, last - _LAST, -1))
    others = told_others(verdict)[:_OTHERS]
    yield from ((f.line, "evidence") for f in others)
    for finding in others:
        yield from _near(finding.line, 2, 2)
    failed_first = sorted(verdict.segments, key=lambda s: (s.state == "passed", s.start))
    for segment in failed_first[:_BORDERS]:
        yield segment.start, "border"
        yield from _near(segment.start, 1, 1)
        yield segment.end, "around"
    yield from ((line, "around") for line in range(1, _FIRST + 1))


def _near(line: int, before: int, after: int) -> Iterator[tuple[int, Kind]]:
    yield from ((n, "around") for n in sorted(range(line - before, line + after + 1), key=lambda n: abs(n - line)))


def _told(verdict: Verdict) -> dict[int, str]:
    """The texts that the verdict itself holds."""
    findings = [f for f in (verdict.root, *told_others(verdict)) if f is not None]
    texts = {e.line: e.text for f in findings for e in (*f.excerpt, *f.evidence)}
    return texts | {w.line: w.text for w in verdict.worth_reading}


def _shown(raw: str, told: str | None) -> str:
    """A line as a terminal leaves it; where that hides what the verdict points at, what the verdict holds."""
    states = pieces(raw.rstrip("\r"))
    text = strip_escapes(states[-1]) if states else ""
    if told is not None and told.strip()[:80] not in text[:LONGEST]:
        return told
    return text


def _gated(verdict: Verdict, gate: Gate, wanted: Mapping[int, Kind], texts: Mapping[int, str]) -> dict[int, Row]:
    """Every wanted line as a row, in order of the lines."""
    lines = sorted(wanted)
    # A secret that only a later line gives away is masked in the earlier ones too: all pass the gate twice.
    _through(gate, lines, texts)
    shown = _through(gate, lines, texts)
    rows: dict[int, Row] = {}
    for line in lines:
        file, number = verdict.source.place(line)
        kind = wanted[line]
        longest = LONGEST if kind in ("around", "border", "closing") else LONGEST_TOLD
        text = middle_out(shown[line], longest)
        rows[line] = Row(line=line, number=number, file=gate.maybe(file), text=text, kind=kind, left_out=0)
    return rows


def _through(gate: Gate, lines: Sequence[int], texts: Mapping[int, str]) -> dict[int, str]:
    shown: dict[int, str] = {}
    before = 0
    for line in lines:
        if line != before + 1:
            # What a name before the gap begins, an ordinary word ends: the next line is not its value.
            gate.text("name")
        shown[line] = gate.text(texts[line].rstrip())
        before = line
    gate.text("name")
    return shown


def _within(rows: Sequence[Row], most: int = MOST_CHARACTERS) -> list[Row]:
    """Those of the rows, given by their weight, that fit; in order of their lines."""
    kept: list[Row] = []
    for row in rows:
        most -= len(row.text) + 4 * sum(map(row.text.count, "&<>")) + ROW_COST
        if most < 0:
            break
        kept.append(row)
    return sorted(kept, key=lambda row: row.line)
