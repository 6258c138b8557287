"""One line as the tool printed it: without time stamps, stream markers, group markers and lane names.

What carries meaning stays: level words in brackets, `##[error]` and `::error`, and one leading run of blanks.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.intake.escapes import pieces, strip_escapes
from logdoctor.intake.stamps import Stamp, find_stamp
from logdoctor.lazy import lazy

if TYPE_CHECKING:
    import re

__all__ = ["Cleaned", "clean"]


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A line's own text, and what its prefixes said."""

    text: str
    stamp: Stamp | None
    """The outermost stamp, as that clock is the same for every line."""
    lane: str | None
    """The stream's name; nested names are joined by ` / `."""


_MOST_PREFIXES = 6
_BLANK = (" ", "\t")

# The second form sets the machine's name between bars behind the stamp.
_STREAM_MARKER = lazy(r"\d\d[OE](?:[ +]|$)|\|[ ](?:[a-z][\w.-]{0,39}[ ]\|(?:[ ]|$))?")
_RUNTIME_STREAM = lazy(r"std(?:out|err) [FP](?: |$)")
_CONTAINER_JSON = lazy(
    r'\{"log": ?(?P<log>"[^"\\]*(?:\\.[^"\\]*)*")'
    r'(?:, ?"stream": ?"\w+")?(?:, ?"attrs": ?\{[^{}]*\})?(?:, ?"time": ?"(?P<time>[^"\\]*)")?\}'
)

_HASH_MARKER = lazy(r"##\[(?:end)?(?:group|section|command|debug)\]")
_COLON_MARKER = lazy(r"::(?:group|endgroup|debug)::")
# An agent's name before its own time stamp, the kind of line in a column before a date, a time in an escape code whose ESC was dropped.
_AGENT_MARKER = lazy(r"\[Container\] (?=\d{4}/\d\d/\d\d )")
_KIND_MARKER = lazy(r"(?:simple|build|command|error|warning)\t(?=\d\d?-[A-Z][a-z]{2}-\d{4} )")
_DROPPED_ESCAPE = lazy(r"_bk;t=\d{10,14}\x07?")
# A fold marker whose carriage return got lost on the way: the escape code behind it tells where it ends.
_FOLD_JOINED = lazy(r"(section_(?:start|end):\d+:[\w.-]+(?:\[[^\]]*\])?)\x1b\[0K")
_FOLD_MARKER = lazy(r"section_(?:start|end):\d+:[^\s\[]+(?:\[[^\]]*\])?\s*$")

# A PHP or native stack frame also begins with `#3 `.
_FRAME = r"\s|/|\{main|\[internal function|phar:|0x|[A-Za-z]:\\"
_IMAGE_STEP = lazy(rf"(?P<lane>#\d{{1,4}})(?: (?!{_FRAME})(?:\d+\.\d{{1,3}}(?: |$))?|$)")
_NUMBERED = lazy(r"\[(?P<lane>\d{1,2})\](?: |$)")
# A bracket that fills the whole line is a message unless it is one word.
_BRACKETED = lazy(r"\[(?=[^\]]*\] |[^\] ]*\]$)(?P<lane>[A-Za-z][\w .:/@()=,+-]{0,59})\](?: |$)")
_SERVICE = lazy(r"(?P<lane>[A-Za-z][\w.-]*[-_]\d{1,3}) +\|(?: |$)")
_STEP_OF_A_CLOUD = lazy(r"(?P<lane>Step #\d{1,3}(?: - \"[^\"]{1,60}\")?):(?: |$)")
_TASK = lazy(
    r"(?P<lane>(?P<package>(?:@[a-z0-9][\w.-]*/)?[a-z][a-z0-9_-]+)"
    r":(?P<task>[a-z][a-z0-9_-]+(?::[a-z][a-z0-9_-]+)?)):(?: |$)"
)

_LEVELS = frozenset(
    (
        *("info", "warning", "warn", "error", "fatal", "debug", "trace", "success", "notice", "note", "hint"),
        *("fail", "failed", "failure", "pass", "passed", "ok", "err", "severe", "bug", "critical", "fine"),
        *("verbose", "skip", "skipped", "e", "w", "i", "d", "f", "x", "v"),
    )
)
_TOOL_WORDS = frozenset(("pipeline", "main", "internal", "auth", "deprecated", "command", "semantic-release"))
# Not a lane's name: a step's count, a clock, a system error, a thread of a pool, a namespaced Ant task,
# a commit that git made.
_NO_LANE = lazy(
    r"\d/\d+$|\d:\d\d:\d\d|^Errno |^WinError |^xUnit\.net| internal$|\b(?i:thread|exec|worker)-\d"
    r"|^[a-z][a-z-]*:[a-z][a-z-]*$|\s[0-9a-f]{7,40}$"
)
_LOWER = lazy(r"[a-z]")
_CAPITAL_LANE = lazy(r"[A-Z][A-Z_-]+\d{1,3}$")


def clean(text: str) -> Cleaned:
    """The text of one line, or of a piece of one, without escape codes and prefixes; never raises."""
    stamp: Stamp | None = None
    if text.startswith('{"log":'):
        text, stamp = _unpack(text)
    if "section_" in text:
        text = _FOLD_JOINED.sub(r"\1\r", text)
    text = strip_escapes(text).rstrip()
    if "\r" in text:
        *earlier, text = pieces(text) or [""]
        if earlier:
            stamp, lane, _ = _take_prefixes(earlier[0], stamp)
            return _finish(text, stamp, lane)
    return _finish(text, stamp, None)


def _finish(text: str, stamp: Stamp | None, lane: str | None) -> Cleaned:
    first = text[:1]
    if not first or first in _BLANK:
        return Cleaned(text, stamp, lane)
    stamp, inner, start = _take_prefixes(text, stamp)
    if inner is not None:
        lane = inner if lane is None or lane == inner else f"{lane} / {inner}"
    return Cleaned(text[start:] if start else text, stamp, lane)


def _take_prefixes(text: str, stamp: Stamp | None) -> tuple[Stamp | None, str | None, int]:
    """The outermost stamp, the lane, and where the text itself begins."""
    start = 0
    lane: str | None = None
    for _ in range(_MOST_PREFIXES):
        found = find_stamp(text, start)
        if found is not None:
            stamp = stamp or found[0]
            start = _after_marker(text, found[1])
            continue
        marker = _marker_end(text, start)
        if marker is not None:
            start = marker
            continue
        named = _lane_at(text, start)
        if named is None:
            break
        lane = named[0] if lane is None else f"{lane} / {named[0]}"
        start = named[1]
    return stamp, lane, start


def _after_marker(text: str, start: int) -> int:
    """Where the text begins after a stamp: a stream marker counts only there."""
    marker = _STREAM_MARKER.match(text, start)
    return marker.end() if marker else start


def _marker_end(text: str, start: int) -> int | None:
    pattern = _MARKERS.get(text[start : start + 2])
    found = pattern.match(text, start) if pattern else None
    return found.end() if found else None


_MARKERS = {
    "##": _HASH_MARKER,
    "::": _COLON_MARKER,
    "se": _FOLD_MARKER,
    "st": _RUNTIME_STREAM,
    "[C": _AGENT_MARKER,
    "_b": _DROPPED_ESCAPE,
    **dict.fromkeys(("si", "bu", "co", "er", "wa"), _KIND_MARKER),
}


def _lane_at(text: str, start: int) -> tuple[str, int] | None:
    """The lane's name printed at `start` and where it ends."""
    first = text[start : start + 1]
    if first == "[":
        found = _NUMBERED.match(text, start) or _BRACKETED.match(text, start)
        return None if found is None or not _names_lane(found["lane"]) else (found["lane"], found.end())
    if first == "#":
        found = _IMAGE_STEP.match(text, start)
    elif first.isalpha() or first == "@":
        found = _SERVICE.match(text, start) or _STEP_OF_A_CLOUD.match(text, start) or _task_at(text, start)
    else:
        return None
    return (found["lane"], found.end()) if found else None


def _names_lane(word: str) -> bool:
    if word.isdigit():
        return True
    lowered = word.strip().lower()
    if lowered in _LEVELS or lowered in _TOOL_WORDS or _NO_LANE.search(word):
        return False
    return _LOWER.search(word) is not None or _CAPITAL_LANE.match(word) is not None


def _task_at(text: str, start: int) -> re.Match[str] | None:
    found = _TASK.match(text, start)
    if found is None or found["package"] in _LEVELS or found["task"].split(":")[-1] in _LEVELS:
        return None
    return found


def _unpack(text: str) -> tuple[str, Stamp | None]:
    """The text inside a container engine's JSON line, and its time."""
    found = _CONTAINER_JSON.match(text)
    if found is None:
        return text, None
    try:
        inner = json.loads(found["log"], strict=False)
    except ValueError:
        return text, None
    timed = find_stamp(found["time"] or "", 0)
    inner = inner.rstrip("\r\n").encode("utf-8", "replace").decode("utf-8")
    return inner.replace("\n", " "), timed[0] if timed else None
