"""All that was read of a Maven set-up, as remarks and facts look at it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.setup_files.maven_activation import Activity
    from logdoctor.setup_files.maven_model import Build
    from logdoctor.setup_files.maven_parts import Content, Repository
    from logdoctor.setup_files.maven_routes import Outlook
    from logdoctor.setup_files.maven_settings import Master
    from logdoctor.setup_files.values import Route
    from logdoctor.setup_files.xml import XmlProblem

__all__ = ["FileProblem", "View"]

_REFERENCE = re.compile(r"\$\{([^${}]+)\}")


@dataclass(frozen=True, slots=True, kw_only=True)
class FileProblem:
    """A file that was not read; `what`: settings, build-file, toolchains, security."""

    file: str
    what: str
    problem: XmlProblem


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One set-up."""

    outlook: Outlook
    builds: tuple[Build, ...]
    routes: tuple[Route, ...]
    master: Master | None
    toolchain_releases: tuple[int, ...]
    problems: tuple[FileProblem, ...]
    missing_modules: tuple[tuple[str, str, int], ...]
    """Module, build file that names it, line."""
    too_many_files: bool

    @property
    def activities(self) -> tuple[Activity, ...]:
        """Every profile of settings and build files, once."""
        found = {(each.profile.place, each.profile.id): each for build in self.builds for each in build.profiles}
        found.update({(each.profile.place, each.profile.id): each for each in self.outlook.profiles})
        return tuple(found.values())

    def downloads(self) -> Iterator[Route]:
        """Routes of downloads."""
        return (each for each in self.routes if each.direction == "download")

    def uploads(self) -> Iterator[Route]:
        """Routes of uploads."""
        return (each for each in self.routes if each.direction == "upload")

    def doubtful(self) -> list[Activity]:
        """Undecided profiles that could change a route: by repositories, targets, modules, or a property these use."""
        names = self._names_used()
        return [each for each in self.activities if each.doubt and _matters(each.profile.content, names)]

    def _names_used(self) -> frozenset[str]:
        texts = ["${maven.deploy.skip}"]
        for build in self.builds:
            texts.append(build.pom.version)
            for content in (build.content, *(each.profile.content for each in build.profiles)):
                for each in (*content.repositories, *content.plugin_repositories, *_targets(content)):
                    texts += [each.id, each.url]
        return frozenset(name for text in texts for name in _REFERENCE.findall(text))


def _matters(content: Content, names: frozenset[str]) -> bool:
    held = content.repositories or content.plugin_repositories or _targets(content) or content.modules
    return bool(held) or not names.isdisjoint(content.properties)


def _targets(content: Content) -> tuple[Repository, ...]:
    target = content.distribution
    return tuple(each for each in (target.release, target.snapshot, target.site) if each)
