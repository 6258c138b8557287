"""The catalogue in one file of which a diagnosis reads little: the windows at once, the rest line by line when it is needed.

Lines of JSON. The first tells how many lines each part has: what is behind each window, rules, marks, entries.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.picking import Picking, by_literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from logdoctor.catalogue.book import Catalogue, Rule
    from logdoctor.catalogue.picking import Behind
    from logdoctor.catalogue.problems import Problem

__all__ = ["FORMAT", "Prepared", "packed", "unpacked"]

FORMAT = "9"
"""Also of parsed files that are kept: what is derived from a pattern is in both."""


class Prepared:
    """An open file of this kind; wrong JSON in it is a ValueError when it is come upon."""

    def __init__(self, head: Mapping[str, Any], lines: Sequence[bytes]) -> None:
        self.head = head
        self._lines = lines
        parts = head["parts"]
        self._rules_at = 1 + parts["windows"]
        self._marks_at = self._rules_at + parts["rules"]
        self._entries_at = self._marks_at + parts["marks"]
        self._rules: dict[int, Rule] = {}
        self._rules_of: dict[int, list[int]] = {}

    @property
    def end(self) -> int:
        """How many lines there are."""
        return int(self._entries_at + len(self.head["entries"]))

    @property
    def entries(self) -> Mapping[str, dict[str, Any]]:
        """The entries by id, each read when it is asked for."""
        return _Lines({key: self._entries_at + n for n, key in enumerate(self.head["entries"])}, self._lines)

    @property
    def marks(self) -> Mapping[str, dict[str, Any]]:
        """The marks by id, each as `{tool, data}`."""
        return _Lines({key: self._marks_at + n for n, key in enumerate(self.head["marks"])}, self._lines)

    @property
    def problems(self) -> list[Problem]:
        """What was left out when the file was made."""
        from logdoctor.catalogue.problems import Problem

        return [Problem(file=file, key=key, problem=what, mend=mend) for file, key, what, mend in self.head["problems"]]

    def rules(self) -> list[Rule]:
        """All rules in their order."""
        return [self._rule(number) for number in range(self.head["parts"]["rules"])]

    @cached_property
    def picking(self) -> Picking:
        """What picks lines."""
        return Picking(
            windows=[window.encode("latin-1") for window in self.head["windows"]],
            behind=self._behind,
            rules_of=lambda number: [self._rule(rule) for rule in self._rules_of[number]],
            literals=self.head["literals"],
            rules=self.rules,
        )

    def _behind(self, window: int) -> list[Behind]:
        found = []
        for before, literal, number, rules in json.loads(self._lines[1 + window]):
            self._rules_of[number] = rules
            found.append((before, literal.encode(), number))
        return found

    def _rule(self, number: int) -> Rule:
        if number not in self._rules:
            from logdoctor.catalogue.book import Rule

            key, kind, line, literals, tally, needs = json.loads(self._lines[self._rules_at + number])
            self._rules[number] = Rule(
                key=key, kind=kind, line=line, literals=tuple(literals), tally=tally, needs=needs
            )
        return self._rules[number]


class _Lines(Mapping[str, dict[str, Any]]):
    """Values by key, each on its line."""

    def __init__(self, places: dict[str, int], lines: Sequence[bytes]) -> None:
        self._places = places
        self._all = lines

    def __getitem__(self, key: str) -> dict[str, Any]:
        value: dict[str, Any] = json.loads(self._all[self._places[key]])
        return value

    def __contains__(self, key: object) -> bool:
        return key in self._places

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)


def packed(catalogue: Catalogue, ordinary: Iterable[bytes] = (), **beside: Any) -> bytes:
    """A catalogue as such a file; `beside` is told in its head."""
    from logdoctor.catalogue.windows import chosen_windows

    rules = catalogue.rules()
    groups = by_literal(rules)
    numbers = {id(rule): number for number, rule in enumerate(rules)}
    windows: dict[bytes, list[list[Any]]] = {}
    chosen = chosen_windows([literal.encode() for literal in groups], ordinary)
    for number, ((literal, its), (window, before)) in enumerate(zip(groups.items(), chosen, strict=True)):
        behind = [before, literal, number, [numbers[id(rule)] for rule in its]]
        windows.setdefault(window, []).append(behind)
    marks = catalogue.mark_data()
    entries = catalogue.entry_data()
    head = {
        "format": FORMAT,
        **beside,
        "parts": {"windows": len(windows), "rules": len(rules), "marks": len(marks)},
        "windows": [window.decode("latin-1") for window in windows],
        "literals": len(groups),
        "marks": [f"{mark['tool']}/{mark['data']['id']}" for mark in marks],
        "entries": [entry["id"] for entry in entries],
        "facts": catalogue.facts,
        "problems": [[p.file, p.key, p.problem, p.mend] for p in catalogue.problems],
    }
    lines = [head, *windows.values(), *map(_told, rules), *marks, *entries]
    return b"".join(json.dumps(line).encode() + b"\n" for line in lines)


def _told(rule: Rule) -> list[Any]:
    return [rule.key, rule.kind, rule.line, rule.literals, rule.tally, rule.needs]


def unpacked(data: bytes) -> Prepared:
    """Such a file; a ValueError where it is none."""
    lines = data.split(b"\n")
    try:
        head = json.loads(lines[0])
        if head["format"] != FORMAT:
            raise ValueError("of another version of the program")
        found = Prepared(head, lines)
    except (TypeError, KeyError, RecursionError) as error:
        raise ValueError("no prepared catalogue") from error
    if len(lines) != found.end + 1:
        raise ValueError("cut short")
    return found
