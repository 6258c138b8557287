"""Remarks on uploads: server entries, targets for the version, addresses that only serve downloads."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_mirrors import plain_address, scheme_of
from logdoctor.setup_files.maven_routes import targets_of
from logdoctor.setup_files.values import Remark

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.setup_files.maven_model import Build
    from logdoctor.setup_files.maven_routes import Target
    from logdoctor.setup_files.maven_settings import Settings
    from logdoctor.setup_files.maven_view import View
    from logdoctor.setup_files.values import Route

__all__ = ["looks_like_group", "same_address", "upload_remarks"]

# Common practice, no source: names that repository administrators give to groups and caching proxies.
_GROUP = re.compile(r"(?:^|[-_./])(?:public|group|all|virtual|proxy|mirror|remote)(?=$|[-_./])", re.IGNORECASE)
_RELEASE_ONLY = re.compile(r"(?:^|[-_./])releases?(?=$|[-_./])", re.IGNORECASE)
_SNAPSHOT_ONLY = re.compile(r"(?:^|[-_./])snapshots?(?=$|[-_./])", re.IGNORECASE)


def upload_remarks(view: View) -> Iterator[Remark]:
    """All of them."""
    settings = view.outlook.settings
    named: set[tuple[str, str]] = set()
    for route in view.uploads():
        if settings is not None and (route.repository_id, route.url) not in named:
            yield from _without_server(route, settings)
        named.add((route.repository_id, route.url))
        yield from _download_group(route, view)
    for build in view.builds:
        yield from _targets(build)


def _without_server(route: Route, settings: Settings) -> Iterator[Remark]:
    """An upload over http is refused without an account nearly everywhere; other transports have their own keys."""
    if route.server_id is not None or not scheme_of(route.url).removeprefix("dav:").startswith(("http", "dav")):
        return
    if route.incomplete and "${" in route.repository_id:
        return
    near = next((each.id for each in settings.servers if _folded(each.id) == _folded(route.repository_id)), None)
    hint = f"; the entry {near} is another one: ids are compared letter by letter" if near else ""
    yield Remark(
        severity="warning" if route.kind == "site" else "error",
        what=f"the settings hold no server entry for {route.repository_id}, to which the {route.kind} is uploaded: "
        f"it goes without an account{hint}",
        mend=f"add a server entry with the id {route.repository_id} to the settings file that this job uses, "
        "or give the build file's target the id of an entry that is there",
        place=route.declared,
        code="upload-without-server",
    )


def _folded(text: str) -> str:
    return re.sub(r"[\s._-]", "", text).lower()


def _download_group(route: Route, view: View) -> Iterator[Remark]:
    if route.kind == "site" or not route.url or "${" in route.url:
        return
    mirror = next(
        (each for each in view.outlook.mirrors if same_address(each.url.text, route.url) and _wide(each.of)), None
    )
    group = next(
        (each for each in view.downloads() if same_address(each.url, route.url) and looks_like_group(each.url)), None
    )
    if mirror is None and group is None:
        return
    serves = (
        f"the mirror {mirror.id}, which serves downloads from several repositories" if mirror else "a download group"
    )
    yield Remark(
        severity="warning",
        what=f"the {route.kind} is uploaded to {route.url}, which is also the address of {serves}: a group or proxy takes no uploads",
        mend="upload to a hosted repository's own address; only where the group is set up to hand uploads on, leave it",
        place=route.declared,
        code="upload-to-download-group",
    )


def _wide(pattern: str) -> bool:
    """Whether a mirror stands for more than one repository or for the public one."""
    return "*" in pattern or "," in pattern or pattern == "central"


def same_address(first: str, second: str) -> bool:
    """Whether two addresses are one, a slash at the end or not."""
    return bool(first) and first.rstrip("/").lower() == second.rstrip("/").lower()


def looks_like_group(url: str) -> bool:
    """Whether the path's last part is named like a group or proxy."""
    return bool(_GROUP.search(url.rstrip("/").rpartition("/")[2]))


def _targets(build: Build) -> Iterator[Remark]:
    """The version's kind against the targets; silent where a parent that may hold a target was not read."""
    version = build.version
    if version.unknown or not version.text:
        return
    snapshot = version.text.endswith("SNAPSHOT")
    targets = {each.kind: each for each in targets_of(build) if each.kind != "site"}
    if snapshot and "snapshot" in targets:
        yield from _fallen_back(build, targets["snapshot"])
    elif targets and not snapshot and "release" not in targets and not build.missing_parent:
        yield Remark(
            severity="error",
            what=f"{build.name} has the release version {version.text}, but only a target for snapshots is declared",
            mend="declare distributionManagement/repository for releases, or give the build a version that ends in -SNAPSHOT",
            place=build.pom.version_place,
            code="release-target-missing",
        )
    elif targets and snapshot and not build.missing_parent:
        yield Remark(
            severity="error",
            what=f"{build.name} has the snapshot version {version.text}, but no target for snapshots is declared",
            mend="declare distributionManagement/snapshotRepository",
            place=build.pom.version_place,
            code="snapshot-target-missing",
        )
    used = targets.get("snapshot" if snapshot else "release")
    if used is not None and not used.falls_back:
        yield from _wrong_policy(build, used, snapshot=snapshot)


def _fallen_back(build: Build, target: Target) -> Iterator[Remark]:
    if not target.falls_back or build.missing_parent:
        return
    sure = _policy(target) == "release"
    yield Remark(
        severity="error" if sure else "note",
        what=f"{build.name} has the snapshot version {build.version.text} and no snapshotRepository: "
        f"it is uploaded to {target.id.text}, the target for releases",
        mend="declare distributionManagement/snapshotRepository with the address of the repository for snapshots"
        + ("" if sure else "; leave it where that one repository takes both"),
        place=target.place,
        code="snapshot-target-missing",
    )


def _wrong_policy(build: Build, target: Target, *, snapshot: bool) -> Iterator[Remark]:
    policy = _policy(target)
    if policy is None or (policy == "snapshot") == snapshot:
        return
    yield Remark(
        severity="warning",
        what=f"{build.name} has the {'snapshot' if snapshot else 'release'} version {build.version.text}, "
        f"but goes to {plain_address(target.url.text)}, which by its name takes {policy}s only",
        mend="check whether repository and snapshotRepository are swapped or one address was copied",
        place=target.place,
        code="target-of-other-policy",
    )


def _policy(target: Target) -> str | None:
    """What a target takes by its address's last part, or by its id where the address tells nothing."""
    for text in (target.url.text.rstrip("/").rpartition("/")[2], target.id.text):
        release, snapshot = bool(_RELEASE_ONLY.search(text)), bool(_SNAPSHOT_ONLY.search(text))
        if release != snapshot:
            return "release" if release else "snapshot"
    return None
