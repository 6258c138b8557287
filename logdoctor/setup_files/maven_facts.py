"""Facts of a Maven set-up, and those of the catalogue's set-up facts that they decide for the request of a log.

Names of server facts: `server:<id>` (always true), `server:<id>:password` (none, plain, encrypted, variable, placeholder),
`server:<id>:variables_set`. Versions: `version:<group>:<artifact>`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_mirrors import host_of, plain_address
from logdoctor.setup_files.maven_remarks_build import compiler_release
from logdoctor.setup_files.maven_remarks_uploads import same_address
from logdoctor.setup_files.maven_routes import targets_of
from logdoctor.setup_files.values import SetupFact

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from logdoctor.model import FactValue
    from logdoctor.setup_files.maven_settings import Server, Settings
    from logdoctor.setup_files.maven_view import View
    from logdoctor.setup_files.values import Place, Route, Setup

__all__ = ["facts_for", "facts_of"]


def facts_of(view: View) -> tuple[SetupFact, ...]:
    """Everything observed, with its place."""
    settings = view.outlook.settings
    return (*(_of_settings(settings, view) if settings else ()), *_of_builds(view))


def _of_settings(settings: Settings, view: View) -> Iterator[SetupFact]:
    yield SetupFact(name="settings_read", value=True, place=None)
    proxy = settings.proxies[0] if settings.proxies else None
    yield SetupFact(name="proxy_configured", value=proxy is not None, place=proxy.place if proxy else None)
    for each in {server.id: server for server in reversed(settings.servers)}.values():
        yield from _of_server(each, view)
    for mirror in settings.mirrors:
        yield SetupFact(name=f"mirror:{mirror.id}", value=plain_address(mirror.url.text), place=mirror.place)
    if view.master is not None and (view.master.present or view.master.certain):
        yield SetupFact(name="password_master_present", value=view.master.present, place=view.master.place)
    holding = [each for each in view.activities if each.profile.holds_repositories]
    active = next((each for each in holding if each.active), None)
    if active or not any(each.doubt for each in holding):
        place = active.profile.place if active else None
        yield SetupFact(name="active_profile_with_repositories", value=active is not None, place=place)


def _of_server(server: Server, view: View) -> Iterator[SetupFact]:
    name, password = f"server:{server.id}", server.password
    yield SetupFact(name=name, value=True, place=server.place)
    yield SetupFact(name=f"{name}:password", value=password.kind, place=password.place or server.place)
    around = view.outlook.surroundings
    if password.variables and around.environment is not None:
        all_set = all(around.lookup(f"env.{each}") for each in password.variables)
        yield SetupFact(name=f"{name}:variables_set", value=all_set, place=password.place)


def _of_builds(view: View) -> Iterator[SetupFact]:
    for build in view.builds:
        version = build.version
        if not version.unknown and version.text:
            yield SetupFact(name=f"version:{build.name}", value=version.text, place=build.pom.version_place)
        asked = compiler_release(build)
        if asked is not None:
            yield SetupFact(name="compiler_release", value=asked[0], place=asked[1])
    snapshots = {build.version.text.endswith("SNAPSHOT") for build in view.builds if not build.version.unknown}
    if len(snapshots) == 1:
        place = view.builds[0].pom.version_place
        yield SetupFact(name="build_version_is_snapshot", value=snapshots.pop(), place=place)
    yield from _of_targets(view)
    jdk = view.outlook.surroundings.feature_release()
    if jdk is not None:
        yield SetupFact(name="jdk_release", value=jdk, place=None)


def _of_targets(view: View) -> Iterator[SetupFact]:
    """Whether targets are declared; a parent that was not read may declare one."""
    targets = [each for build in view.builds for each in targets_of(build)]
    hidden = not view.builds or any(build.missing_parent for build in view.builds)
    for kind in ("snapshot", "release"):
        found = next((each for each in targets if each.kind == kind and not each.falls_back), None)
        if found is not None or not hidden:
            place: Place | None = found.place if found else None
            yield SetupFact(name=f"{kind}_target_declared", value=found is not None, place=place)


# --- for one request of a log ----------------------------------------------------------------------


def facts_for(setup: Setup, known: Mapping[str, FactValue]) -> dict[str, FactValue]:
    """The catalogue's set-up facts that this set-up decides for the request that `known` describes."""
    held = {fact.name: fact.value for fact in setup.facts}
    found: dict[str, FactValue] = {
        name: held[name]
        for name in (
            "proxy_configured",
            "active_profile_with_repositories",
            "build_version_is_snapshot",
            "snapshot_target_declared",
            "release_target_declared",
        )
        if name in held
    }
    releases = [fact.value for fact in setup.facts if fact.name == "compiler_release" and isinstance(fact.value, int)]
    if releases:
        found["compiler_release"] = max(releases)
    routes = _matching(setup.routes, known)
    found.update(_of_route(setup, routes))
    if "settings_read" in held:
        found.update(_of_account(routes, held, known))
    return found


def _matching(routes: Sequence[Route], known: Mapping[str, FactValue]) -> list[Route]:
    """Routes that the request can have taken: by direction, then address, then id, then host."""
    direction = {"write": "upload", "read": "download"}.get(str(known.get("request")))
    if known.get("method") in {"PUT", "POST"}:
        direction = "upload"
    name, url, host = (str(known.get(key, "")) for key in ("repository_id", "url", "host"))
    fits = [each for each in routes if direction in {None, each.direction}]
    by_id = [each for each in fits if name and name in {each.repository_id, each.mirror_id}]
    pool = by_id or ([] if name else fits)
    by_url = [each for each in pool if url and _holds(each.mirror_url or each.url, url)]
    by_host = [each for each in pool if host and host_of(each.mirror_url or each.url) == host.partition(":")[0]]
    return by_url or by_host or by_id


def _holds(address: str, url: str) -> bool:
    return same_address(address, url) or (bool(address) and url.startswith(address.rstrip("/") + "/"))


def _of_route(setup: Setup, routes: Sequence[Route]) -> dict[str, FactValue]:
    found: dict[str, FactValue] = {}
    downloads = [each for each in routes if each.direction == "download" and not each.incomplete]
    mirrors = {each.mirror_id for each in downloads}
    if len(mirrors) == 1:
        mirror = mirrors.pop()
        found["mirror_takes_repository"] = mirror is not None
        if mirror is not None:
            found["mirror_id"] = mirror
            found["server_entry_for_mirror"] = any(fact.name == f"server:{mirror}" for fact in setup.facts)
    uploads = [each for each in routes if each.direction == "upload"]
    if uploads:
        groups = {each.place for each in setup.remarks if each.code == "upload-to-download-group"}
        found["upload_url_is_a_download_group"] = any(each.declared in groups for each in uploads)
    return found


def _of_account(
    routes: Sequence[Route], held: Mapping[str, FactValue], known: Mapping[str, FactValue]
) -> dict[str, FactValue]:
    """The server entry in use: of the id in the message, else of the one route that fits."""
    ids = {str(known["repository_id"])} if known.get("repository_id") else {each.repository_id for each in routes}
    found: dict[str, FactValue] = {}
    if len(ids) == 1:
        found["server_entry_for_id"] = f"server:{next(iter(ids))}" in held
    used = {each.server_id for each in routes} or ids
    if len(used) != 1:
        return found
    name = f"server:{used.pop()}"
    kind = held.get(f"{name}:password")
    if kind is not None:
        found["password_is_encrypted"] = kind == "encrypted"
        if kind == "encrypted" and "password_master_present" in held:
            found["password_master_present"] = held["password_master_present"]
        found["password_is_variable"] = kind == "variable"
    if f"{name}:variables_set" in held:
        found["password_variable_set"] = held[f"{name}:variables_set"]
    return found
