"""Maven's side of a set-up: reads settings, build files with parents and modules, toolchains, and puts it all together."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_activation import activities
from logdoctor.setup_files.maven_facts import facts_for, facts_of
from logdoctor.setup_files.maven_mirrors import mirrors_of
from logdoctor.setup_files.maven_model import Shelf, build_of
from logdoctor.setup_files.maven_remarks import remarks_of
from logdoctor.setup_files.maven_routes import Outlook, routes_of
from logdoctor.setup_files.maven_settings import master_of, settings_of
from logdoctor.setup_files.maven_surroundings import surroundings_of
from logdoctor.setup_files.maven_text import feature_release, version_numbers
from logdoctor.setup_files.maven_view import FileProblem, View
from logdoctor.setup_files.values import Setup
from logdoctor.setup_files.xml import XmlProblem, read_xml

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from logdoctor.setup_files.maven_model import Build, Pom
    from logdoctor.setup_files.maven_settings import Master, Settings
    from logdoctor.setup_files.maven_text import Surroundings
    from logdoctor.setup_files.xml import Node

__all__ = ["facts_for", "read_maven"]


def read_maven(  # noqa: PLR0913, PLR0917 (each argument is one thing that a person may give)
    settings: Path | None,
    builds: Sequence[Path],
    toolchains: Path | None = None,
    environment: Mapping[str, str] | None = None,
    maven_version: str | None = None,
    active_profiles: Sequence[str] = (),
    *,
    java_version: str | None = None,
) -> Setup:
    """Facts, routes and remarks of a Maven set-up; what is not given (None) is not guessed.

    Missing versions are looked for in the build's wrapper settings and in the JDK that the environment names.
    """
    given = tuple(active_profiles)
    around, settings = surroundings_of(settings, builds, environment, maven_version, given, java_version)
    reading = _Reading()
    settings_root = reading.read(settings, "settings")
    found = settings_of(settings_root, str(settings), around) if settings_root is not None else None
    profiles = activities(found.profiles, found.active_profiles, around, None) if found else ()
    local = Path(found.local_repository) if found and found.local_repository else None
    shelf = Shelf(local_repository=local)
    poms, missing = _walk(builds, shelf, found, around)
    named = found.active_profiles if found else ()
    made = tuple(_build(pom, shelf, found, named, around) for pom in poms)
    outlook = Outlook(
        settings=found,
        profiles=profiles,
        mirrors=mirrors_of(found.mirrors if found else (), around.maven_version),
        surroundings=around,
    )
    view = View(
        outlook=outlook,
        builds=made,
        routes=tuple(dict.fromkeys(route for build in made for route in routes_of(build, outlook))),
        master=_master(settings, around, reading) if found else None,
        toolchain_releases=_toolchains(reading.read(toolchains, "toolchains")),
        problems=(
            *reading.problems,
            *(FileProblem(file=f, what="build-file", problem=p) for f, p in shelf.problems.values()),
        ),
        missing_modules=missing,
        too_many_files=shelf.full,
    )
    return Setup(
        facts=facts_of(view),
        routes=view.routes,
        remarks=remarks_of(view),
        incomplete=_incomplete(view, has_builds=bool(builds)),
    )


class _Reading:
    """Reads single files and keeps what went wrong."""

    def __init__(self) -> None:
        self.problems: list[FileProblem] = []

    def read(self, path: Path | None, name: str) -> Node | None:
        if path is None:
            return None
        try:
            return read_xml(path, name)
        except XmlProblem as problem:
            what = "security" if name == "settingsSecurity" else name
            if not (what == "security" and problem.kind == "missing"):
                self.problems.append(FileProblem(file=str(path), what=what, problem=problem))
            return None


def _build(pom: Pom, shelf: Shelf, settings: Settings | None, named: Sequence[str], around: Surroundings) -> Build:
    # Files named in conditions are looked for from the build's own folder, so this is decided once a build.
    profiles = activities(settings.profiles, named, around, pom.path.parent) if settings else ()
    return build_of(pom, shelf, profiles, named, around)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    path: Path
    module_of: Pom | None = None
    name: str = ""
    line: int = 0


def _walk(
    builds: Sequence[Path], shelf: Shelf, settings: Settings | None, around: Surroundings
) -> tuple[list[Pom], tuple[tuple[str, str, int], ...]]:
    """The given build files and all their modules, in order; modules that are named but not there."""
    poms: dict[Path, Pom] = {}
    missing: list[tuple[str, str, int]] = []
    steps = [_Step(path=path) for path in reversed(builds)]
    named = settings.active_profiles if settings else ()
    while steps:
        step = steps.pop()
        pom = shelf.read(step.path)
        if pom is None:
            if step.module_of is not None and not os.path.exists(step.path):  # noqa: PTH110 (never raises)
                missing.append((step.name, step.module_of.file, step.line))
            continue
        if pom.path in poms:
            continue
        poms[pom.path] = pom
        alone = build_of(pom, shelf, (), named, around)
        steps += [
            _Step(
                path=pom.path.parent / alone.fill(each.text).text, module_of=pom, name=each.text, line=each.place.line
            )
            for each in reversed(alone.modules)
        ]
    return list(poms.values()), tuple(missing)


def _master(settings: Path | None, around: Surroundings, reading: _Reading) -> Master:
    """Where Maven looks for it: the file that -Dsettings.security names, else the account's `.m2` folder.

    The settings file is often the one of that folder; a file beside it elsewhere is taken as meant for it.
    """
    named = around.properties.get("settings.security") or around.system.get("settings.security")
    home = around.lookup("user.home")
    beside = settings.parent if settings else Path()
    places = [Path(named)] if named else [beside / "settings-security.xml"]
    if home and not named:
        places.append(Path(home) / ".m2" / "settings-security.xml")
    for place in places:
        root = reading.read(place, "settingsSecurity")
        if root is not None:
            return master_of(root, place, certain=True)
    certain = beside.name == ".m2" and not named
    return master_of(None, places[0], certain=certain)


def _toolchains(root: Node | None) -> tuple[int, ...]:
    """Feature releases of the JDKs that a toolchains file lists."""
    entries = root.all("toolchain") if root else ()
    versions = (each.value("provides", "version") for each in entries if (each.value("type") or "jdk") == "jdk")
    releases = (feature_release(version) for version in versions)
    return tuple(release for release in releases if release is not None)


def _incomplete(view: View, *, has_builds: bool) -> tuple[str, ...]:
    texts: list[str] = []
    if view.outlook.settings is None:
        texts.append("no settings file was read: mirrors, server entries and the settings' profiles are not known")
    if not has_builds:
        texts.append("no build file was given: its repositories and upload targets are not known")
    texts += [f"parent {build.missing_parent} is not on disk" for build in view.builds if build.missing_parent]
    texts += [f"profile {each.profile.id}: {each.doubt} is not known" for each in view.doubtful()]
    texts += [f"{each.file} was not read: {each.problem.reason}" for each in view.problems]
    texts += [
        f"{route.direction} {route.repository_id}: {route.incomplete}"
        for route in view.routes
        if route.incomplete and view.outlook.settings is not None
    ]
    if version_numbers(view.outlook.surroundings.maven_version) >= (4,):
        texts.append("routes are computed as Maven 3 takes them; Maven 4 refuses some properties in addresses")
    if view.too_many_files:
        texts.append("not all build files were read: there are too many")
    return tuple(dict.fromkeys(texts))
