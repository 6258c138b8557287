"""Where every configured download and upload really goes: mirror, server entry, policy.

A mirror's id decides which server entry goes along; uploads are never mirrored (guide to mirror settings). Repositories
that end up with the same id are one to Maven: the first one's address is asked.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_mirrors import blocks_http, is_external_http, mirror_for, plain_address
from logdoctor.setup_files.maven_model import CENTRAL
from logdoctor.setup_files.maven_parts import VERSION
from logdoctor.setup_files.maven_text import version_numbers
from logdoctor.setup_files.values import BUILT_IN, Place, Route

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.setup_files.maven_activation import Activity
    from logdoctor.setup_files.maven_model import Build
    from logdoctor.setup_files.maven_parts import Repository, Value
    from logdoctor.setup_files.maven_settings import Mirror, Settings
    from logdoctor.setup_files.maven_text import Filled, Surroundings
    from logdoctor.setup_files.values import RouteKind

__all__ = ["Outlook", "Target", "routes_of", "targets_of"]

_VERSION_UNKNOWN = "Maven's version is not known: since 3.8.1 it refuses a plain http address"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What decides routes besides the build: settings (None: not given), their active profiles, all mirrors."""

    settings: Settings | None
    profiles: tuple[Activity, ...]
    mirrors: tuple[Mirror, ...]
    surroundings: Surroundings


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Where a release or a snapshot of a build is uploaded to."""

    kind: RouteKind
    id: Filled
    url: Filled
    place: Place
    falls_back: bool = False
    """A snapshot that goes to the release repository, as none is declared for snapshots."""


def routes_of(build: Build, outlook: Outlook) -> tuple[Route, ...]:
    """Every route of one build file."""
    downloads = [route for plugins in (False, True) for route in _downloads(build, outlook, plugins=plugins)]
    return (*downloads, *(_upload(target, outlook) for target in targets_of(build)))


def _downloads(build: Build, outlook: Outlook, *, plugins: bool) -> list[Route]:
    """The build's repositories, then those that only the request knows: the settings' and `central` once more."""
    own = [_download(each, build, outlook, plugins=plugins) for each in build.repositories(plugins=plugins)]
    first = {_final_id(route): route for route in reversed(own)}
    routes = [_shadowed(route, first[_final_id(route)]) for route in own]
    for each in _requested(outlook, plugins=plugins):
        route = _download(each, build, outlook, plugins=plugins)
        if _final_id(route) not in first:
            first[_final_id(route)] = route
            routes.append(route)
    return routes


def _requested(outlook: Outlook, *, plugins: bool) -> list[Repository]:
    """Repositories of profiles that the settings name in `activeProfiles`, the first one of an id, and `central`."""
    named = outlook.settings.active_profiles if outlook.settings else ()
    found: dict[str, Repository] = {}
    for each in outlook.settings.profiles if outlook.settings else ():
        # Taken over before -P is looked at, so that -P !id does not switch them off.
        if each.id in named:
            for repository in each.content.plugin_repositories if plugins else each.content.repositories:
                found.setdefault(repository.id, repository)
    found.setdefault(CENTRAL.id, CENTRAL)
    return list(found.values())


def _final_id(route: Route) -> str:
    return route.mirror_id or route.repository_id


def _shadowed(route: Route, first: Route) -> Route:
    """A repository with the id of an earlier one (a mirror's) is asked at the earlier one's address."""
    address, earlier = route.mirror_url or route.url, first.mirror_url or first.url
    return route if address == earlier else replace(route, mirror_id=_final_id(route), mirror_url=earlier)


def _download(repository: Repository, build: Build, outlook: Outlook, *, plugins: bool) -> Route:
    name, url = build.fill(repository.id), build.fill(repository.url)
    mirror = mirror_for(name.text, url.text, build.fill(repository.layout).text, outlook.mirrors)
    unknown = [*name.unknown, *url.unknown, *(mirror.url.unknown if mirror else ())]
    incomplete = _undefined(unknown)
    if mirror is None and is_external_http(url.text) and blocks_http(outlook.surroundings.maven_version) is None:
        incomplete = incomplete or _VERSION_UNKNOWN
    route = Route(
        direction="download",
        kind="plugin" if plugins else "dependency",
        repository_id=name.text,
        url=plain_address(url.text),
        declared=None if repository.url == BUILT_IN else repository.place,
        mirror_id=mirror.id if mirror else None,
        mirror_url=plain_address(mirror.url.text) if mirror else None,
        releases=build.fill(repository.releases).text.lower() == "true",
        snapshots=build.fill(repository.snapshots).text.lower() == "true",
        incomplete=incomplete,
    )
    return _with_account(route, outlook)


def _upload(target: Target, outlook: Outlook) -> Route:
    route = Route(
        direction="upload",
        kind=target.kind,
        repository_id=target.id.text,
        url=plain_address(target.url.text),
        declared=target.place,
        releases=target.kind != "snapshot",
        snapshots=target.kind != "release",
        incomplete=_undefined([*target.id.unknown, *target.url.unknown]),
    )
    return _with_account(route, outlook)


def _undefined(names: Sequence[str]) -> str | None:
    return f"the value of ${{{names[0]}}} is not known" if names else None


def _with_account(route: Route, outlook: Outlook) -> Route:
    """Add the server entry; without a settings file nothing is known of it."""
    if outlook.settings is None:
        return replace(route, incomplete=route.incomplete or "the settings file was not given")
    server = outlook.settings.server(_final_id(route))
    if server is None:
        return route
    doubt = _undefined(server.user.unknown) if server.user else None
    user = server.user.text if server.user and not doubt else None
    return replace(route, server_id=server.id, user=user, incomplete=route.incomplete or doubt)


# --- uploads -------------------------------------------------------------------------------------


def targets_of(build: Build) -> Iterator[Target]:
    """Where `deploy` sends this build: the one for its version comes first, then the other one, then the site."""
    snapshot = build.version.text.endswith("SNAPSHOT")
    if not _skips(build):
        kinds: tuple[RouteKind, ...] = ("snapshot", "release") if snapshot else ("release", "snapshot")
        for kind in kinds:
            target = _target(build, kind)
            # A fallback matters only where it is used: a release build's snapshots may go elsewhere or nowhere.
            if target is not None and (not target.falls_back or snapshot):
                yield target
    site = build.content.distribution.site
    if site is not None:
        url = build.fill(f"{site.url.rstrip('/')}{build.site_prefix}" if build.site_prefix else site.url)
        yield Target(kind="site", id=build.fill(site.id), url=url, place=site.place)


def _skips(build: Build) -> bool:
    configured = build.content.plugins.get("maven-deploy-plugin", {}).get("skip")
    text = configured.text if configured else "${maven.deploy.skip}"
    return build.fill(text).text == "true"


def _target(build: Build, kind: RouteKind) -> Target | None:
    own = "altSnapshotDeploymentRepository" if kind == "snapshot" else "altReleaseDeploymentRepository"
    for name in (own, "altDeploymentRepository") if _knows_both_kinds(build) else ("altDeploymentRepository",):
        found = _alternative(build, kind, name)
        if found is not None:
            return found
    distribution = build.content.distribution
    falls_back = kind == "snapshot" and distribution.snapshot is None
    declared = distribution.release if kind == "release" or falls_back else distribution.snapshot
    if declared is None:
        return None
    return Target(
        kind=kind,
        id=build.fill(declared.id),
        url=build.fill(declared.url),
        place=declared.place,
        falls_back=falls_back,
    )


def _knows_both_kinds(build: Build) -> bool:
    """Whether the deploy plugin has settings of its own for releases and snapshots, as since 2.8.

    A Maven before 3.9 brings 2.7 along, unless the build names another version.
    """
    configured = build.content.plugins.get("maven-deploy-plugin", {}).get(VERSION)
    if configured is not None:
        numbers = version_numbers(build.fill(configured.text).text)
        return not numbers or numbers >= (2, 8)
    numbers = version_numbers(build.surroundings.maven_version)
    return not numbers or numbers >= (3, 9)


def _alternative(build: Build, kind: RouteKind, name: str) -> Target | None:
    """The deploy plugin's own setting: `id::url`, or `id::layout::url` of its older versions."""
    configured: Value | None = build.content.plugins.get("maven-deploy-plugin", {}).get(name)
    value = configured or build.content.properties.get(name)
    text = configured.text if configured else build.lookup(name)
    if not text:
        return None
    filled = build.fill(text)
    parts = filled.text.split("::")
    place = value.place if value else build.pom.place
    return Target(
        kind=kind,
        id=replace(filled, text=parts[0]),
        url=replace(filled, text=parts[-1] if len(parts) > 1 else ""),
        place=place,
    )
