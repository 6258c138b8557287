"""What a pattern must not match: ordinary lines, wordings of other failures, marks, passed parts of its own log, succeeded logs."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from logdoctor.catalogue.book import Rule
from logdoctor.catalogue.loading import knowledge_folder
from logdoctor.catalogue.patterns import compiled
from logdoctor.errors import InputError
from logdoctor.intake import clean, open_log
from logdoctor.scan import RuleBook, scan

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from logdoctor.catalogue import Catalogue
    from logdoctor.drafting.lines import KeptLines
    from logdoctor.drafting.pattern import Candidate
    from logdoctor.intake import Log
    from logdoctor.model import Verdict

__all__ = [
    "Text",
    "is_rare",
    "known_texts",
    "lines_matched",
    "matched_in_logs",
    "ordinary_texts",
    "own_texts",
    "touched",
]

TOO_OFTEN = 2
"""As vetting has it: a literal in two ordinary lines would make the scan look at every line."""


class Text(NamedTuple):
    """A line that must not match, and where it stands."""

    text: str
    where: str


@lru_cache(maxsize=1)
def ordinary_texts() -> tuple[Text, ...]:
    """Lines that logs are full of, and those of the succeeded sample logs; none in an installed package."""
    folder = knowledge_folder()
    if folder is None:
        return ()
    found = [Text(line, "an ordinary line") for line in _read(folder / "ordinary.txt")]
    for path in sorted((folder.parent / "sample_logs").glob("*-ok-*.log")):
        found += [Text(clean(line).text, f"a line of {path.name}") for line in _read(path)]
    return tuple(text for text in found if text.text.strip())


def _read(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8", errors="replace").splitlines() if path.is_file() else []


def is_rare(literal: str) -> bool:
    """Whether a literal is rare enough in ordinary lines to pick lines by."""
    return sum(literal in text.text for text in ordinary_texts() if text.where == "an ordinary line") < TOO_OFTEN


@lru_cache(maxsize=2)
def known_texts(catalogue: Catalogue) -> tuple[Text, ...]:
    """The examples of all failures and marks, line by line."""
    examples = [(f, e) for f in catalogue for s in f.signatures for e in s.examples]
    found = [Text(clean(t).text, f"an example of {f.id}") for f, e in examples for t in e.text.splitlines()]
    for mark in catalogue.marks:
        found += [Text(clean(text).text, f"an example of the mark {mark}") for text in catalogue.mark_examples(mark)]
    return tuple(found)


def own_texts(lines: KeptLines, verdict: Verdict, line: int) -> tuple[Text, ...]:
    """The lines of the log itself that stand in parts that passed, before the chosen line."""
    passed = [s for s in verdict.segments if s.state == "passed" and s.end < line]
    return tuple(
        Text(text, f"line {number} of this log")
        for number, text in lines.texts()
        if any(s.start <= number <= s.end for s in passed)
    )


def touched(candidate: Candidate, texts: Iterable[Text]) -> list[Text]:
    """The texts that a pattern matches."""
    rule = compiled(candidate.line)
    if rule is None:
        return []
    return [text for text in texts if candidate.literal in text.text and rule.search(text.text) is not None]


def lines_matched(log: Log, line: str, literals: Sequence[str]) -> tuple[int, ...]:
    """The lines of a log that a pattern matches, the first and the last 300 of them."""
    hits = scan(log, RuleBook([_rule("draft", line, literals)])).hits
    return tuple(hit.line for found in hits.values() for hit in found.kept())


def matched_in_logs(chosen: Sequence[Candidate], places: Sequence[str]) -> tuple[Mapping[int, str], list[str]]:
    """Which candidates (by index) match in any of these succeeded logs, and where; and which logs can't be read."""
    book = RuleBook([_rule(str(index), c.line, [c.literal]) for index, c in enumerate(chosen)])
    found: dict[int, str] = {}
    unread: list[str] = []
    for path in _logs(places):
        try:
            with open_log(str(path)) as log:
                for key, hits in scan(log, book).hits.items():
                    found.setdefault(int(key), f"line {hits.first[0].line} of {path.name}")
        except InputError as error:
            unread.append(str(error))
    return found, unread


def _rule(key: str, line: str, literals: Sequence[str]) -> Rule:
    return Rule(key=key, kind="signature", line=line, literals=tuple(literals))


def _logs(places: Sequence[str]) -> Iterator[Path]:
    """The files named, and all files of the folders named."""
    for place in map(Path, places):
        yield from sorted(p for p in place.rglob("*") if p.is_file()) if place.is_dir() else (place,)
