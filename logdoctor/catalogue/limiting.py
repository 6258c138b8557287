"""Which patterns an entry or a file of marks holds, and which entries hold patterns that were given up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.patterns import any_given_up, given_up

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.catalogue.book import Catalogue
    from logdoctor.model import Failure

__all__ = ["given_up_in", "patterns_in"]


def patterns_in(data: Any) -> Iterator[str]:
    """Every pattern in plain data of the catalogue: `line`, `matches`, `until`, the keys of a `table`, lines of facts."""
    waiting = [data]
    while waiting:
        value = waiting.pop()
        if isinstance(value, list):
            waiting += value
        elif isinstance(value, dict):
            for key, inner in value.items():
                if key in ("line", "matches", "until") and isinstance(inner, str):
                    yield inner
                elif key == "table" and isinstance(inner, dict):
                    yield from map(str, inner)
                elif key == "line" and isinstance(inner, dict):
                    yield from (text for text in inner.values() if isinstance(text, str))
                else:
                    waiting.append(inner)


def given_up_in(catalogue: Catalogue) -> list[str]:
    """The signatures, marks and entries that hold a pattern which took too long."""
    if not any_given_up():
        return []
    found = [name for failure in catalogue for name in _of_failure(failure)]
    found += [
        f"the mark {mark.id}"
        for mark in catalogue.marks.values()
        if any(map(given_up, (mark.line, str(mark.options.get("until")), *mark.table)))
    ]
    found += [f"the fact {name}" for name, line in catalogue.facts.get("line", {}).items() if given_up(line)]
    return found


def _of_failure(failure: Failure) -> Iterator[str]:
    for signature in failure.signatures:
        if any(map(given_up, (signature.line, *(near.line for near in signature.near)))):
            yield f"{failure.id}/{signature.id}"
    yield from (f"{failure.id}, fact {name}" for name, line in failure.facts.items() if given_up(line))
    for cause in failure.causes:
        if any(clue.matches is not None and given_up(clue.matches) for clue in cause.clues):
            yield f"{failure.id}, cause {cause.id}"
