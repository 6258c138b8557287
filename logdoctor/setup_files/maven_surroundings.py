"""What is known beside settings and build files: the build's `.mvn` folder, the agent's environment, the JDK it names."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_text import Options, Surroundings, options_of, split_words, words_of_file

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

__all__ = ["surroundings_of"]

_DISTRIBUTION = re.compile(r"^\s*distributionUrl\s*[=:]\s*\S*?apache-maven-(\d[\w.-]*?)-bin\.", re.MULTILINE)
_RELEASE = re.compile(r'^JAVA_VERSION="?([\d._]+)', re.MULTILINE)
_MAX_FILE = 65_536


def surroundings_of(  # noqa: PLR0913, PLR0917 (what `read_maven` was given)
    settings: Path | None,
    builds: Sequence[Path],
    environment: Mapping[str, str] | None,
    maven_version: str | None,
    active_profiles: Sequence[str],
    java_version: str | None,
) -> tuple[Surroundings, Path | None]:
    """The surroundings, and the settings file: the given one, else the one that the build's own options name."""
    folder = _dot_mvn(builds)
    configured = options_of(words_of_file(folder / "maven.config")) if folder else Options()
    variables = environment or {}
    arguments = options_of(split_words(variables.get("MAVEN_ARGS", "")))
    virtual_machine = options_of(
        [
            *(words_of_file(folder / "jvm.config") if folder else ()),
            *split_words(variables.get("MAVEN_OPTS", "")),
        ]
    )
    profiles = [*configured.profiles, *arguments.profiles, *active_profiles]
    around = Surroundings(
        environment=environment,
        properties={**configured.properties, **arguments.properties},
        system=virtual_machine.properties,
        active=frozenset(_names(profiles, off=False)),
        inactive=frozenset(_names(profiles, off=True)),
        maven_version=maven_version or (_wrapped_version(folder) if folder else None),
        java_version=java_version or _java_version(variables.get("JAVA_HOME")),
    )
    named = arguments.settings or configured.settings
    if settings is None and named and folder:
        candidate = folder.parent / named
        settings = candidate if candidate.is_file() else None
    return around, settings


def _names(profiles: Iterable[str], *, off: bool) -> Iterable[str]:
    """Ids switched on or off with -P: `!id` and `-id` switch off, `?id` marks one that may be missing."""
    for each in profiles:
        bare = each.lstrip("+?")
        if bare.startswith(("!", "-")) == off and bare.lstrip("!-?"):
            yield bare.lstrip("!-?")


def _dot_mvn(builds: Sequence[Path]) -> Path | None:
    """The `.mvn` folder that Maven finds from the first build file upwards."""
    if not builds:
        return None
    start = builds[0] if builds[0].is_dir() else builds[0].parent
    for folder in (start.absolute(), *start.absolute().parents):
        if (folder / ".mvn").is_dir():
            return folder / ".mvn"
    return None


def _wrapped_version(folder: Path) -> str | None:
    found = _DISTRIBUTION.search(_text_of(folder / "wrapper" / "maven-wrapper.properties"))
    return found[1] if found else None


def _java_version(home: str | None) -> str | None:
    """The version in the `release` file of a JDK, where that folder is on this disk."""
    found = _RELEASE.search(_text_of(Path(home) / "release")) if home and "\0" not in home else None
    return found[1] if found else None


def _text_of(path: Path) -> str:
    try:
        if not path.is_file() or path.stat().st_size > _MAX_FILE:
            return ""
        return path.read_text(encoding="utf-8", errors="replace")
    except (OSError, ValueError):
        return ""
