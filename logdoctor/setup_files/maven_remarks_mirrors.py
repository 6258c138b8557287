"""Remarks on downloads: what mirrors take, miss or block, and which server entry then counts."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_mirrors import (
    BLOCKER_ID,
    blocks_http,
    host_of,
    is_external,
    is_external_http,
    plain_address,
    scheme_of,
    takes,
)
from logdoctor.setup_files.maven_remarks_uploads import same_address
from logdoctor.setup_files.values import BUILT_IN, Remark

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.setup_files.maven_settings import Mirror
    from logdoctor.setup_files.maven_view import View
    from logdoctor.setup_files.values import Route

__all__ = ["looks_private", "mirror_remarks"]

# RFC 1918 and RFC 4193 addresses; private top-level names are common practice, no source.
_PRIVATE = re.compile(
    r"10\.|192\.168\.|172\.(?:1[6-9]|2\d|3[01])\.|f[cd][0-9a-f]{2}:|.*\.(?:internal|intranet|local|lan|corp|home|private)$|[^.:]+$"
)


def mirror_remarks(view: View) -> Iterator[Remark]:
    """All of them."""
    for route in view.downloads():
        yield from _blocked(route, view)
        yield from _server_of_mirror(route, view)
        yield from _swallowed(route, view)
    yield from _plugins_missed(view)
    yield from _patterns(view)
    yield from _one_id_two_addresses(view)


def _mirror(route: Route, view: View) -> Mirror | None:
    return next((each for each in view.outlook.mirrors if each.id == route.mirror_id), None)


def _blocked(route: Route, view: View) -> Iterator[Remark]:
    mirror = _mirror(route, view)
    if mirror is not None and mirror.blocked:
        default = mirror.id == BLOCKER_ID
        yield Remark(
            severity="error",
            what=f"{route.repository_id} has the plain http address {route.url}, which Maven {view.outlook.surroundings.maven_version} refuses"
            if default and mirror.place is None
            else f"the mirror {mirror.id} takes {route.repository_id} and blocks it",
            mend="use the repository's https address, or declare a mirror with an https address that takes it",
            place=route.declared,
            code="plain-http-refused" if default else "mirror-blocked",
        )
    elif (
        mirror is None and is_external_http(route.url) and blocks_http(view.outlook.surroundings.maven_version) is None
    ):
        yield Remark(
            severity="note",
            what=f"{route.repository_id} has the plain http address {route.url}, which Maven refuses since 3.8.1",
            mend="use the repository's https address, or declare a mirror with an https address that takes it",
            place=route.declared,
            code="plain-http-refused",
        )


def _server_of_mirror(route: Route, view: View) -> Iterator[Remark]:
    """A server entry made for the repository does nothing once a mirror takes it; one that uploads use is in use."""
    mirror, settings = _mirror(route, view), view.outlook.settings
    if settings is None or mirror is None or mirror.blocked or mirror.id == route.repository_id or route.server_id:
        return
    entry = settings.server(route.repository_id)
    if entry is None:
        return
    used = any(each.server_id == entry.id for each in view.uploads()) or any(
        each.id == entry.id for each in view.outlook.mirrors
    )
    yield Remark(
        severity="note" if used else "warning",
        what=f"the mirror {mirror.id} takes {route.repository_id}, so the server entry {entry.id} is not used for downloads; "
        f"there is none with the id {mirror.id}, and downloads go without an account",
        mend=f"add a server entry with the id {mirror.id}, with the same account"
        + ("; leave it where the mirror may be read without an account" if used else ""),
        place=entry.place,
        code="mirror-without-server",
    )


def looks_private(host: str) -> bool:
    """Whether a host can only be one of the organisation's own network."""
    return bool(host) and bool(_PRIVATE.match(host.lower()))


def _swallowed(route: Route, view: View) -> Iterator[Remark]:
    """A wildcard takes a repository that the mirror's server most likely can't reach for us."""
    mirror = _mirror(route, view)
    if mirror is None or mirror.blocked or "*" not in mirror.of or same_address(mirror.url.text, route.url):
        return
    if not route.url or "${" in route.url or "${" in mirror.url.text or route.url == BUILT_IN:
        return
    here, there = host_of(route.url), host_of(mirror.url.text)
    if here == there and scheme_of(route.url) != "file":
        return
    local = not is_external(route.url)
    if not local and not looks_private(here):
        return
    reach = "lies on this machine" if local else "looks like one of the own network"
    yield Remark(
        severity="warning" if local and is_external(mirror.url.text) else "note",
        what=f"the mirror {mirror.id} with the pattern {mirror.of} takes {route.repository_id}, although its address {route.url} {reach}: "
        "it is never asked itself",
        mend=f"exclude it: <mirrorOf>{_excluding(mirror.of, route.repository_id)}</mirrorOf>"
        + ("; or use external:* in place of *" if local else "; leave it where the mirror holds its content"),
        place=mirror.place or route.declared,
        code="mirror-takes-direct-repository",
    )


def _excluding(pattern: str, name: str) -> str:
    return f"{pattern},!{name}"


def _plugins_missed(view: View) -> Iterator[Remark]:
    """Dependencies come in through the organisation's repository, plugins from elsewhere."""
    downloads = list(view.downloads())
    if any(each.incomplete for each in downloads):
        return
    dependencies = [each for each in downloads if each.kind == "dependency" and is_external(each.url)]
    own_hosts = {host_of(each.mirror_url or each.url) for each in dependencies}
    if BUILT_IN in {each.mirror_url or each.url for each in dependencies} or not dependencies:
        return
    covered = all(each.mirror_id for each in dependencies)
    for each in downloads:
        address = each.mirror_url or each.url
        outside = host_of(address) not in own_hosts and is_external(address) and not looks_private(host_of(address))
        if each.kind != "plugin" or not outside or each.mirror_id:
            continue
        by_id = each.url == BUILT_IN
        if not by_id and not covered:
            continue
        yield Remark(
            severity="warning",
            what=f"all dependencies come in through {', '.join(sorted(own_hosts))}, but plugins from "
            + ("the public repository" if by_id else f"{each.repository_id} ({each.url})")
            + " are asked for directly",
            mend="declare a pluginRepository with the id central beside the repository with that id, or a mirror that takes it"
            if by_id
            else f"add {each.repository_id} to the mirror's pattern, if the repository behind the mirror holds its content",
            place=each.declared,
            code="mirror-misses-plugins",
        )


def _patterns(view: View) -> Iterator[Remark]:
    """Patterns that don't do what they seem to, and mirrors that an earlier one makes useless."""
    seen: dict[str, Mirror] = {}
    for mirror in view.outlook.mirrors:
        if mirror.place is None:
            continue
        if not mirror.url.text or not mirror.of:
            yield Remark(
                severity="error",
                what=f"the mirror {mirror.id} has no {'mirrorOf' if mirror.url.text else 'url'}",
                mend="add it, or remove the mirror",
                place=mirror.place,
                code="mirror-incomplete",
            )
        elif re.search(r",\s|\s,", mirror.of):
            yield Remark(
                severity="warning",
                what=f"the pattern of the mirror {mirror.id} holds blanks beside a comma ({mirror.of}): they count as part of the id",
                mend=f"write {','.join(part.strip() for part in mirror.of.split(','))}",
                place=mirror.place,
                code="mirror-pattern-has-blanks",
            )
        earlier = seen.setdefault(mirror.of, mirror)
        if earlier is not mirror and earlier.layouts == mirror.layouts:
            yield Remark(
                severity="note",
                what=f"the mirror {mirror.id} is never used: {earlier.id} has the same pattern {mirror.of} and stands before it",
                mend="remove one of the two; several mirrors of one repository are no fallback for each other",
                place=mirror.place,
                code="mirror-never-used",
            )


def _one_id_two_addresses(view: View) -> Iterator[Remark]:
    """Where a repository bears a mirror's id, both are one to Maven, and only the first one's address is asked."""
    for route in view.downloads():
        mirror = _mirror(route, view)
        if mirror is None or route.mirror_url is None:
            continue
        taken = takes(mirror.of, route.repository_id, route.url)
        meant = plain_address(mirror.url.text) if taken else route.url
        if same_address(route.mirror_url, meant):
            continue
        yield Remark(
            severity="warning",
            what=f"{route.repository_id} should be asked at {meant}, but goes to {route.mirror_url}: "
            f"a mirror and a repository share the id {route.mirror_id}, so Maven takes them for one",
            mend="give the repository or the mirror another id",
            place=route.declared,
            code="id-of-mirror-used-twice",
        )
