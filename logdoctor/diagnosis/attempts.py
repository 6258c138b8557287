"""What the lines around a failure tell about the attempt: whether the tool tried again, who it said it was, by which mirror.

The wordings are the tools' own forms over their versions; a thing that no line tells stays unknown.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.intake import LineReader, clean
from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from logdoctor.diagnosis.sightings import Sighting
    from logdoctor.model import FactValue

__all__ = ["attempt_facts", "lines_of_attempt"]

LINES_BEFORE = 60
LINES_AFTER = 30
LINES_NEAR = 8
# "not retrying" and advice such as "please retry" are no second try.
_TRIES_AGAIN = lazy(
    r"(?<!not )(?<!without )\b[Rr]etrying\b|\b[Ww]ill (?:retry|try again)\b|\battempt \d+ failed with\b|\bbefore trying again\b|\b(?:tries remaining|retries left)\b"
)
_TRY_NUMBER = lazy(r"\(try: ?[2-9]|\b[Aa]ttempt #?(?:[2-9]|\d\d)\b")
_TRIED = lazy(
    r"\bafter (?P<count>\d+) (?:retr(?:y|ies)|attempts?|tries)\b"
    r"|\bMax retries exceeded\b|\b[Mm]ax(?:imum)? .{0,30}\b(?:retries|attempts) (?:reached|exceeded)",
)
_ANONYMOUS = lazy(
    r"\banonymous(?:ly)? (?:user|access|request|pull|download|read|client|login)|\bas (?:an? )?['\"]?anonymous\b"
    r"|\buser(?:name)? ['\"]?anonymous\b|\bunauthenticated (?:user|pull|request|access|client)"
    r"|\bno (?:credentials?|user(?:name)?|authentication) (?:was |were |is |are )?(?:specified|given|provided|found|configured|sent|supplied)"
    r"|\bwithout (?:any )?(?:credentials|authentication|logging in)\b|\bno basic auth credentials\b",
    re.IGNORECASE,
)
_MIRROR_ID = lazy(r"(?i)(?:^|[^a-z])mirrors?(?:$|[^a-z])")


def lines_of_attempt(root: Sighting, reader: LineReader) -> tuple[list[str], list[str]]:
    """The lines of the same step before the failing line, nearest last, and those after it."""
    offset, step = root.hit.offset, root.step
    earlier = max(0, min(LINES_BEFORE, root.line - max(1, step.start)))
    later = max(0, min(LINES_AFTER, step.end - root.line))
    before = [clean(reader.text(*place)).text for place in reader.before(offset, earlier)]
    return before, [clean(reader.text(*place)).text for place in reader.after(offset, later)]


def attempt_facts(
    root: Sighting, reader: LineReader, known: Mapping[str, FactValue]
) -> Iterator[tuple[str, FactValue]]:
    """Retries, missing credentials and a named mirror."""
    before, after = lines_of_attempt(root, reader)
    yield from _retries(before, root.hit.text, after)
    if any(map(_ANONYMOUS.search, [*before[-LINES_NEAR:], root.hit.text, *after[:LINES_NEAR]])):
        yield "anonymous", True
    server = str(known.get("repository_id", ""))
    if server and (_MIRROR_ID.search(server) or server == known.get("mirror_used")):
        yield "mirror_named", True


def _retries(before: Sequence[str], text: str, after: Sequence[str]) -> Iterator[tuple[str, FactValue]]:
    lines = [*before, text, *after]
    again = sum(1 for line in lines if _TRIES_AGAIN.search(line))
    told = next((m for m in map(_TRIED.search, [text, *after, *reversed(before[-LINES_NEAR:])]) if m), None)
    if again or told or any(map(_TRY_NUMBER.search, lines)):
        yield "retried", True
    count = int(told["count"]) if told and told["count"] else again
    if count:
        yield "retries", count
