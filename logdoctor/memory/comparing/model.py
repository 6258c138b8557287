"""What a comparison of two runs says; frozen values, raw text inside, masked by the reports."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from logdoctor.model import Item, Phase, State, Verdict

__all__ = [
    "Comparison",
    "Difference",
    "FailureChange",
    "ItemsChange",
    "PhaseChange",
    "Place",
    "SetupChange",
    "Standing",
]

Standing = Literal["none", "same", "fixed", "gone", "not reached", "still there"]
"""What became of the old failure: there was none; it stops the new run too; the new run got past its place; it is
not to be seen, and no more is known; the new run did not get there; it is there, but no longer what stops the run."""

FailureChange = Literal["none", "same", "gone", "new", "other"]
"""neither failed; the same failure; only the old run failed; only the new one; both, each by a failure of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A line of one of the two logs."""

    line: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Where the two logs part: a line on either side, or on one side only."""

    old: Place | None
    new: Place | None
    phase: Phase


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseChange:
    """One phase in both runs: its states, and how many lines stand in one log only."""

    phase: Phase
    old_state: State | None
    new_state: State | None
    only_old: int
    only_new: int
    first: Difference | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupChange:
    """Something the logs tell about the set-up that differs; an empty side does not tell it."""

    kind: str
    name: str
    old: tuple[str, ...]
    new: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemsChange:
    """Failing tests, compiler errors or missing artifacts of the two roots.

    `not_reached` are those of the old run that the new one did not come to. `complete` is False where a log has more
    items than a verdict lists; then what can't be told is left out of `new` and `gone`.
    """

    new: tuple[Item, ...] = ()
    still: tuple[Item, ...] = ()
    gone: tuple[Item, ...] = ()
    not_reached: tuple[Item, ...] = ()
    old_total: int = 0
    new_total: int = 0
    complete: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """All that is known of two runs side by side."""

    old: Verdict
    new: Verdict
    old_reached: Phase | None
    new_reached: Phase | None
    further: Literal["further", "same", "less far", "unknown"]
    failure: FailureChange
    old_failure: Standing
    differs_in: tuple[SetupChange, ...]
    """For the same failure: what its facts say otherwise (another artifact, another address)."""
    progress: str
    items: ItemsChange
    first: Difference | None
    phases: tuple[PhaseChange, ...]
    setup: tuple[SetupChange, ...]
    notices: tuple[str, ...] = ()
