"""Which profiles are active, as far as it can be decided from what was given.

Follows Maven's guide to build profiles: all conditions of a profile must hold; "active by default" of a build file
gives way to any other active profile of that file, of a settings file it does not.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_text import Surroundings, fill, version_numbers

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from logdoctor.setup_files.maven_parts import Activation, Profile

__all__ = ["Activity", "activities"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """Whether a profile is active, how that was decided, and what keeps it from being certain."""

    profile: Profile
    active: bool
    doubt: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answer:
    holds: bool
    doubt: str | None = None


def activities(
    profiles: Sequence[Profile], named: Collection[str], surroundings: Surroundings, folder: Path | None
) -> tuple[Activity, ...]:
    """Every profile of one file with its activity, the active ones in the order in which Maven applies them.

    `named`: ids that the settings' `activeProfiles` hold; `folder`: where the build file stands.
    """
    wanted = surroundings.active.union(named)
    decided = [_decide(profile, wanted, surroundings, folder) for profile in profiles]
    if any(each.active and each.profile.source == "build" for each in decided):
        return tuple(decided)
    by_default = [each for each in decided if _waits(each, surroundings)]
    late = {id(each) for each in by_default}
    first = [each for each in decided if id(each) not in late]
    return (*first, *(Activity(profile=each.profile, active=True, doubt=each.doubt) for each in by_default))


def _waits(activity: Activity, surroundings: Surroundings) -> bool:
    """A profile of a build file that is active by default as long as no other one is."""
    profile = activity.profile
    eligible = profile.source == "build" and profile.activation.by_default
    return eligible and not activity.active and profile.id not in surroundings.inactive


def _decide(profile: Profile, wanted: Collection[str], surroundings: Surroundings, folder: Path | None) -> Activity:
    if profile.id in surroundings.inactive:
        return Activity(profile=profile, active=False)
    if profile.id in wanted:
        return Activity(profile=profile, active=True)
    if profile.activation.by_default and profile.source == "settings":
        return Activity(profile=profile, active=True)
    if profile.activation.conditional:
        answers = list(_answers(profile.activation, surroundings, folder))
        holds = all(each.holds for each in answers)
        # A condition that surely does not hold decides, whatever the doubtful ones are.
        sure = any(not each.holds and each.doubt is None for each in answers)
        doubt = None if sure else next((each.doubt for each in answers if each.doubt), None)
        return Activity(profile=profile, active=holds, doubt=doubt)
    return Activity(profile=profile, active=False)


def _answers(activation: Activation, surroundings: Surroundings, folder: Path | None) -> Iterator[_Answer]:
    if activation.jdk:
        yield _jdk(activation.jdk, surroundings.java_version)
    if activation.property_name:
        yield _property(activation.property_name, activation.property_value, surroundings)
    if activation.os:
        yield _system(activation.os, surroundings)
    if activation.exists:
        yield _file(activation.exists, surroundings, folder, wanted=True)
    if activation.missing:
        yield _file(activation.missing, surroundings, folder, wanted=False)


def _property(name: str, wanted: str | None, surroundings: Surroundings) -> _Answer:
    bare = name.removeprefix("!")
    value = surroundings.lookup(bare)
    doubt = None
    if value is None and (surroundings.environment is None or not bare.startswith("env.")):
        doubt = f"whether {'the variable ' + bare[4:] if bare.startswith('env.') else '-D' + bare} is given"
    if wanted:
        holds = value == wanted.removeprefix("!")
        return _Answer(holds=holds != wanted.startswith("!"), doubt=doubt)
    return _Answer(holds=bool(value) != name.startswith("!"), doubt=doubt)


def _jdk(wanted: str, version: str | None) -> _Answer:
    if version is None:
        return _Answer(holds=False, doubt=f"the JDK's version (the profile wants {wanted})")
    bare = wanted.removeprefix("!")
    ranged = bare[:1] in {"[", "("} or bare[-1:] in {"]", ")"}
    holds = _in_range(bare, version) if ranged else version.startswith(bare)
    return _Answer(holds=holds != wanted.startswith("!"))


_LIMITS = re.compile(r"([\[(])([^,\[\]()]*)(?:(,)([^,\[\]()]*))?([\])])")


def _in_range(text: str, version: str) -> bool:
    """Whether a version lies in one of the ranges, as `[1.8,11)` or `[17,)`."""
    have = version_numbers(version)
    for opening, low, comma, high, closing in _LIMITS.findall(text):
        floor, ceiling = version_numbers(low.strip()), version_numbers(high.strip() if comma else low.strip())
        above = not floor or _order(have, floor) > 0 or (opening == "[" and _order(have, floor) == 0)
        below = not ceiling or _order(have, ceiling) < 0 or (closing == "]" and _order(have, ceiling) == 0)
        if above and below:
            return True
    return False


def _order(first: tuple[int, ...], second: tuple[int, ...]) -> int:
    """Compare versions of which the shorter one is filled up with zeros."""
    size = max(len(first), len(second))
    left, right = (each + (0,) * (size - len(each)) for each in (first, second))
    return (left > right) - (left < right)


def _system(wanted: object, surroundings: Surroundings) -> _Answer:
    conditions = dict(wanted) if isinstance(wanted, dict) else {}
    family = conditions.pop("family", None)
    windows = surroundings.windows
    if family is None or windows is None or family.removeprefix("!") not in {"windows", "unix"}:
        return _Answer(holds=False, doubt="the agent's operating system")
    holds = ((family.removeprefix("!") == "windows") == windows) != family.startswith("!")
    if holds and conditions:
        return _Answer(holds=False, doubt="the agent's operating system")
    return _Answer(holds=holds)


def _file(name: str, surroundings: Surroundings, folder: Path | None, *, wanted: bool) -> _Answer:
    base = {} if folder is None else dict.fromkeys(("basedir", "project.basedir"), str(folder))
    filled = fill(name, lambda key: base.get(key) or surroundings.lookup(key))
    if filled.unknown:
        return _Answer(holds=False, doubt=f"the value of ${{{filled.unknown[0]}}}")
    path = Path(filled.text)
    if folder is None and not path.is_absolute():
        return _Answer(holds=False, doubt=f"whether the file {filled.text} is there")
    try:
        there = (path if folder is None else folder / path).exists()
    except (OSError, ValueError):
        there = False
    return _Answer(holds=there == wanted)
