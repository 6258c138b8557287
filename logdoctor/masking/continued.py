"""A telling name that ends its line, its value on the next ones: a YAML block, an XML element or an option broken in two.

The value must stand deeper than its name, or be what a quotation or a command's continued line holds.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from logdoctor.masking.named import is_value_of
from logdoctor.masking.patterns import Pattern
from logdoctor.masking.values import is_placeholder
from logdoctor.masking.words import HARMLESS_NAME, NAMED_WORD, may_name

__all__ = ["OpenValue", "is_telling", "opened_block", "opening", "taken"]

MOST_LINES = 60
"""Lines of one block that are masked: a longer one is no secret but a file."""
MOST_FOREIGN = 3
"""Lines of another lane that may stand between."""
LONGEST_LINE = 1000
SHORTEST_PIECE = 8
_FILES = ("/", "./", "../", "~/", "$")

_ENDS = frozenset(":|>-+=\\")
_NAME = r"(?P<name>[A-Za-z_][\w.-]{2,63})"
_BLOCK = Pattern(rf"[\"']?{_NAME}[\"']?[ \t]{{0,4}}:[ \t]{{1,8}}(?:!!?\w{{1,20}}[ ])?[|>][+-]?$")
_BROKEN = Pattern(rf"\\?[\"']?{_NAME}\\?[\"']?[ \t]{{0,4}}[:=]$")
_ELEMENT = Pattern(r"<(?:[\w-]{1,30}:)?(?P<name>[A-Za-z_][\w.-]{2,63})(?:[ ][\w:.-]{1,40}=\"[^\"<>]{0,100}\"){0,4}>$")
_COMMAND = Pattern(rf"(?:^|\s)(?:--?(?:D|P)?{_NAME}[ =]?|(?P<assigned>[A-Za-z_][\w.-]{{2,63}})[ ]?=)[ \t]{{0,4}}\\$")
_ONE_WORD = Pattern(r"\\?[\"']?([^\s\"'<>{}\[\],]{4,4096})\\?[\"']?,?[ \t]*(?:\\|</[\w:.-]{1,100}>)?[ \t\r]*$")
_QUOTED = Pattern(r"\\?([\"'])((?:(?!\1).){4,4096})\1,?[ \t\r]*$")
_CONTENT = Pattern(r"[^<>\s](?:[^<>\n]{0,4096}[^<>\s])?")
_OPTION_VALUE = Pattern(r"[\"']?([^\s\"'-][^\s\"']{3,4096})")
_DIGIT = Pattern(r"\d")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenValue:
    """A name whose value begins on a line to come."""

    name: str
    before: str
    """What stands before the name on its own line: a time stamp, a lane, the indentation."""
    form: str
    """block, broken, element or command"""
    lines: int = 0
    foreign: int = 0


def is_telling(name: str) -> bool:
    """Whether the name as a whole ends with a telling word."""
    return not HARMLESS_NAME.search(name) and any(word.end() == len(name) for word in NAMED_WORD.finditer(name))


def opening(line: str) -> OpenValue | None:
    """The name that ends a line and whose value must stand on the next one."""
    bare = line.rstrip()
    if not bare or bare[-1] not in _ENDS or len(bare) > LONGEST_LINE:
        return None
    if not may_name(bare.lower()):
        return None
    for form, pattern in (("block", _BLOCK), ("element", _ELEMENT), ("command", _COMMAND), ("broken", _BROKEN)):
        if match := pattern.search(bare):
            name = match["name"] or match["assigned"]
            return OpenValue(name=name, before=bare[: match.start()], form=form) if is_telling(name) else None
    return None


def opened_block(name: str, line: str) -> OpenValue:
    """The block that a line opens with `value: |`, for a name that stood before."""
    content = line.lower().rfind("value")
    return OpenValue(name=name, before=line[: max(content, 0)], form="block")


def taken(line: str, waiting: OpenValue) -> tuple[tuple[int, int] | None, OpenValue | None]:
    """Where the value, or a line of it, stands; and what is still open after this line."""
    start = _content(line, waiting)
    if start is None:
        held = waiting.foreign < MOST_FOREIGN
        return None, replace(waiting, foreign=waiting.foreign + 1) if held else None
    if not line[start:].strip():
        return None, waiting if waiting.form == "block" else None
    if waiting.form == "block":
        return _block_line(line, start, waiting)
    if waiting.form == "command":
        match = _OPTION_VALUE.match(line, start)
        return match.span(1) if match and is_value_of(waiting.name, match[1]) else None, None
    if waiting.form == "element":
        match = _CONTENT.match(line, start)
        return match.span() if match and is_value_of(waiting.name, match[0]) else None, None
    return _next_line(line, start, waiting), None


def _block_line(line: str, start: int, waiting: OpenValue) -> tuple[tuple[int, int] | None, OpenValue | None]:
    if _depth(start, waiting) <= 0 or waiting.lines >= MOST_LINES:
        return None, None
    end = len(line.rstrip())
    value = line[start:end]
    more = replace(waiting, lines=waiting.lines + 1, foreign=0)
    # The first of several lines may look like a word or a path by chance: a piece of a value in a block is masked all the same.
    alone = len(value) >= SHORTEST_PIECE and not any(map(str.isspace, value))
    alone = alone and not (is_placeholder(value) or value.startswith(_FILES))
    return ((start, end) if alone or is_value_of(waiting.name, value) else None), more


def _next_line(line: str, start: int, waiting: OpenValue) -> tuple[int, int] | None:
    if _depth(start, waiting) <= 0:
        return None
    match = _QUOTED.match(line, start)
    span = match.span(2) if match else None
    if span is None:
        match = _ONE_WORD.match(line, start)
        span = match.span(1) if match else None
    if span is None or line[span[1] - 1] in ":;({" or not is_value_of(waiting.name, line[slice(*span)]):
        return None
    return span


def _content(line: str, waiting: OpenValue) -> int | None:
    """Where the text of a line begins behind a prefix like that of the name's line; None for a line of another lane."""
    head = waiting.before.rstrip(" \t-")
    shape = _DIGIT.sub("0", head)
    place = 0
    if head and _DIGIT.sub("0", line[: len(head)]) == shape:
        place = len(head)
    elif head and re.search(r"[\d\]|]$", head):
        return None
    return place + len(line[place:]) - len(line[place:].lstrip())


def _depth(start: int, waiting: OpenValue) -> int:
    """How much deeper the content stands than the name."""
    return start - len(waiting.before) if waiting.before.strip() == "" or start > len(waiting.before) else 0
