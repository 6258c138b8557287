"""Picking literals: the fixed text that every line matched by a pattern must hold.

Derived with the standard library's pattern parser; a pattern it can't read needs a literal given by hand.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence

__all__ = ["ANY_CASE", "FREQUENT", "Need", "derive_literals", "holds", "holds_found", "leaves", "needed_texts"]

MIN_LENGTH = 4
MAX_CHOICES = 24
MIN_NEEDED = 3
ALL, ANY, ANY_CASE = "all", "any", "in any case"
Need = str | list[Any]
"""A text that must stand there; or ALL or ANY of further needs; or ANY_CASE and a text in small letters."""

FREQUENT = frozenset(
    word.lower()
    for word in (
        "error",
        "error:",
        "error: ",
        "errors",
        "failed",
        "failure",
        "fatal",
        "fatal: ",
        "warning",
        "warning: ",
        "http",
        "http://",
        "https://",
        "://",
        "Downloading",
        "Downloaded",
        " from ",
        " from",
        "[ERROR]",
        "[ERROR] ",
        "[INFO] ",
        "[INFO]",
        "[WARNING] ",
        "npm ERR! ",
        "npm error ",
        "npm ERR!",
        "npm error",
        "    at ",
        "\tat ",
        " not ",
        "file",
        " is ",
        " the ",
        "in ",
        "test",
        "Tests",
        "Test",
        "user",
        "code",
        "java",
        "line ",
        "version",
        ".java",
        ".java:",
        "Exception",
    )
)

_NAMED_GROUP = lazy(r"\(\?<(?=[A-Za-z_])")
_TOOL_COLOURED = lazy(r"\[(?:ERROR|INFO|WARNING|FATAL|WARN|error|info|warn)\]\s?")


def derive_literals(pattern: str) -> tuple[str, ...]:
    """Return the texts of which each matching line holds at least one; empty when none can be derived."""
    try:
        tree = re._parser.parse(_NAMED_GROUP.sub("(?P<", pattern))  # type: ignore[attr-defined]  # noqa: SLF001 - the only parser of patterns there is
    except (re.error, RecursionError, OverflowError):
        return ()
    ignore_case = bool(tree.state.flags & re.IGNORECASE)
    choices = _best(_candidates(tree))
    if choices and ignore_case:
        choices = tuple(dict.fromkeys(v for c in choices for v in _case_variants(c)))
    return choices if len(choices) <= MAX_CHOICES else ()


def needed_texts(pattern: str) -> Need | None:
    """What every match of a pattern holds; None where nothing can be derived. A cheap test before a pattern is compiled."""
    try:
        tree = re._parser.parse(_NAMED_GROUP.sub("(?P<", pattern))  # type: ignore[attr-defined]  # noqa: SLF001 - as above
    except (re.error, RecursionError, OverflowError):
        return None
    return _need(tree, any_case=bool(tree.state.flags & re.IGNORECASE))


def holds(need: Need, text: str, lowered: str) -> bool:
    """Whether a text holds what is needed; `lowered` is the text in small letters."""
    if isinstance(need, str):
        return need in text
    kind, *parts = need
    if kind == ANY_CASE:
        return parts[0] in lowered
    return (all if kind == ALL else any)(holds(part, text, lowered) for part in parts)


def holds_found(need: Need, texts: Collection[str], lowered: Collection[str]) -> bool:
    """The same as `holds` for a text in which these of the leaves stand, as they are and in small letters."""
    if isinstance(need, str):
        return need in texts
    kind, *parts = need
    if kind == ANY_CASE:
        return parts[0] in lowered
    return (all if kind == ALL else any)(holds_found(part, texts, lowered) for part in parts)


def leaves(need: Need) -> Iterator[tuple[str, str]]:
    """The texts that a need is made of, each with the kind of its leaf: ANY_CASE, or empty."""
    if isinstance(need, str):
        yield "", need
        return
    kind, *parts = need
    if kind == ANY_CASE:
        yield ANY_CASE, str(parts[0])
        return
    for part in parts:
        yield from leaves(part)


def _need(items: Iterable[Any], *, any_case: bool) -> Need | None:
    """What a sequence needs: all that its parts need."""
    parts: list[Need] = []
    run: list[str] = []

    def close() -> None:
        text = "".join(run)
        run.clear()
        if len(text) >= MIN_NEEDED and text.isascii():
            parts.append([ANY_CASE, text.lower()] if any_case else text)

    for operator, argument in items:
        if str(operator) == "LITERAL":
            run.append(chr(argument))
            continue
        close()
        inner = _need_inside(str(operator), argument, any_case=any_case)
        if inner is not None:
            parts.append(inner)
    close()
    return [ALL, *parts] if len(parts) > 1 else parts[0] if parts else None


def _need_inside(name: str, argument: Any, *, any_case: bool) -> Need | None:
    if name in ("MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT"):
        return _need(argument[2], any_case=any_case) if argument[0] >= 1 else None
    if name == "SUBPATTERN":
        added, dropped = argument[1], argument[2]
        inner_case = (any_case or bool(added & re.IGNORECASE)) and not dropped & re.IGNORECASE
        return _need(argument[3], any_case=inner_case)
    if name == "ATOMIC_GROUP":
        return _need(argument, any_case=any_case)
    if name == "BRANCH":
        choices = [_need(branch, any_case=any_case) for branch in argument[1]]
        return [ANY, *choices] if all(choice is not None for choice in choices) else None
    return None


def _case_variants(text: str) -> tuple[str, ...]:
    return (text, text.lower(), text.upper(), text[:1].upper() + text[1:].lower(), text.title())


def _candidates(tree: Iterable[Any]) -> list[tuple[str, ...]]:
    """All sets of texts that must stand in a match of this sequence."""
    found: list[tuple[str, ...]] = []
    run: list[str] = []

    def close() -> None:
        text = "".join(run)
        run.clear()
        found.extend((part,) for part in _TOOL_COLOURED.split(text) if len(part) >= MIN_LENGTH)

    def walk(items: Iterable[Any]) -> None:
        for operator, argument in items:
            name = str(operator)
            if name == "LITERAL":
                run.append(chr(argument))
            elif name == "SUBPATTERN" and not argument[1] and not argument[2]:
                walk(argument[3])
            elif name == "ATOMIC_GROUP":
                walk(argument)
            else:
                close()
                found.extend(_inside(name, argument))

    walk(tree)
    close()
    return found


def _inside(name: str, argument: Any) -> list[tuple[str, ...]]:
    if name in ("MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT"):
        return _candidates(argument[2]) if argument[0] >= 1 else []
    if name == "SUBPATTERN":
        added = argument[1]
        inner = _candidates(argument[3])
        if added & re.IGNORECASE:
            return [tuple(dict.fromkeys(v for c in choice for v in _case_variants(c))) for choice in inner]
        return inner
    if name == "BRANCH":
        parts = [_best(_candidates(branch)) for branch in argument[1]]
        if all(parts):
            return [tuple(dict.fromkeys(text for part in parts for text in part))]
    return []


def _best(candidates: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    usable = [c for c in candidates if c and len(c) <= MAX_CHOICES]
    return max(usable, key=_score, default=())


def _score(choice: tuple[str, ...]) -> float:
    shortest = min(choice, key=len)
    frequent = any(text.lower() in FREQUENT for text in choice)
    return min(len(shortest), 24) - 1.5 * (len(choice) - 1) - (20 if frequent else 0)
