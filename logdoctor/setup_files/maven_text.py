"""What Maven knows beside its files (environment, -D, -P, versions), and how it fills in `${…}`.

Only what was given is used: the environment of this process is never read.
"""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from pathlib import Path

__all__ = [
    "Filled",
    "Options",
    "Surroundings",
    "feature_release",
    "fill",
    "options_of",
    "split_words",
    "version_numbers",
    "words_of_file",
]

_REFERENCE = re.compile(r"\$\{([^${}]{1,200})\}")
_MAX_TEXT = 16_384
_MAX_DEPTH = 40
_MAX_LOOKUPS = 2_000
_MAX_FILE = 65_536


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A text after interpolation; `unknown` are the references that could not be filled in and still stand in it."""

    text: str
    unknown: tuple[str, ...] = ()


def fill(text: str, lookup: Callable[[str], str | None]) -> Filled:
    """Fill in every `${name}`, also inside of what was filled in; cycles and oversized texts stay as they stand."""
    unknown: list[str] = []
    looked_up = 0

    def expand(part: str, open_names: tuple[str, ...]) -> str:
        def one(match: re.Match[str]) -> str:
            nonlocal looked_up
            looked_up += 1
            name = match[1]
            endless = name in open_names or len(open_names) > _MAX_DEPTH or looked_up > _MAX_LOOKUPS
            value = None if endless else lookup(name)
            inner = None if value is None else expand(value, (*open_names, name))
            if inner is None or len(inner) > _MAX_TEXT:
                unknown.append(name)
                return match[0]
            return inner

        if len(part) > _MAX_TEXT or len(unknown) > _MAX_DEPTH:
            return part
        return _REFERENCE.sub(one, part)

    filled = expand(text, ())
    return Filled(text=filled[:_MAX_TEXT], unknown=tuple(dict.fromkeys(unknown)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """Options of a command line as far as they bear on routes."""

    properties: Mapping[str, str] = field(default_factory=dict)
    profiles: tuple[str, ...] = ()
    settings: str | None = None


def options_of(words: Sequence[str]) -> Options:
    """Read `-D`, `-P` and `-s` out of a command's words, in one word or two, as Maven's own options allow."""
    properties: dict[str, str] = {}
    profiles: list[str] = []
    settings: str | None = None
    rest = iter(words)
    for word in rest:
        name, value = _option(word, rest)
        if name == "define":
            key, _, text = value.partition("=")
            properties[key.strip()] = text or "true"
        elif name == "activate-profiles":
            profiles += [each.strip() for each in value.split(",") if each.strip()]
        elif name == "settings":
            settings = value
    return Options(properties=properties, profiles=tuple(profiles), settings=settings)


_LONG = {"define", "activate-profiles", "settings"}
_SHORT = {"D": "define", "P": "activate-profiles", "s": "settings"}


def _option(word: str, rest: Iterable[str]) -> tuple[str, str]:
    if word.startswith("--"):
        name, equals, value = word[2:].partition("=")
        if name not in _LONG:
            return "", ""
        return name, value if equals else next(iter(rest), "")
    if word[:1] != "-" or word[1:2] not in _SHORT or (word[1] == "s" and len(word) > 2):
        return "", ""
    return _SHORT[word[1]], word[2:] or next(iter(rest), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What is given beside settings and build files; None means that it was not given, so nothing follows from it."""

    environment: Mapping[str, str] | None = None
    properties: Mapping[str, str] = field(default_factory=dict)
    """Given with -D; they win over the build's own."""
    system: Mapping[str, str] = field(default_factory=dict)
    """Given to the JVM; the build's own win over them."""
    active: frozenset[str] = frozenset()
    inactive: frozenset[str] = frozenset()
    maven_version: str | None = None
    java_version: str | None = None

    @property
    def windows(self) -> bool | None:
        """Whether the environment is one of Windows; None without an environment."""
        if self.environment is None:
            return None
        return self.environment.get("OS", self.environment.get("os")) == "Windows_NT"

    def variable(self, name: str) -> str | None:
        """An environment variable; on Windows its name is read in any case, as Maven does it."""
        if self.environment is None:
            return None
        if name in self.environment or not self.windows:
            return self.environment.get(name)
        return next((value for key, value in self.environment.items() if key.upper() == name.upper()), None)

    def lookup(self, name: str) -> str | None:
        """The value of a reference that does not come from a model: -D, environment, home and user name."""
        if name in self.properties:
            return self.properties[name]
        if name.startswith("env."):
            return self.variable(name[4:])
        if name == "user.home":
            return self.variable("USERPROFILE" if self.windows else "HOME")
        if name == "user.name":
            return self.variable("USERNAME" if self.windows else "USER")
        return self.system.get(name, self.java_version if name == "java.version" else None)

    def feature_release(self) -> int | None:
        """The feature release of the JDK."""
        return feature_release(self.java_version)


def feature_release(version: str | None) -> int | None:
    """The feature release of a Java version: 8 for 1.8.0_402, 17 for 17.0.9."""
    numbers = version_numbers(version)
    if not numbers:
        return None
    return numbers[1] if numbers[0] == 1 and len(numbers) > 1 else numbers[0]


def version_numbers(version: str | None) -> tuple[int, ...]:
    """The leading numbers of a version, empty where it has none."""
    found = re.match(r"\d+(?:[._]\d+)*", version or "")
    return tuple(int(part[:9]) for part in re.split(r"[._]", found[0])) if found else ()


def words_of_file(path: Path) -> tuple[str, ...]:
    """The words of an options file such as `.mvn/maven.config`; empty where there is none."""
    try:
        if not path.is_file() or path.stat().st_size > _MAX_FILE:
            return ()
        text = path.read_text(encoding="utf-8", errors="replace")
    except (OSError, ValueError):
        return ()
    return split_words("\n".join(line for line in text.splitlines() if not line.lstrip().startswith("#")))


def split_words(text: str) -> tuple[str, ...]:
    """Words as a shell would cut them; where quotes don't close, at blanks."""
    try:
        return tuple(shlex.split(text))
    except ValueError:
        return tuple(text.split())
