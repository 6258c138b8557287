"""Which lines stand in one log only, and where the two really part.

A line counts as in both when the other log holds it anywhere: so downloads, modules and lanes may come in any order.
First lines are compared as they stand, then those left over without what differs from run to run.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import compress, repeat
from typing import TYPE_CHECKING, Protocol

from logdoctor.memory.comparing.sketch import NOTHING

if TYPE_CHECKING:
    from array import array
    from collections.abc import Iterable

    from logdoctor.memory.comparing.sketch import Sketch

__all__ = ["Apart", "only_here", "part"]

MOST_AT_ONCE = 1_000_000
"""Fingerprints held in one set; a longer log takes several passes over its fingerprints, not more memory."""
MOST_CAREFUL = 200_000
"""Lines read a second time on either side; beyond them a line that differs in its digits alone counts as the same."""
COUNTER_LIKE = 2_000
"""A shape on so many lines of both logs has numbers that count something; its digits tell no difference."""
BUCKETS = 1 << 20
ANCHOR_REACH = 300
_TURNED = bytes([1]) + bytes(255)


class Reread(Protocol):
    """Reads the wanted lines of both logs again and gives their careful fingerprints, in order."""

    def __call__(self, wanted: tuple[bytearray, bytearray], /) -> tuple[array[int], array[int]]:
        """For the old log and for the new one."""
        ...


@dataclass(frozen=True, slots=True)
class Apart:
    """For either log a flag a line: 1 where it stands in this log only. `capped`: more lines differed than were read."""

    old: bytearray
    new: bytearray
    capped: bool


def part(sketches: tuple[Sketch, Sketch], reread: Reread) -> Apart:
    """Flag the lines of either log that the other does not hold; `reread` gives careful fingerprints of some lines."""
    old, new = sketches
    passed = _counters(old.shape, new.shape)
    left = only_here(old.exact, new.exact, passed), only_here(new.exact, old.exact, (passed[1], passed[0]))
    strange = only_here(old.shape, new.shape), only_here(new.shape, old.shape)
    wanted = _wanted(old, left[0], new, left[1]), _wanted(new, left[1], old, left[0])
    capped = False
    for flags, odd in zip(wanted, strange, strict=True):
        capped |= _cap(flags, odd)
    forms = reread(wanted)
    missing = only_here(forms[0], forms[1]), only_here(forms[1], forms[0])
    settled = [_settled(*one) for one in zip(left, wanted, forms, missing, strange, strict=True)]
    return Apart(old=settled[0], new=settled[1], capped=capped)


def only_here(
    own: array[int], other: array[int], passed: tuple[bytearray | None, bytearray | None] = (None, None)
) -> bytearray:
    """A flag for each fingerprint that the other side does not hold; those of lines passed over stay 0."""
    flags = bytearray(len(own))
    passes = len(other) // MOST_AT_ONCE + 1
    for turn in range(passes):
        known = _known(other, passed[1], passes, turn)
        mine = _taken(passed[0]) if passed[0] else repeat(1)
        for index, (value, take) in enumerate(zip(own, mine, strict=False)):
            if take and value not in known and (passes == 1 or value % passes == turn):
                flags[index] = 1
    return flags


def _known(values: array[int], passed: bytearray | None, passes: int, turn: int) -> set[int]:
    """The fingerprints of one turn, without those of lines passed over."""
    taken = compress(values, _taken(passed)) if passed else values
    return set(taken) if passes == 1 else {value for value in taken if value % passes == turn}


def _taken(passed: bytearray) -> bytes:
    return bytes(passed.translate(_TURNED))


def _counters(*sides: array[int]) -> tuple[bytearray | None, bytearray | None]:
    """Flags for the lines whose shape either log holds thousands of times: they are the same but for what they count."""
    if min(map(len, sides)) <= COUNTER_LIKE:
        return None, None
    counts = [_crowd(shapes) for shapes in sides]
    crowded = {i for i, (here, there) in enumerate(zip(*counts, strict=True)) if min(here, there) > COUNTER_LIKE}
    if not crowded:
        return None, None
    one, two = (bytearray(shape % BUCKETS in crowded for shape in shapes) for shapes in sides)
    return one, two


def _crowd(shapes: array[int]) -> list[int]:
    """How many lines have a shape, by a part of its fingerprint; never too few, seldom too many."""
    counts = [0] * BUCKETS
    for shape in shapes:
        counts[shape % BUCKETS] += 1
    return counts


def _wanted(own: Sketch, flags: bytearray, other: Sketch, others: bytearray) -> bytearray:
    """The lines to read again: those left over, and those that a line left over on the other side may stand beside."""
    shapes = {shape for shape, flag in zip(other.shape, others, strict=True) if flag}
    return bytearray(flag or shape in shapes for shape, flag in zip(own.shape, flags, strict=True))


def _cap(wanted: bytearray, strange: bytearray) -> bool:
    """Keep to the bound: lines of a shape that the other log does not know go first."""
    over = wanted.count(1) - MOST_CAREFUL
    if over <= 0:
        return False
    for index in range(len(wanted) - 1, -1, -1):
        if wanted[index] and not strange[index]:
            wanted[index] = 0
            over -= 1
            if over <= 0:
                return True
    _keep_first(wanted, MOST_CAREFUL)
    return True


def _keep_first(flags: bytearray, count: int) -> None:
    at = -1
    for _ in range(count):
        at = flags.find(1, at + 1)
    flags[at + 1 :] = bytes(len(flags) - at - 1)


def _settled(
    left: bytearray, wanted: bytearray, forms: array[int], missing: bytearray, strange: bytearray
) -> bytearray:
    """The flags after the careful look; a line that was not read again differs when its shape does."""
    result = bytearray(flag & odd for flag, odd in zip(left, strange, strict=True))
    at = -1
    for form, gone in zip(forms, missing, strict=True):
        at = wanted.find(1, at + 1)
        result[at] = left[at] and gone and form != NOTHING
    return result


def anchor(flags: bytearray, line: int, own: array[int], other: array[int]) -> int | None:
    """The line of the other log that stands where `line` stands: after the last line before it that both hold once."""
    for index in range(line - 1, max(-1, line - 1 - ANCHOR_REACH), -1):
        if not flags[index] and own.count(own[index]) == 1 and other.count(own[index]) == 1:
            return other.index(own[index])
    return None


def first_of(flags: bytearray, spans: Iterable[tuple[int, int]]) -> int | None:
    """The first flagged index in spans of line numbers (from 1, both ends in)."""
    found = [at for start, end in spans if (at := flags.find(1, start - 1, end)) >= 0]
    return min(found, default=None)
