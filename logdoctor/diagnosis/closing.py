"""Closing lines in anybody's words: what a runner, a wrapper script or a person's own job prints last about how it ended.

No list of servers can hold them all, but they speak alike: a status other than zero behind a word for ending, or a word for a
job, a step or a build with a word for failing behind it. Common practice, no source.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.diagnosis.vocabulary import LEVEL
from logdoctor.intake import LineReader, clean
from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from logdoctor.model import Outcome

__all__ = ["closes", "last_words"]

LONGEST = 160
LINES_FROM_END = 10

_STATUS = r"(?:0x0*[1-9a-f]\w*|-?[1-9]\d{0,9})"
_ENDS = r"[\])}'\".!,;]*(?:\s*[/|]\s*[A-Z]+)?(?:\s+(?:in|after)\s.{1,24}|\s+\(.{1,40}\))?[\s)\]*=#-]*$"
_SUBJECT = (
    r"(?:job|build|pipeline|workflow|run|task|step|stage|command|script|process|pod|container|attempt|nightly|drill|release|deploy(?:ment)?"
    r"|image|verdict|result|status|outcome|conclusion|state)s?"
)
_BAD = (
    r"(?:fail(?:ed|ure|s)?|errored|error|broken|red|rejected|aborted|unsuccessful|not (?:ok|passed|successful|released|published|uploaded"
    r"|deployed|shipped|promoted|built|done)|did not (?:pass|succeed|finish)|unstable|bad|no[- ]go)"
)
_GOOD = r"(?:succe(?:ss|eded|ssful(?:ly)?)|passed|ok|okay|green)"
_EXITS = (
    r"(?:exit(?:ed|s|ing)?|exit[-_ ]?(?:code|status|value)|rc|ret(?:urn)?[-_ ]?code|return(?:ed|s)?"
    r"|(?:end(?:ed|s)?|leaving|left|stopp(?:ed|ing)|finished|terminat(?:ed?|ing)|abort(?:ed|ing)|quit(?:ting)?|died|bad|failed)"
    r"\b.{0,24}?\b(?:code|status|rc))"
)
_BEFORE_STATUS = r"(?:\W{0,3}\b(?:with|code|status|value|non-?zero|was|is|of|return|exit)\b){0,4}\s*[:=(]?\s*"
_FAILED = lazy(
    rf"\b{_EXITS}{_BEFORE_STATUS}{_STATUS}{_ENDS}"
    rf"|\b{_SUBJECT}\b[^{{}};]{{0,80}}?[\s:=/\"'#]{_BAD}{_ENDS}"
    rf"|^\W*{_SUBJECT}\b.{{0,60}}\b{_EXITS}{_BEFORE_STATUS}{_STATUS}\b"
    rf"|:\s*(?:FAILED|FAILURE|NOT [A-Z]{{2,}})\b[^a-z]{{0,12}}$",
    re.IGNORECASE,
)
_SUCCEEDED = lazy(
    rf"\b{_EXITS}{_BEFORE_STATUS}0{_ENDS}|\b{_SUBJECT}\b[^{{}};]{{0,80}}?[\s:=/\"'#]{_GOOD}{_ENDS}", re.IGNORECASE
)
# Not said of this run: a condition, a count, a log level or a command that is shown before it runs.
_SOMETHING_ELSE = lazy(
    r"\b(?:if|when|unless|until|would|should|could|may|might|expect\w*|previous|earlier|last|ignor\w+|allowed|tolerat\w+|retry\w*|"
    r"warn(?:ing)?|test\w*|upload\w*|http|trap|echo|set)\b|\b(?:no|0|zero)\s+(?:\w+\s+){0,2}(?:fail|error)|(?:fail\w*|errors?)\W{1,3}0\b|&&|\|\||^[+$>]+ exit \S+$",
    re.IGNORECASE,
)


def closes(text: str) -> Outcome | None:
    """What a line says of the end of a job, a step or a command: failed, succeeded, or None where it speaks of something else."""
    if len(text) > LONGEST or _SOMETHING_ELSE.search(text):
        return None
    if _FAILED.search(text):
        return "failed"
    return "succeeded" if _SUCCEEDED.search(text) and not LEVEL.search(text) else None


def last_words(reader: LineReader, size: int, since: int) -> tuple[Outcome, int] | None:
    """What the last lines of a log of `size` bytes say of its end, and the byte where the line that decides begins.

    The last line that tells either way decides; only lines that start behind byte `since` count.
    """
    if size <= 0:
        return None
    for start, end in reversed([*reader.before(size - 1, LINES_FROM_END), reader.line_at(size - 1)]):
        if start <= since:
            return None
        told = closes(clean(reader.text(start, end)).text.strip())
        if told is not None:
            return told, start
    return None
