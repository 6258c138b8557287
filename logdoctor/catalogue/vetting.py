"""Vetting: everything that can be wrong with the catalogue, reported together."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache
from typing import TYPE_CHECKING

import regex
from rapidfuzz import fuzz

from logdoctor.catalogue.growth import slow_input
from logdoctor.catalogue.literals import FREQUENT, MIN_LENGTH
from logdoctor.catalogue.loading import knowledge_folder
from logdoctor.catalogue.patterns import compiled
from logdoctor.catalogue.problems import Problem
from logdoctor.catalogue.standards import standard_problems
from logdoctor.intake import clean

if TYPE_CHECKING:
    from logdoctor.catalogue.book import Catalogue
    from logdoctor.model import Failure, Near, Signature

__all__ = ["known_facts", "vet"]

CLOSE_ENOUGH = 50
TOO_OFTEN = 2
Complain = Callable[[str, str, str], None]


def vet(catalogue: Catalogue, *, only: Iterable[str] = (), growth: bool = True) -> list[Problem]:
    """All problems of the catalogue, or of the failures named in `only` (cross matches look at all entries)."""
    wanted = set(only)
    problems = list(catalogue.problems)
    failures = [f for f in catalogue if not wanted or f.id in wanted]
    for failure in failures:
        problems += _vet_failure(catalogue, failure, growth=growth)
    problems += _cross_matches(catalogue, failures)
    return problems


def matches(signature: Signature, text: str) -> bool:
    """Whether a signature matches a whole example (one line, or several for its `near` conditions)."""
    lines = [clean(line).text for line in text.splitlines()]
    pattern = compiled(signature.line)
    return pattern is not None and any(
        pattern.search(line) and all(_near_holds(near, lines, index) for near in signature.near)
        for index, line in enumerate(lines)
    )


def _near_holds(near: Near, lines: list[str], index: int) -> bool:
    before = lines[max(0, index - near.within) : index] if near.where != "after" else []
    after = lines[index + 1 : index + 1 + near.within] if near.where != "before" else []
    pattern = compiled(near.line)
    stands = pattern is not None and any(pattern.search(line) for line in before + after)
    return stands == (near.must == "stand")


def _vet_failure(catalogue: Catalogue, failure: Failure, *, growth: bool) -> list[Problem]:
    file = catalogue.file_of(failure.id) or failure.id
    problems: list[Problem] = []

    def complain(key: str, problem: str, mend: str) -> None:
        problems.append(Problem(file=file, key=key, problem=problem, mend=mend))

    for signature in failure.signatures:
        _vet_signature(signature, complain, growth=growth)
    _vet_references(catalogue, failure, complain)
    _vet_reasoning(catalogue, failure, complain)
    for key, problem in standard_problems(failure):
        complain(key, problem, "correct the claim")
    return problems


def _vet_signature(signature: Signature, complain: Complain, *, growth: bool) -> None:
    key = f"$.signatures[{signature.id}]"
    if not _patterns_are_valid(signature, key, complain):
        return
    _vet_literals(signature, key, complain)
    _vet_examples(signature, key, complain)
    if growth and (slow := slow_input(signature.line, [e.text for e in signature.examples])):
        complain(f"{key}.line", f"the pattern backtracks without bound ({slow})", "bound its repeats")


def _patterns_are_valid(signature: Signature, key: str, complain: Complain) -> bool:
    valid = True
    for where, text in [("line", signature.line), *((f"near[{i}]", n.line) for i, n in enumerate(signature.near))]:
        try:
            regex.compile(text)
        except (regex.error, RecursionError, OverflowError) as error:
            complain(f"{key}.{where}", f"the pattern is not valid: {error}", "correct it")
            valid = False
    return valid


def _vet_literals(signature: Signature, key: str, complain: Complain) -> None:
    for literal in signature.literals:
        if len(literal) < MIN_LENGTH or literal.strip().lower() in FREQUENT or literal.lower() in FREQUENT:
            complain(f"{key}.literal", f"{literal!r} is too short or too frequent", "give a rarer literal")
    for literal in signature.literals:
        if (often := _ordinary_lines_with(literal)) >= TOO_OFTEN:
            complain(f"{key}.literal", f"{literal!r} stands in {often} lines of ordinary.txt", "give a rarer literal")


def _vet_examples(signature: Signature, key: str, complain: Complain) -> None:
    for number, example in enumerate(signature.examples):
        if not matches(signature, example.text):
            complain(f"{key}.examples[{number}]", "its own signature misses it", "correct the pattern or the example")
        elif not any(literal in example.text for literal in signature.literals):
            complain(f"{key}.examples[{number}]", "it holds no picking literal", "give a literal that it holds")
    for number, lookalike in enumerate(signature.lookalikes):
        if matches(signature, lookalike):
            complain(f"{key}.lookalikes[{number}]", "it matches", "sharpen the pattern")
        elif not _comes_close(signature, lookalike):
            complain(f"{key}.lookalikes[{number}]", "it is trivially far", "choose a line that could be mistaken")


@cache
def _ordinary_lines() -> tuple[str, ...]:
    """Lines that logs are full of; a literal in them would make the scan look at every line. None in an installed package."""
    folder = knowledge_folder()
    path = folder / "ordinary.txt" if folder else None
    return tuple(path.read_text(encoding="utf-8").splitlines()) if path and path.is_file() else ()


def _ordinary_lines_with(literal: str) -> int:
    return sum(literal in line for line in _ordinary_lines())


def _comes_close(signature: Signature, lookalike: str) -> bool:
    return any(literal in lookalike for literal in signature.literals) or any(
        fuzz.partial_ratio(lookalike, example.text) >= CLOSE_ENOUGH for example in signature.examples
    )


def _vet_references(catalogue: Catalogue, failure: Failure, complain: Complain) -> None:
    named = [("explains", failure.explains), ("becomes", tuple(failure.becomes.values()))]
    named += [(f"signatures[{s.id}].shares", s.shares) for s in failure.signatures]
    for key, ids in named:
        for other in ids:
            if other not in catalogue:
                complain(f"$.{key}", f"there is no failure {other}", "correct the id")
    if not failure.causes and failure.stand_in != "last":
        complain("$.causes", "no cause", "write at least one, with its fix")


def _vet_reasoning(catalogue: Catalogue, failure: Failure, complain: Complain) -> None:
    causes = {cause.id for cause in failure.causes}
    facts = set(known_facts(catalogue, failure))
    for cause in failure.causes:
        for number, clue in enumerate(cause.clues):
            if clue.fact not in facts:
                complain(
                    f"$.causes[{cause.id}].clues[{number}].fact",
                    f"nothing produces {clue.fact}",
                    "see knowledge/facts.yaml",
                )
            if clue.matches is not None and compiled(clue.matches) is None:
                complain(f"$.causes[{cause.id}].clues[{number}].is", "the pattern is not valid", "correct it")
    _vet_checks(failure, causes, facts, complain)
    if len(causes) > 1 and not failure.checks:
        complain("$.checks", "several causes and no check", "write one that tells them apart")


def _vet_checks(failure: Failure, causes: set[str], facts: set[str], complain: Complain) -> None:
    for check in failure.checks:
        if check.fact is not None and check.fact.name not in facts:
            complain(f"$.checks[{check.id}].fact", f"nothing produces {check.fact.name}", "see knowledge/facts.yaml")
        for answer, speaks in (("yes", check.yes), ("no", check.no)):
            for cause_id in speaks.keys() - causes:
                complain(f"$.checks[{check.id}].{answer}", f"there is no cause {cause_id}", "correct the id")
        if dict(check.yes) == dict(check.no):
            complain(f"$.checks[{check.id}]", "it can't tell anything apart", "let yes and no speak differently")


def known_facts(catalogue: Catalogue, failure: Failure) -> Iterator[str]:
    """The facts that clues and checks of a failure may name."""
    for kind in ("computed", "setup", "line"):
        yield from catalogue.facts.get(kind, {})
    yield from failure.facts
    for origin in [failure, *(f for f in catalogue if failure.id in f.becomes.values())]:
        for signature in origin.signatures:
            if (pattern := compiled(signature.line)) is not None:
                yield from pattern.groupindex


def _cross_matches(catalogue: Catalogue, failures: list[Failure]) -> Iterator[Problem]:
    """A signature that matches another failure's example, unless one of the two declares it."""
    everyone = [(f, s) for f in catalogue for s in f.signatures]
    for failure in failures:
        for signature in failure.signatures:
            for number, example in enumerate(signature.examples):
                for other, theirs in everyone:
                    if other.id == failure.id or not any(t in example.text for t in theirs.literals):
                        continue
                    if not _declared(failure, signature, other, theirs) and matches(theirs, example.text):
                        yield Problem(
                            file=catalogue.file_of(failure.id),
                            key=f"$.signatures[{signature.id}].examples[{number}]",
                            problem=f"{other.id}/{theirs.id} matches it too",
                            mend="sharpen one of the two, or declare it in shares",
                        )


def _declared(mine: Failure, signature: Signature, other: Failure, theirs: Signature) -> bool:
    families = [{f.id, *f.becomes.values()} for f in (mine, other)]
    return (
        other.id in signature.shares
        or mine.id in theirs.shares
        or bool(families[0] & families[1])
        or other.stand_in != mine.stand_in
        or other.wrapper != mine.wrapper
        or other.id in mine.explains
        or mine.id in other.explains
        or theirs.summary
    )
