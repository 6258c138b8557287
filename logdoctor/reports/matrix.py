"""Many logs at once: how many of which failure, and what in their names separates the red runs from the green ones.

The parts of a name (`fares-jdk8-linux.log`: fares, jdk8, linux) are the coordinates of a run in a matrix.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.lazy import lazy
from logdoctor.reports.plain import Gate

if TYPE_CHECKING:
    import re
    from collections.abc import Iterator, Sequence

    from logdoctor.model import Verdict

__all__ = ["Run", "matrix_text", "run_of"]

MOST_NAMED = 6
_PARTS = lazy(r"[^A-Za-z0-9.+]+|(?<=[A-Za-z0-9])\.(?=(?:log|txt|gz|xz|zst|zip|tar)\b)")
_ENDINGS = frozenset(["log", "txt", "gz", "xz", "zst", "zip", "tar", ""])


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One log of many: what became of it, and what it is called."""

    name: str
    outcome: str
    failure: str | None = None
    title: str = ""
    fingerprint: str = ""


def run_of(verdict: Verdict) -> Run:
    """What a summary needs of a verdict."""
    root = verdict.root
    return Run(
        name=verdict.source.name,
        outcome=verdict.outcome,
        failure=str(root.failure.id) if root else None,
        title=root.failure.title if root else "",
        fingerprint=verdict.fingerprint,
    )


def matrix_text(runs: Sequence[Run], axis: re.Pattern[str] | None = None) -> str:
    """The summary; `axis` is a pattern whose group (else its match) is a coordinate, in place of the names' parts."""
    gate = Gate()
    outcomes = Counter(run.outcome for run in runs)
    lines = [f"{len(runs)} logs: " + ", ".join(f"{count} {outcome}" for outcome, count in outcomes.most_common())]
    green = [coordinates(run.name, axis) for run in runs if run.outcome == "succeeded"]
    for group in _groups(runs):
        lines += [gate.text(line) for line in _told(group, green, axis)]
    return "\n".join(lines)


def coordinates(name: str, axis: re.Pattern[str] | None) -> frozenset[str]:
    """The parts of a name that may tell runs apart."""
    if axis is not None:
        return frozenset((found[1] if axis.groups else found[0]) or found[0] for found in axis.finditer(name))
    return frozenset(_PARTS.split(name)) - _ENDINGS


def _groups(runs: Sequence[Run]) -> list[list[Run]]:
    """Runs that did not succeed, by fingerprint, the largest group first."""
    found: dict[str, list[Run]] = {}
    for run in runs:
        if run.outcome != "succeeded":
            found.setdefault(run.fingerprint, []).append(run)
    return sorted(found.values(), key=lambda group: -len(group))


def _told(group: Sequence[Run], green: Sequence[frozenset[str]], axis: re.Pattern[str] | None) -> Iterator[str]:
    first = group[0]
    what = f"{first.title} ({first.failure})" if first.failure else "nothing in the catalogue explains it"
    yield f"  {len(group):>4}  {what}"
    names = ", ".join(run.name for run in group[:MOST_NAMED])
    more = f" and {len(group) - MOST_NAMED} more" if len(group) > MOST_NAMED else ""
    yield f"        {names}{more}"
    if apart := separating(group, green, axis):
        yield f"        all {len(group)} have {' and '.join(apart)}, which no green run has"


def separating(group: Sequence[Run], green: Sequence[frozenset[str]], axis: re.Pattern[str] | None) -> list[str]:
    """What all runs of a group have in their names and no green run has; of one run or without a green one, nothing."""
    if len(group) < 2 or not green:
        return []
    shared = frozenset.intersection(*(coordinates(run.name, axis) for run in group))
    return sorted(shared - frozenset().union(*green))
