"""A draft as a person goes on writing it: what it matches, what it must not, what is wrong and what is missing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.patterns import compiled, limit
from logdoctor.drafting import checking
from logdoctor.drafting.writing import still_to_do
from logdoctor.model import PHASES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.catalogue import Catalogue
    from logdoctor.intake import Log

__all__ = ["Written", "examine_text", "vetted"]

LONGEST = 200_000
SHOWN = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What a text is worth as an entry. `lines` are those of the log that its signatures match; `id` is None where it has none."""

    id: str | None = None
    phase: str | None = None
    lines: tuple[int, ...] = ()
    problems: tuple[str, ...] = ()
    todo: tuple[str, ...] = ()

    @property
    def can_be_saved(self) -> bool:
        """Whether it says which entry it is, so that a file can be named after it; the rest can be mended later."""
        return self.id is not None and self.phase is not None


def examine_text(text: str, log: Log, catalogue: Catalogue) -> Written:
    """Look at a text that is being written; never raises for what stands in it."""
    data, problem = _read(text)
    if problem:
        return Written(problems=(problem,))
    known = isinstance(data.get("id"), str) and data["id"] in catalogue
    entry, wrong = vetted(data, catalogue, known=known)
    patterns = list(_patterns(entry))
    limit(pattern for pattern, _ in patterns)  # one that is being typed may backtrack without bound
    lines = {line for pattern, literals in patterns for line in checking.lines_matched(log, pattern, literals)}
    return Written(
        id=_name(entry.get("id")),
        phase=entry["phase"] if entry.get("phase") in PHASES else None,
        lines=tuple(sorted(lines)),
        problems=(*wrong, *_touching(patterns, entry.get("id"), catalogue)),
        todo=tuple(still_to_do(entry)),
    )


def vetted(data: Any, catalogue: Catalogue, *, known: bool) -> tuple[dict[str, Any], list[str]]:
    """An entry's data as the catalogue takes it, and what vetting says of it alone.

    A `known` entry only gets a wording added: its causes stay where they are.
    """
    from logdoctor.catalogue.book import Catalogue as Book
    from logdoctor.catalogue.building import normalized_entry
    from logdoctor.catalogue.problems import entry_problems
    from logdoctor.catalogue.vetting import vet

    data = normalized_entry(data)
    problems = entry_problems(data, "draft")
    if not problems:
        problems = vet(Book({data["id"]: data | {"file": "draft"}}, [], catalogue.facts))
    return data, [f"{p.key}: {p.problem}; {p.mend}" for p in problems if not (known and p.key == "$.causes")]


def _read(text: str) -> tuple[dict[str, Any], str]:
    """The mapping that the text stands for, or the one problem that keeps it from being one."""
    import yaml

    if len(text) > LONGEST or ("&" in text and "*" in text and _has_aliases(text)):
        return {}, "the text is too long or repeats parts of itself by reference: write it out"
    try:
        data = yaml.safe_load(text)
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        mark = getattr(error, "problem_mark", None)
        where = f"line {mark.line + 1}: " if mark else ""
        return {}, f"{where}not YAML: {getattr(error, 'problem', None) or error}"
    return (data, "") if isinstance(data, dict) else ({}, "an entry is a mapping of keys to values")


def _has_aliases(text: str) -> bool:
    import yaml

    try:
        return any(isinstance(event, yaml.AliasEvent) for event in yaml.parse(text, Loader=yaml.SafeLoader))
    except yaml.YAMLError:
        return False


def _name(found: object) -> str | None:
    """An id that may become a file's name."""
    plain = isinstance(found, str) and found and set(found) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    return str(found) if plain else None


def _patterns(entry: dict[str, Any]) -> Iterator[tuple[str, list[str]]]:
    """The signatures' patterns that are valid, each with its picking literals."""
    signatures = entry.get("signatures")
    for signature in signatures if isinstance(signatures, list) else []:
        if not isinstance(signature, dict):
            continue
        line, literals = signature.get("line"), signature.get("literal")
        literals = [literals] if isinstance(literals, str) else literals
        if isinstance(line, str) and compiled(line) is not None and isinstance(literals, list):
            kept = [text for text in literals if isinstance(text, str) and text]
            if kept:
                yield line, kept


def _touching(patterns: list[tuple[str, list[str]]], own: object, catalogue: Catalogue) -> Iterator[str]:
    """What the patterns match and must not: ordinary lines and the wordings of others."""
    texts = [*checking.ordinary_texts(), *checking.known_texts(catalogue)]
    places = dict.fromkeys(
        text.where
        for pattern, literals in patterns
        if (rule := compiled(pattern)) is not None
        for text in texts
        if any(literal in text.text for literal in literals) and rule.search(text.text) is not None
    )
    found = [place for place in places if place != f"an example of {own}"]
    if found:
        more = f" and {len(found) - SHOWN} more" if len(found) > SHOWN else ""
        yield f"the pattern also matches {', '.join(found[:SHOWN])}{more}"
