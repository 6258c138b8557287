"""Time stamps at the start of a text: finding them and turning them into seconds.

Dates follow RFC 3339, section 5.6, and the looser forms that tools print; a date without a zone is taken as
UTC, as only differences are used. Forms without a year count as a clock.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from logdoctor.lazy import lazy

__all__ = ["Stamp", "find_stamp"]


@dataclass(frozen=True, slots=True)
class Stamp:
    """When a line was printed, as far as its prefix tells."""

    seconds: float
    kind: str
    """`date` (seconds since 1970), `clock` (seconds of the day) or `elapsed` (seconds since some start)."""


_MONTHS = {
    name: number
    for number, name in enumerate(
        ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"), start=1
    )
}
_MONTH = "(?P<month>" + "|".join(_MONTHS) + ")"
_WEEKDAY = "(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)"
_CLOCK = r"(?P<hour>\d{1,2}):(?P<minute>\d\d):(?P<second>\d\d)(?:[.,](?P<fraction>\d{1,9}))?"
_ZONE = r"(?:[ ]?(?P<zone>[Zz]|UTC|GMT|[+-]\d\d:?\d\d)(?![\w+-]))?"
_OPEN = r"(?P<open>[\[(])?"
# What follows: the closing bracket, a one-letter severity with a colon, or the end of the word.
_AFTER = r"(?(open)[\])](?:(?:[A-Za-z]|[ ])?:[ \t]{0,8}(?:\[Step[ ]\d+/\d+\])?)?[ \t]?|:?(?:[ \t]|$))"
# A bare clock is often set apart by two blanks.
_SECOND_BLANK = r"(?(open)|(?:[ ](?=\S))?)"

_ISO = lazy(_OPEN + r"(?P<day>\d{4}[-/]\d\d[-/]\d\d)[Tt _]" + _CLOCK + _ZONE + _AFTER)
_CLOCK_ONLY = lazy(_OPEN + _CLOCK + r"(?:[ ](?P<half>[AaPp][Mm])(?!\w))?" + _AFTER + _SECOND_BLANK)
_DAY_FIRST = lazy(
    _OPEN
    + rf"(?:{_WEEKDAY},[ ])?(?P<mday>\d\d?)(?P<sep>[-/. ])"
    + rf"(?:{_MONTH}|(?P<mnum>\d\d?))(?P=sep)(?P<year>\d{{4}})"
    + (r"[ T:]" + _CLOCK + r"(?:[ ](?P<half>[AaPp][Mm])(?!\w))?" + _ZONE + _AFTER)
)
_MONTH_FIRST = lazy(
    _OPEN
    + rf"(?:{_WEEKDAY}[ ])?{_MONTH}[ ]{{1,2}}(?P<mday>\d\d?)[ ]"
    + _CLOCK
    + r"(?:[ ](?P<zone>[A-Z]{3,5}(?=[ ]\d{4})|[+-]\d{4}))?(?:[ ](?P<year>\d{4})(?!\S))?"
    + _AFTER
    + r"(?:\S+[ ](?:[\w./@-]+\[\d+\]|kernel):(?:[ ]|$))?"
)
_SECONDS = lazy(r"\[ *(?:(?P<elapsed>\d{1,7}(?:\.\d{1,9})?)[ ]?s|(?P<kernel>\d{1,7}\.\d{6}))\][ ]?")
_EPOCH = lazy(r"\[(?P<whole>\d{10})(?:\.?(?P<part>\d{1,9}))?\][ ]?")


def find_stamp(text: str, start: int) -> tuple[Stamp, int] | None:
    """The stamp at `start` and where the text goes on after it, or None."""
    first = text[start : start + 1]
    table = _BARE_FORMS
    if first in _BRACKETS:
        first, table = text[start + 1 : start + 2], _BRACKETED_FORMS
    for pattern, read in table.get(first, _NO_FORMS):
        found = pattern.match(text, start)
        if found is not None:
            stamp = read(found)
            if stamp is not None:
                return stamp, found.end()
    return None


@lru_cache(maxsize=64)
def _days(text: str) -> int | None:
    """Days from 1970 to a date written year first, or None where there is no such day."""
    try:
        return date(int(text[:4]), int(text[5:7]), int(text[8:10])).toordinal() - 719163
    except ValueError:
        return None


def _seconds_of_day(found: re.Match[str]) -> float | None:
    hour, minute, second = int(found["hour"]), int(found["minute"]), int(found["second"])
    half = found["half"] if "half" in found.re.groupindex else None
    if half:
        hour = hour % 12 + (12 if half[0] in "Pp" else 0)
    if hour > 23 or minute > 59 or second > 60:  # 60: a leap second, RFC 3339 section 5.7
        return None
    return hour * 3600 + minute * 60 + second + _fraction(found["fraction"])


def _fraction(digits: str | None) -> float:
    return int(digits) / 10 ** len(digits) if digits else 0.0


def _offset(zone: str | None) -> int:
    """Seconds that a zone is ahead of UTC; a zone's letters other than UTC are unknown and count as UTC."""
    if zone is None or zone[0] not in "+-":
        return 0
    seconds = int(zone[1:3]) * 3600 + int(zone[-2:]) * 60
    return -seconds if zone[0] == "-" else seconds


def _dated(days: int | None, found: re.Match[str]) -> Stamp | None:
    seconds = _seconds_of_day(found)
    if days is None or seconds is None:
        return None
    return Stamp(days * 86400 + seconds - _offset(found["zone"]), "date")


def _read_iso(found: re.Match[str]) -> Stamp | None:
    return _dated(_days(found["day"]), found)


def _read_day_first(found: re.Match[str]) -> Stamp | None:
    if found["mnum"] and found["sep"] == "/":  # day or month first? only the time is certain
        seconds = _seconds_of_day(found)
        return None if seconds is None else Stamp(seconds, "clock")
    month = _MONTHS[found["month"]] if found["month"] else int(found["mnum"])
    return _dated(_days(f"{found['year']}-{month:02}-{int(found['mday']):02}"), found)


def _read_month_first(found: re.Match[str]) -> Stamp | None:
    if found["year"] is None:
        seconds = _seconds_of_day(found)
        return None if seconds is None else Stamp(seconds, "clock")
    return _dated(_days(f"{found['year']}-{_MONTHS[found['month']]:02}-{int(found['mday']):02}"), found)


def _read_clock(found: re.Match[str]) -> Stamp | None:
    seconds = _seconds_of_day(found)
    if seconds is None:
        return None
    # A time since the start looks like a clock; it has a fraction and, as builds take minutes, no hours.
    elapsed = found["hour"] == "00" and found["fraction"] is not None
    return Stamp(seconds, "elapsed" if elapsed else "clock")


def _read_seconds(found: re.Match[str]) -> Stamp:
    return Stamp(float(found["elapsed"] or found["kernel"]), "elapsed")


def _read_epoch(found: re.Match[str]) -> Stamp:
    return Stamp(int(found["whole"]) + _fraction(found["part"]), "date")


_Form = tuple[re.Pattern[str], Callable[[re.Match[str]], Stamp | None]]

_NO_FORMS: tuple[_Form, ...] = ()
_BRACKETS = ("[", "(")
_DIGIT_FORMS: tuple[_Form, ...] = (
    (_ISO, _read_iso),
    (_CLOCK_ONLY, _read_clock),
    (_DAY_FIRST, _read_day_first),
)
_LETTER_FORMS: tuple[_Form, ...] = ((_MONTH_FIRST, _read_month_first), (_DAY_FIRST, _read_day_first))
_SECOND_FORMS: tuple[_Form, ...] = ((_SECONDS, _read_seconds),)

# By first character, so that an ordinary line costs one look-up.
_BARE_FORMS = dict.fromkeys("0123456789", _DIGIT_FORMS) | dict.fromkeys("JFMASONDTW", _LETTER_FORMS)
_BRACKETED_FORMS = (
    dict.fromkeys("0123456789", (*_DIGIT_FORMS, (_EPOCH, _read_epoch), *_SECOND_FORMS))
    | dict.fromkeys("JFMASONDTW", _LETTER_FORMS)
    | {" ": _SECOND_FORMS}
)
