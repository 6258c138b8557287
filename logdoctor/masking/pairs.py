"""A telling name on one line and its value on one of the next: `- name: DB_PASSWORD`, then `value: x`.

So print YAML and JSON lists of variables, and XML properties. The name is remembered for a few lines.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.masking.continued import OpenValue, is_telling, opened_block, opening, taken
from logdoctor.masking.model import Secret
from logdoctor.masking.named import is_value_of
from logdoctor.masking.patterns import Pattern
from logdoctor.masking.words import kind_of

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["OpenName", "Waiting", "find_in_pairs", "find_pairs"]

MOST_BETWEEN = 2
"""Lines that may stand between a name and its value: a type, a comment, a line of another lane."""
LONGEST_NAME_LINE = 1000

_NAME = Pattern(
    r"(?:^|[\s{\[\]|>(-])\\?[\"']?(?:parameter_?|env_?|variable_?)?(?:name|key)\\?[\"']?[ \t]{0,4}[:=][ \t]{0,4}\\?[\"']?"
    r"(?P<name>[\w.-]{3,128})\\?[\"']?,?[ \t\r]{0,4}$",
    re.IGNORECASE,
)
_NAME_ELEMENT = Pattern(r"<(name|key)>[ \t]{0,4}(?P<name>[\w.-]{3,128})[ \t]{0,4}</\1>[ \t\r]{0,4}$", re.IGNORECASE)
_VALUE = Pattern(
    r"(?:^|[\s{\]|>(-])\\?[\"']?(?:parameter_?)?value\\?[\"']?[ \t]{0,4}(?::(?=[ \t])|=)[ \t]{0,8}(?P<open>\\?[\"']?)",
    re.IGNORECASE,
)
_VALUE_ELEMENT = Pattern(r"<value>(?:<!\[CDATA\[)?(?P<value>[^<>\n]++)", re.IGNORECASE)
_BLOCK_MARK = Pattern(r"[|>][+-]?\d?")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenName:
    """A telling name whose value has not been seen yet."""

    name: str
    lines_left: int


Waiting = OpenName | OpenValue | None
"""What a line before has left open."""


def find_in_pairs(text: str) -> Iterator[Secret]:
    """The pairs that stand whole in a text of several lines."""
    if "\n" in text:
        yield from find_pairs(text, None)[0]


def find_pairs(text: str, waiting: Waiting) -> tuple[list[Secret], Waiting]:
    """The values that belong to a name on an earlier line, and the name that is still open at the end."""
    found: list[Secret] = []
    start = 0
    for line in text.split("\n"):
        name = waiting.name if waiting else ""
        span, waiting = _step(line, waiting)
        if span is not None:
            found.append(Secret(start + span[0], start + span[1], f"{kind_of(name)} on the line after its name"))
        start += len(line) + 1
    return found, waiting


def _step(line: str, waiting: Waiting) -> tuple[tuple[int, int] | None, Waiting]:
    """What one line of text gives: the place of a value, and what is open after it."""
    if isinstance(waiting, OpenValue):
        span, later = taken(line, waiting)
        return (span, later) if span or later else (None, _opened(line))
    if waiting is not None and (value := _value_in(line)) is not None:
        if _BLOCK_MARK.fullmatch(line[slice(*value)].strip()):
            return None, opened_block(waiting.name, line)
        return (value if is_value_of(waiting.name, line[slice(*value)]) else None), None
    opened = _opened(line)
    if opened or waiting is None:
        return None, opened
    return None, _later(waiting) if _name_at_end(line) is None else None


def _opened(line: str) -> Waiting:
    name = _name_at_end(line)
    if name is not None:
        return OpenName(name=name, lines_left=MOST_BETWEEN) if is_telling(name) else None
    return opening(line)


def _name_at_end(line: str) -> str | None:
    """The name that ends a line, where a value may follow on the next one."""
    lowered = line.lower()
    if len(line) > LONGEST_NAME_LINE or ("name" not in lowered and "key" not in lowered):
        return None
    match = _NAME.search(line) or _NAME_ELEMENT.search(line)
    return match["name"] if match else None


def _later(waiting: OpenName | None) -> OpenName | None:
    if waiting is None or waiting.lines_left == 0:
        return None
    return OpenName(name=waiting.name, lines_left=waiting.lines_left - 1)


def _value_in(line: str) -> tuple[int, int] | None:
    """Where the value stands on a line that gives one, an empty place for a value that is no plain text."""
    if element := _VALUE_ELEMENT.search(line):
        return element.span("value")
    match = _VALUE.search(line)
    if match is None:
        return None
    start = match.end()
    if match["open"]:
        end = line.find(match["open"], start)
        return start, len(line) if end < 0 else end
    comment = line.find(" #", start)
    end = len(line[: comment if comment >= 0 else len(line)].rstrip().rstrip(","))
    return start, max(start, end)
