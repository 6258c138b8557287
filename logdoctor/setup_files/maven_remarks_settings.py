"""Remarks on the settings file itself: passwords, variables, profiles, entries that stand twice."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.setup_files.values import Remark
from logdoctor.setup_files.work_tree import WorkTree

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.setup_files.maven_settings import Server, Settings
    from logdoctor.setup_files.maven_view import View

__all__ = ["settings_remarks"]


def settings_remarks(view: View) -> Iterator[Remark]:
    """All of them."""
    settings = view.outlook.settings
    if settings is None:
        return
    yield from _variables(settings, view)
    yield from _passwords(settings, view)
    yield from _written_out(settings, view)
    yield from _twice(settings)
    yield from _profiles(view)
    yield from _unknown_profiles(settings, view)
    yield from _proxies(settings, view)


def _variables(settings: Settings, view: View) -> Iterator[Remark]:
    around = view.outlook.surroundings
    if around.environment is None:
        return
    used = {name for each in settings.servers if _in_use(each, view) for name in _names(each)}
    used |= {name.removeprefix("env.") for each in settings.mirrors for name in each.url.unknown}
    for name, place in settings.references:
        if around.lookup(f"env.{name}") is not None:
            continue
        yield Remark(
            severity="error" if name in used else "note",
            what=f"${{env.{name}}} is not set in the given environment, so the text itself is used"
            + ("" if name in used else " (nothing that was read needs this entry)"),
            mend=f"bind the variable {name} in the step that runs Maven, or correct its name in the settings file",
            place=place,
            code="environment-variable-undefined",
        )


def _names(server: Server) -> tuple[str, ...]:
    user = tuple(name.removeprefix("env.") for name in server.user.unknown) if server.user else ()
    return (*server.password.variables, *user)


def _in_use(server: Server, view: View) -> bool:
    return any(route.server_id == server.id for route in view.routes)


def _passwords(settings: Settings, view: View) -> Iterator[Remark]:
    master = view.master
    encrypted = [each for each in settings.servers if each.password.kind == "encrypted"]
    if master is None or master.present or not encrypted:
        return
    where = f" ({master.place.file} holds none)" if master.place else ""
    for server in encrypted:
        yield Remark(
            severity="error" if master.certain and _in_use(server, view) else "warning",
            what=f"the password of the server entry {server.id} is encrypted, but its master password was not found{where}: "
            "the encrypted text itself would be sent",
            mend="put settings-security.xml with the same master into the .m2 folder of the account that runs the build, "
            "or name it with -Dsettings.security; or take the password from a variable that the CI server binds",
            place=server.password.place or server.place,
            code="password-master-missing",
        )


def _written_out(settings: Settings, view: View) -> Iterator[Remark]:
    """A password in a file that stands among the sources is shared with everyone who can read them."""
    if not view.builds:
        return
    tree = WorkTree.of(view.builds[0].pom.path.parent)
    if tree.git_root is not None:
        tree = WorkTree(folder=tree.git_root, git_root=tree.git_root, modes=tree.modes)
    exposure = tree.exposure(Path(settings.file))
    if exposure is None or Path(settings.file).parent.name == ".m2":
        return
    for server in settings.servers:
        if server.password.kind != "plain":
            continue
        yield Remark(
            severity=exposure,
            what=f"the password of the server entry {server.id} is written out in a file of the work tree",
            mend="have the CI server bind it as a secret and write ${env.NAME} here; if the file was ever committed, "
            "change the password, as your organisation's rules for leaked secrets say",
            place=server.password.place or server.place,
            code="password-in-work-tree",
        )


def _twice(settings: Settings) -> Iterator[Remark]:
    seen: set[str] = set()
    for server in settings.servers:
        if server.id in seen:
            yield Remark(
                severity="warning",
                what=f"there are several server entries with the id {server.id}: only the first one counts",
                mend="keep one of them",
                place=server.place,
                code="server-twice",
            )
        seen.add(server.id)
    names: set[str] = set()
    for mirror in settings.mirrors:
        if mirror.id in names:
            yield Remark(
                severity="warning",
                what=f"there are several mirrors with the id {mirror.id}: they share one server entry, and what they take counts as one repository",
                mend="give each its own id",
                place=mirror.place,
                code="mirror-twice",
            )
        names.add(mirror.id)


def _profiles(view: View) -> Iterator[Remark]:
    """Profiles with repositories that nothing switches on. A chosen one among several is meant to be chosen by -P."""
    holding = [each for each in view.outlook.profiles if each.profile.holds_repositories]
    one_is_active = any(each.active for each in holding)
    for each in holding:
        activation = each.profile.activation
        if each.active or activation.conditional or each.profile.id in view.outlook.surroundings.inactive:
            continue
        yield Remark(
            severity="note" if one_is_active else "warning",
            what=f"the profile {each.profile.id} holds repositories, but nothing in the settings makes it active",
            mend=f"add <activeProfile>{each.profile.id}</activeProfile> to the settings, or pass -P {each.profile.id}",
            place=each.profile.place,
            code="profile-never-active",
        )
    for activity in (found for build in view.builds for found in build.profiles):
        profile = activity.profile
        switched = activity.active or profile.activation.conditional or profile.activation.by_default
        if profile.holds_repositories and not switched and profile.id not in view.outlook.surroundings.inactive:
            yield Remark(
                severity="note",
                what=f"the profile {profile.id} of the build file holds repositories and is active only with -P {profile.id}",
                mend="pass it on the command line of the job where its repositories are needed",
                place=profile.place,
                code="profile-never-active",
            )


def _unknown_profiles(settings: Settings, view: View) -> Iterator[Remark]:
    """Names in `activeProfiles` that no profile has; build files that were not read may hold it."""
    if any(build.missing_parent for build in view.builds):
        return
    known = {each.profile.id for each in view.activities}
    for name, place in zip(settings.active_profiles, settings.active_places, strict=True):
        if name in known or "${" in name:
            continue
        near = next((each for each in known if each.lower() == name.lower()), None)
        yield Remark(
            severity="warning" if near or (view.builds and settings.profiles) else "note",
            what=f"activeProfiles names {name}, but there is no profile with this id"
            + (f" (there is {near})" if near else ""),
            mend="correct the id: upper and lower case count; or remove the line",
            place=place,
            code="active-profile-unknown",
        )


def _proxies(settings: Settings, view: View) -> Iterator[Remark]:
    around = view.outlook.surroundings
    named = [name for name in ("HTTPS_PROXY", "https_proxy", "HTTP_PROXY", "http_proxy") if around.variable(name)]
    to_jvm = any(key.endswith("proxyHost") for key in (*around.system, *around.properties))
    if named and not settings.proxies and not to_jvm:
        yield Remark(
            severity="note",
            what=f"the environment sets {named[0]}, but Maven does not read it and the settings hold no proxy",
            mend="if the repositories are reached only through the proxy, add a proxy entry to the settings",
            place=None,
            code="proxy-only-in-environment",
        )
