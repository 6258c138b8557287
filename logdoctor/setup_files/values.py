"""The frozen values of this room: a place in a file, a remark, a fact, a route, and all of them together.

Texts hold what the files hold, except for secrets: no password, key or user info of an address is ever put in here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "BUILT_IN",
    "Direction",
    "Place",
    "Remark",
    "Route",
    "RouteKind",
    "Setup",
    "SetupFact",
    "Severity",
    "joined",
]

Severity = Literal["error", "warning", "note"]
Direction = Literal["download", "upload"]
RouteKind = Literal["dependency", "plugin", "release", "snapshot", "site"]

BUILT_IN = "(built into the build tool)"
"""Stands as the address of the public repository that a build tool knows without being told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A line of a set-up file."""

    file: str
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something in the set-up that can't work (error), most likely does not (warning), or is good to know (note)."""

    severity: Severity
    what: str
    mend: str
    place: Place | None
    code: str
    """A stable id in kebab case."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupFact:
    """A named observation from a set-up file."""

    name: str
    value: str | bool | int
    place: Place | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """One configured download or upload: where it really goes, through which mirror, with whose credentials."""

    direction: Direction
    kind: RouteKind
    repository_id: str
    url: str
    declared: Place | None
    mirror_id: str | None = None
    mirror_url: str | None = None
    server_id: str | None = None
    """The settings' server entry whose credentials go along."""
    user: str | None = None
    releases: bool = True
    snapshots: bool = True
    incomplete: str | None = None
    """What could not be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """All that the set-up files of one kind tell."""

    facts: tuple[SetupFact, ...] = ()
    routes: tuple[Route, ...] = ()
    remarks: tuple[Remark, ...] = ()
    incomplete: tuple[str, ...] = ()


def joined(setups: Iterable[Setup]) -> Setup:
    """Several set-ups as one, in the order given."""
    parts = tuple(setups)
    return Setup(
        facts=tuple(fact for part in parts for fact in part.facts),
        routes=tuple(route for part in parts for route in part.routes),
        remarks=tuple(remark for part in parts for remark in part.remarks),
        incomplete=tuple(dict.fromkeys(text for part in parts for text in part.incomplete)),
    )
