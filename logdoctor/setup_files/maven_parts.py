"""The parts that settings and build files share: repositories, profiles with their activation, plugin settings.

Texts are kept as they stand in the file, before interpolation; `Repository` is filled in later.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from logdoctor.setup_files.values import Place

if TYPE_CHECKING:
    from collections.abc import Mapping

    from logdoctor.setup_files.xml import Node

__all__ = [
    "Activation",
    "Content",
    "Distribution",
    "Profile",
    "Repository",
    "Value",
    "content_of",
    "profile_of",
    "repository_of",
]

PLUGINS = frozenset({"maven-compiler-plugin", "maven-deploy-plugin", "maven-toolchains-plugin"})
"""Plugins whose settings bear on routes and releases."""

DECLARED = "@declared"
"""Among a plugin's settings: the build uses it, rather than only managing it."""

VERSION = "@version"
"""Among a plugin's settings: its version."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A text with the line where it stands."""

    text: str
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Repository:
    """A repository as declared."""

    id: str
    url: str
    layout: str
    releases: str
    snapshots: str
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Distribution:
    """Where uploads go; each target is inherited or replaced by itself."""

    release: Repository | None = None
    snapshot: Repository | None = None
    site: Repository | None = None

    def over(self, other: Distribution) -> Distribution:
        """This one where it declares a target, else the other."""
        return Distribution(
            release=self.release or other.release,
            snapshot=self.snapshot or other.snapshot,
            site=self.site or other.site,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What a build file and a profile may both hold."""

    properties: Mapping[str, Value] = field(default_factory=dict)
    repositories: tuple[Repository, ...] = ()
    plugin_repositories: tuple[Repository, ...] = ()
    distribution: Distribution = field(default_factory=Distribution)
    plugins: Mapping[str, Mapping[str, Value]] = field(default_factory=dict)
    modules: tuple[Value, ...] = ()

    def over(self, other: Content) -> Content:
        """This content merged over another: its entries win and stand first, as in profile injection and inheritance."""
        names = [*self.plugins, *(name for name in other.plugins if name not in self.plugins)]
        return Content(
            properties={**other.properties, **self.properties},
            repositories=_merged(self.repositories, other.repositories),
            plugin_repositories=_merged(self.plugin_repositories, other.plugin_repositories),
            distribution=self.distribution.over(other.distribution),
            plugins={name: {**other.plugins.get(name, {}), **self.plugins.get(name, {})} for name in names},
            modules=(*other.modules, *self.modules),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Activation:
    """The conditions of a profile; all that are given must hold."""

    by_default: bool = False
    jdk: str | None = None
    property_name: str | None = None
    property_value: str | None = None
    os: Mapping[str, str] = field(default_factory=dict)
    exists: str | None = None
    missing: str | None = None

    @property
    def conditional(self) -> bool:
        """Whether there is any condition besides "by default"."""
        return bool(self.jdk or self.property_name or self.os or self.exists or self.missing)


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A profile of the settings or of a build file."""

    id: str
    source: Literal["settings", "build"]
    activation: Activation
    content: Content
    place: Place

    @property
    def holds_repositories(self) -> bool:
        """Whether it declares repositories of either kind."""
        return bool(self.content.repositories or self.content.plugin_repositories)


def repository_of(node: Node, file: str) -> Repository:
    """A `repository`, `pluginRepository`, `snapshotRepository` or `site` element."""
    return Repository(
        id=node.value("id") or "default",
        url=node.value("url") or "",
        layout=node.value("layout") or "default",
        releases=node.value("releases", "enabled") or "true",
        snapshots=node.value("snapshots", "enabled") or "true",
        place=Place(file=file, line=node.line),
    )


def content_of(node: Node, file: str) -> Content:
    """The content of a `project` or `profile` element."""
    target = node.first("distributionManagement")
    # An element may stand there empty, as a comment of the file's author; Maven reads that as not declared.
    pick = {name: target.first(name) for name in ("repository", "snapshotRepository", "site")} if target else {}
    found = {name: repository_of(each, file) for name, each in pick.items() if each is not None}
    properties = node.first("properties")
    return Content(
        properties={
            each.name: Value(text=each.text, place=Place(file=file, line=each.line))
            for each in (properties.children if properties else ())
        },
        repositories=_unique([repository_of(each, file) for each in node.all("repositories", "repository")]),
        plugin_repositories=_unique(
            [repository_of(each, file) for each in node.all("pluginRepositories", "pluginRepository")]
        ),
        distribution=Distribution(
            release=found.get("repository"), snapshot=found.get("snapshotRepository"), site=found.get("site")
        ),
        plugins=_plugins(node, file),
        modules=tuple(
            Value(text=each.text, place=Place(file=file, line=each.line))
            for each in node.all("modules", "module")
            if each.text
        ),
    )


def profile_of(node: Node, file: str, source: Literal["settings", "build"]) -> Profile:
    """A `profile` element."""
    return Profile(
        id=node.value("id") or "default",
        source=source,
        activation=_activation(node.first("activation")),
        content=content_of(node, file),
        place=Place(file=file, line=node.line),
    )


def _activation(node: Node | None) -> Activation:
    if node is None:
        return Activation()
    system = node.first("os")
    return Activation(
        by_default=node.value("activeByDefault") == "true",
        jdk=node.value("jdk"),
        property_name=node.value("property", "name"),
        property_value=node.value("property", "value"),
        os={each.name: each.text for each in system.children if each.text} if system else {},
        exists=node.value("file", "exists"),
        missing=node.value("file", "missing"),
    )


def _plugins(node: Node, file: str) -> dict[str, dict[str, Value]]:
    """Settings of the plugins that matter: managed ones first, so that the build's own win."""
    found: dict[str, dict[str, Value]] = {}
    build = node.first("build")
    for holder in (build.first("pluginManagement"), build) if build else ():
        for plugin in holder.all("plugins", "plugin") if holder else ():
            name = plugin.value("artifactId") or ""
            if name not in PLUGINS:
                continue
            settings = found.setdefault(name, {})
            if holder is build:
                settings[DECLARED] = Value(text="declared", place=Place(file=file, line=plugin.line))
            if (version := plugin.first("version")) is not None:
                settings[VERSION] = Value(text=version.text, place=Place(file=file, line=version.line))
            configuration = plugin.first("configuration")
            for each in configuration.children if configuration else ():
                settings[each.name] = Value(text=each.text, place=Place(file=file, line=each.line))
    return found


def _merged(first: tuple[Repository, ...], second: tuple[Repository, ...]) -> tuple[Repository, ...]:
    return _unique([*first, *second])


def _unique(repositories: list[Repository]) -> tuple[Repository, ...]:
    """One repository an id; the first one stays."""
    kept: dict[str, Repository] = {}
    for each in repositories:
        kept.setdefault(each.id, each)
    return tuple(kept.values())
