"""Build files with their parents, profiles and modules on disk, put together as Maven does it: one `Build` a file.

Order follows the POM reference and real runs: profiles over the file, the settings' profiles over all, parents below,
and last the model that every build inherits from, which holds nothing that matters here but the repository `central`.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_activation import Activity, activities
from logdoctor.setup_files.maven_parts import Content, Profile, Repository, Value, content_of, profile_of
from logdoctor.setup_files.maven_text import Filled, Surroundings, fill
from logdoctor.setup_files.values import BUILT_IN, Place
from logdoctor.setup_files.xml import XmlProblem, read_xml

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from logdoctor.setup_files.xml import Node

__all__ = ["CENTRAL", "Build", "Pom", "Shelf", "build_of"]

MAX_FILES = 2_000
"""Build files looked at in one go, modules and parents counted."""

MAX_PARENTS = 50

CENTRAL = Repository(
    id="central",
    url=BUILT_IN,
    layout="default",
    releases="true",
    snapshots="false",
    place=Place(file=BUILT_IN, line=0),
)

Coordinates = tuple[str, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pom:
    """One build file as it stands."""

    path: Path
    file: str
    """The path as it was given, for places."""
    group: str
    artifact: str
    version: str
    packaging: str
    parent: Coordinates | None
    parent_path: str | None
    """None: the parent is not looked for on disk."""
    site_appends: bool
    content: Content
    profiles: tuple[Profile, ...]
    place: Place
    version_place: Place

    @property
    def coordinates(self) -> Coordinates:
        """Group, artifact and version, before interpolation."""
        return (self.group, self.artifact, self.version)


@dataclass(slots=True, kw_only=True)
class Shelf:
    """Reads build files, each once; keeps what went wrong and finds parents by path or coordinates."""

    local_repository: Path | None = None
    poms: dict[Path, Pom] = field(default_factory=dict)
    problems: dict[Path, tuple[str, XmlProblem]] = field(default_factory=dict)
    full: bool = False

    def read(self, path: Path) -> Pom | None:
        """The build file at a path or in a folder; None where it can't be read."""
        file = path / "pom.xml" if _is_folder(path) else path
        key = Path(os.path.abspath(file))  # noqa: PTH100 (resolving links would change where modules are looked for)
        if key in self.poms or key in self.problems:
            return self.poms.get(key)
        if len(self.poms) >= MAX_FILES:
            self.full = True
            return None
        try:
            self.poms[key] = _pom(read_xml(key, "project"), key, os.path.normpath(str(file)))
        except XmlProblem as problem:
            self.problems[key] = (os.path.normpath(str(file)), problem)
        return self.poms.get(key)

    def parent_of(self, pom: Pom) -> Pom | None:
        """The parent, where it is on disk under the path that the build file names, given, or in the local repository."""
        if pom.parent is None:
            return None
        if pom.parent_path:
            target = pom.path.parent / pom.parent_path
            found = self.read(target) if _exists(target) else None
            if found is not None and found.coordinates == pom.parent:
                return found
        return next((each for each in self.poms.values() if each.coordinates == pom.parent), None) or self._stored(
            pom.parent
        )

    def _stored(self, wanted: Coordinates) -> Pom | None:
        group, artifact, version = wanted
        parts = [*group.split("."), artifact, version, f"{artifact}-{version}.pom"]
        if self.local_repository is None or any(part in {"", ".", ".."} or "/" in part for part in parts):
            return None
        target = self.local_repository.joinpath(*parts)
        return self.read(target) if _exists(target) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """A build file as Maven sees it in the end; `lookup` fills in its references."""

    pom: Pom
    content: Content
    properties: Mapping[str, str]
    profiles: tuple[Activity, ...]
    """Profiles of the file and its parents."""
    missing_parent: str | None
    modules: tuple[Value, ...]
    site_prefix: str
    """What an inherited site address is followed by."""
    surroundings: Surroundings

    def lookup(self, name: str) -> str | None:
        """The value of a reference in this build."""
        bare = name.removeprefix("project.").removeprefix("pom.")
        if bare in {"basedir", "baseUri"} and (bare != name or bare == "basedir"):
            folder = self.pom.path.parent
            return str(folder) if bare == "basedir" else folder.as_uri()
        if name in self.surroundings.properties:
            return self.surroundings.properties[name]
        if name in self.properties:
            return self.properties[name]
        own = {
            "groupId": self.pom.group,
            "artifactId": self.pom.artifact,
            "version": self.pom.version,
            "packaging": self.pom.packaging,
        }
        if self.pom.parent:
            own |= dict(zip(("parent.groupId", "parent.artifactId", "parent.version"), self.pom.parent, strict=True))
        return own[bare] if bare in own else self.surroundings.lookup(name)

    def fill(self, text: str) -> Filled:
        """Interpolate a text of this build."""
        return fill(text, self.lookup)

    @property
    def version(self) -> Filled:
        """The version."""
        return self.fill(self.pom.version)

    @property
    def name(self) -> str:
        """Group and artifact, for people."""
        return f"{self.fill(self.pom.group).text}:{self.fill(self.pom.artifact).text}"

    def repositories(self, *, plugins: bool) -> tuple[Repository, ...]:
        """The repositories of one kind in the order asked, `central` included."""
        own = self.content.plugin_repositories if plugins else self.content.repositories
        return own if any(each.id == CENTRAL.id for each in own) else (*own, CENTRAL)


def build_of(
    pom: Pom, shelf: Shelf, settings_profiles: Sequence[Activity], named: Sequence[str], around: Surroundings
) -> Build:
    """Put a build file together with its profiles, the settings' active profiles and its parents."""
    lineage, missing = _lineage(pom, shelf)
    profiles: list[Activity] = []
    parts: list[Content] = []
    for each in lineage:
        active = activities(each.profiles, named, around, each.path.parent)
        profiles += active
        parts.append(_injected(each.content, active))
    modules = parts[0].modules
    parts[0] = _injected(parts[0], settings_profiles)
    whole = parts[0]
    for part in parts[1:]:
        whole = whole.over(part)
    site_owner = next((n for n, part in enumerate(parts) if part.distribution.site), 0)
    properties = {name: value.text for name, value in whole.properties.items()}
    return Build(
        pom=pom,
        content=whole,
        properties=properties,
        profiles=tuple(profiles),
        missing_parent=missing,
        modules=modules,
        # Each generation that inherits the address adds its own name to it, unless an ancestor turned that off.
        site_prefix="".join(
            f"/{lineage[n].artifact}" for n in reversed(range(site_owner)) if lineage[n + 1].site_appends
        ),
        surroundings=around,
    )


def _injected(content: Content, profiles: Iterable[Activity]) -> Content:
    for each in profiles:
        if each.active:
            content = each.profile.content.over(content)
    return content


def _lineage(pom: Pom, shelf: Shelf) -> tuple[list[Pom], str | None]:
    """The file and its parents; the coordinates of the first parent that is not on disk."""
    lineage = [pom]
    while lineage[-1].parent is not None:
        parent = shelf.parent_of(lineage[-1])
        if parent is None or any(parent is each for each in lineage) or len(lineage) > MAX_PARENTS:
            return lineage, ":".join(lineage[-1].parent)
        lineage.append(parent)
    return lineage, None


def _pom(root: Node, path: Path, file: str) -> Pom:
    parent = root.first("parent")
    above: Coordinates | None = None
    if parent is not None:
        above = (parent.value("groupId") or "", parent.value("artifactId") or "", parent.value("version") or "")
    relative = parent.first("relativePath") if parent else None
    version = root.first("version") or (parent.first("version") if parent else None) or root
    site = root.first("distributionManagement", "site")
    return Pom(
        path=path,
        file=file,
        group=root.value("groupId") or (above[0] if above else ""),
        artifact=root.value("artifactId") or "",
        version=root.value("version") or (above[2] if above else ""),
        packaging=root.value("packaging") or "jar",
        parent=above,
        parent_path=("../pom.xml" if relative is None else relative.text or None) if parent else None,
        site_appends=site is None or site.attributes.get("child.site.url.inherit.append.path") != "false",
        content=content_of(root, file),
        profiles=tuple(profile_of(each, file, "build") for each in root.all("profiles", "profile")),
        place=Place(file=file, line=root.line),
        version_place=Place(file=file, line=version.line),
    )


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):
        return False
