"""npm: which registry each scope and the default read from, where a publish goes, and which credential goes along.

Follows npm's documentation (npmrc, config, package.json) and, where that is silent, what npm 8.19, 10.9 and 11.19 do:
a request takes the credential of the longest matching address, `npm publish` first asks for exactly the registry's own.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

from logdoctor.setup_files.gathering import Gathering
from logdoctor.setup_files.npm_files import (
    PAIRS,
    SECRET_KEYS,
    Credential,
    Entry,
    credential,
    environment_entries,
    is_credential,
    nerf_dart,
    nerf_walk,
    other_path,
    parse_npmrc,
    slashed,
)
from logdoctor.setup_files.values import BUILT_IN, Place, Route, Setup
from logdoctor.setup_files.work_tree import Address, WorkTree

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from logdoctor.setup_files.finding import SetupText

__all__ = ["read_npm"]

_PUBLISH = re.compile(r"^npm\s+publish(?P<rest>(?:\s+\S+)*)\s*$")
_VALUED = re.compile(r"\s--?(?:tag|access|otp|registry|userconfig|loglevel)(?:=|\s+)\S+")
_ELSEWHERE = re.compile(r"\s(?:-w|-ws|--workspaces?)\b|\s[^-\s]")
"""Words that make npm publish something else than the package whose script it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """A folder with the settings that npm uses in it and the packages it publishes from there."""

    config: Mapping[str, Entry]
    packages: tuple[tuple[SetupText, Mapping[str, Any]], ...]
    files_read: int
    user_file_read: bool
    environment_known: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Target:
    """An upload: where it goes, and where its package wanted it to go."""

    name: str
    scope: str
    url: str
    place: Place | None
    wanted: str | None
    credential: Credential | None
    intended: bool


def read_npm(
    npmrcs: Sequence[Path],
    packages: Sequence[Path],
    *,
    tree: WorkTree | None = None,
    environment: Mapping[str, str] | None = None,
) -> Setup:
    """Facts, routes and remarks of `.npmrc` files (the strongest last) and `package.json` files."""
    report = Gathering(tree=tree or WorkTree())
    rc_texts, package_texts = report.read(npmrcs), report.read(packages)
    for text in rc_texts:
        _check_file(parse_npmrc(text, environment), report)
    manifests = [(text, manifest) for text in package_texts if (manifest := _manifest(text, report)) is not None]
    for project in _projects(rc_texts, manifests, environment, report.tree):
        _check_project(project, report)
    return report.setup()


def _projects(
    rc_texts: Sequence[SetupText],
    manifests: Sequence[tuple[SetupText, Mapping[str, Any]]],
    environment: Mapping[str, str] | None,
    tree: WorkTree,
) -> Iterator[Project]:
    """Each folder that npm is run in: packages of a workspace belong to the folder of their root."""
    roots = [text.path.parent for text, manifest in manifests if manifest.get("workspaces")]
    groups: dict[Path | None, list[tuple[SetupText, Mapping[str, Any]]]] = {}
    for text, manifest in manifests:
        home = next((r for r in roots if text.path.is_relative_to(r)), text.path.parent)
        groups.setdefault(home, []).append((text, manifest))
    own = {t.path.parent for t in rc_texts if tree.holds(t.path) or t.path.parent in groups}
    for folder in sorted(own):
        if folder not in groups and not any(folder.is_relative_to(root) for root in roots):
            groups[folder] = []
    if not groups and rc_texts:
        groups[None] = []
    for project, packages in groups.items():
        used = [t for t in rc_texts if t.path.parent == project or t.path.parent not in own]
        entries = [e for t in sorted(used, key=lambda t: t.path.parent == project) for e in parse_npmrc(t, environment)]
        yield Project(
            config={e.key: e for e in [*entries, *environment_entries(environment)]},
            packages=tuple(packages),
            files_read=len(used),
            user_file_read=any(t.path.parent != project for t in used),
            environment_known=environment is not None,
        )


def _check_file(entries: Sequence[Entry], report: Gathering) -> None:
    for entry in entries:
        if entry.text is None:
            continue
        _check_secret(entry, report)
        _check_key(entry, report)
        if entry.key == "strict-ssl" and entry.value == "false":
            what = "Certificates are not checked (strict-ssl=false), so a forged registry would be trusted."
            mend = "Name the organisation's certificate authority with cafile= instead, and remove strict-ssl=false."
            report.remark("warning", "npm-certificates-unchecked", entry.place, what, mend)
        if entry.key in ("proxy", "https-proxy", "http-proxy") and entry.value not in ("", "null", "false"):
            report.fact("proxy_configured", value=True, place=entry.place)


def _check_secret(entry: Entry, report: Gathering) -> None:
    """A credential that is written out where others can read it."""
    name = entry.key.rpartition(":")[2]
    path = entry.text.path if entry.text else None
    severity = report.tree.exposure(path) if path else None
    if name in SECRET_KEYS and entry.written_out and entry.value and severity:
        what = f"The {name} entry of {entry.key.rpartition(':')[0] or 'no registry'} is written out in a file of the work tree."
        mend = "Write ${NAME} for the value and set the variable on the agent; revoke the old one if it was shared."
        report.remark(severity, "npm-secret-in-work-tree", entry.place, what, mend)
    if entry.written_out and "://" in entry.value:
        report.check_password(entry.value, entry.text, entry.place)


def _check_key(entry: Entry, report: Gathering) -> None:
    """Credential entries that npm does not take."""
    address, colon, name = entry.key.rpartition(":")
    if name in SECRET_KEYS and not colon:
        what = f"{name} stands without a registry: npm 9 and later refuse to run with it, and npm 8 does not send it elsewhere."
        mend = f"Write it as //host/path/:{name}=… for the registry it belongs to."
        report.remark("warning", "npm-credential-without-registry", entry.place, what, mend)
    elif name in {key for pair in PAIRS for key in pair} and colon and not address.startswith("//"):
        what = f"No request takes the credential entry {entry.key}: its key has to begin with // and hold no protocol."
        mend = f"Write {re.sub(r'^.*?//', '//', address) if '//' in address else '//' + address.lstrip('/')}:{name}=…"
        report.remark("warning", "npm-credential-key-form", entry.place, what, mend)
    elif entry.key == "always-auth":
        what = "always-auth has had no effect since npm 7."
        report.remark("note", "npm-always-auth", entry.place, what, "Remove it; credentials go along by address.")


def _check_project(project: Project, report: Gathering) -> None:
    used: list[str] = []
    for key, entry in project.config.items():
        if key == "registry" or (key.startswith("@") and key.endswith(":registry")):
            used.append(entry.value)
            _download(project, key, entry, report)
    for text, manifest in project.packages:
        if "registry" not in project.config:
            report.routes.append(_route(("download", "default", BUILT_IN), None, None, None))
        for tool, needed in _engines(manifest):
            place = text.place_of(f'"{tool}"', needed)
            report.fact(f"{tool}_version_required", needed, place)
        used += _publish(project, text, manifest, report)
        _check_scripts(text, manifest, report)
    _check_variables(project, used, report)


def _download(project: Project, key: str, entry: Entry, report: Gathering) -> None:
    name = "default" if key == "registry" else key.partition(":")[0]
    along = credential(project.config, nerf_walk(slashed(entry.value)))
    unseen = _unseen(entry, along)
    report.routes.append(_route(("download", name, entry.value), entry.place, along, unseen))
    _check_http(entry.value, entry.place, along, report)
    if along is None and (other := other_path(project.config, entry.value)):
        what = f"Downloads for {name} go without credentials: the entry for this host stands under {other.address}."
        mend = f"If this registry wants a login, add an entry for {nerf_dart(slashed(entry.value))}."
        report.remark("note", "npm-credential-other-path", entry.place, what, mend)


def _publish(project: Project, text: SetupText, manifest: Mapping[str, Any], report: Gathering) -> list[str]:
    """The upload of one package; returns the registry it goes to."""
    given = manifest.get("publishConfig")
    publish_config = given if isinstance(given, Mapping) else {}
    name = str(manifest.get("name") or "")
    scope = name.partition("/")[0] if name.startswith("@") and "/" in name else ""
    wanted = next((v for k in (f"{scope}:registry", "registry") if isinstance(v := publish_config.get(k), str)), None)
    url, place, entry = _publish_target(project, text, publish_config, scope)
    if manifest.get("private") is True:
        _check_private(text, name, report, intended=wanted is not None)
        return []
    if url is None or not name or not (wanted or "version" in manifest):
        return []
    along = credential(project.config, iter([nerf_dart(url)]))
    along = along or credential(project.config, nerf_walk(slashed(url)))
    missing = "no .npmrc was read" if not project.files_read and along is None else None
    report.routes.append(_route(("upload", name, url), place, along, missing or _unseen(entry, along)))
    report.fact("npm_publish_registry", Address.of(url).bare, place)
    target = _Target(
        name=name, scope=scope, url=url, place=place, wanted=wanted, credential=along, intended=wanted is not None
    )
    _check_publish(target, project, report)
    return [url]


def _check_private(text: SetupText, name: str, report: Gathering, *, intended: bool) -> None:
    if intended:
        what = f"{name or 'The package'} names a registry to publish to but is private, so npm publish refuses it."
        mend = 'Remove "private": true if it is to be published, else remove publishConfig.'
        report.remark("warning", "npm-publish-private", text.place_of('"private"'), what, mend)


def _publish_target(
    project: Project, text: SetupText, publish_config: Mapping[str, Any], scope: str
) -> tuple[str | None, Place | None, Entry | None]:
    """Where npm publishes to: the scope's registry comes before `publishConfig.registry`."""
    candidates = (f"{scope}:registry", "registry") if scope else ("registry",)
    for key in candidates:
        own = publish_config.get(key)
        if isinstance(own, str) and own:
            return own, text.place_of(f'"{key}"', own), None
        if entry := project.config.get(key):
            return entry.value, entry.place, entry
    return None, None, None


def _check_publish(target: _Target, project: Project, report: Gathering) -> None:
    """Remarks on an upload whose package says itself where it wants to go, or whose scope has a registry."""
    own = target.wanted
    if own and Address.of(slashed(own)).bare != Address.of(slashed(target.url)).bare:
        what = (
            f"npm publishes {target.name} to {Address.of(target.url).bare}, not to {Address.of(own).bare} from publishConfig:"
            " the registry of the scope in .npmrc comes first."
        )
        mend = f'Name the address in publishConfig under "{target.scope}:registry".'
        report.remark("warning", "npm-publish-scope-wins", target.place, what, mend)
    _check_http(target.url, target.place, target.credential, report)
    if target.intended and target.credential is None:
        _no_credential(target, project, report)
    elif target.credential and target.credential.address != nerf_dart(target.url):
        what = (
            f"The credential entry {target.credential.address} takes requests, but npm publish (npm 7 and later) asks for"
            f" {nerf_dart(target.url)} and stops with ENEEDAUTH when that one is missing."
        )
        slash = (
            ""
            if target.url.endswith("/")
            else " End the registry's address with a slash, so that its last part counts."
        )
        mend = f"Add the entry {nerf_dart(target.url)}:_authToken=${{NAME}}.{slash}"
        report.remark("warning", "npm-publish-credential-not-exact", target.place, what, mend)


def _no_credential(target: _Target, project: Project, report: Gathering) -> None:
    key = f"{nerf_dart(slashed(target.url))}:_authToken"
    if other := other_path(project.config, target.url):
        what = f"npm publish to {Address.of(target.url).bare} finds no credential: the entry for this host stands under {other.address}."
        report.remark(
            "error", "npm-credential-other-path", other.entries[-1].place, what, f"Write the entry as {key}=${{NAME}}."
        )
    elif project.files_read:
        sure = project.user_file_read or any(is_credential(e) for e in project.config.values())
        what = (
            f"npm publish to {Address.of(target.url).bare} has no credential entry in the .npmrc files that were read."
        )
        mend = f"Add {key}=${{NAME}} to the .npmrc of the agent's user, or of the project, and set the variable."
        report.remark("error" if sure else "warning", "npm-publish-without-credential", target.place, what, mend)


def _check_http(url: str, place: Place | None, credential: Credential | None, report: Gathering) -> None:
    address = Address.of(url)
    if address.in_the_clear:
        along = ", and the credential goes along in plain text" if credential else ""
        what = f"The registry {address.bare} is reached without encryption{along}."
        report.remark("warning", "npm-plain-http", place, what, "Use the https:// address of the registry.")


def _check_variables(project: Project, used: Sequence[str], report: Gathering) -> None:
    """Variables that the given environment does not have."""
    addresses = {address for url in used for address in nerf_walk(slashed(url))}
    for entry in project.config.values():
        if not entry.undefined:
            continue
        matters = entry.key.endswith("registry") or entry.key.rpartition(":")[0] in addresses
        names = ", ".join(f"${{{name}}}" for name in entry.undefined)
        what = f"{entry.key} uses {names}, which the environment does not define; npm sends the text as it stands."
        mend = f"Set {' and '.join(entry.undefined)} in the environment of the step that runs npm."
        report.remark("error" if matters else "warning", "npm-variable-undefined", entry.place, what, mend)


def _check_scripts(text: SetupText, manifest: Mapping[str, Any], report: Gathering) -> None:
    """A private package whose own script publishes it."""
    scripts = manifest.get("scripts")
    if manifest.get("private") is not True or not isinstance(scripts, Mapping):
        return
    for name, script in islice(scripts.items(), 1000):
        commands = [c.strip() for c in re.split(r"&&|\|\||;", str(script)[:4096])]
        if any(c.startswith(("cd ", "pushd ")) for c in commands):
            continue
        if any((m := _PUBLISH.match(c)) and not _ELSEWHERE.search(_VALUED.sub("", m["rest"])) for c in commands):
            what = f"The script {name} runs npm publish, but the package is private: npm refuses with EPRIVATE."
            mend = 'Remove "private": true if it is to be published, else remove the command from the script.'
            report.remark("error", "npm-publish-private", text.place_of(f'"{name}"', "npm publish"), what, mend)


def _route(
    target: tuple[str, str, str], place: Place | None, credential: Credential | None, incomplete: str | None
) -> Route:
    direction, name, url = target
    return Route(
        direction="upload" if direction == "upload" else "download",
        kind="release" if direction == "upload" else "dependency",
        repository_id=name,
        url=url if url == BUILT_IN else Address.of(url).bare,
        declared=place,
        server_id=credential.key if credential else None,
        user=credential.user if credential else Address.of(url).user,
        incomplete=incomplete,
    )


def _unseen(*parts: Entry | Credential | None) -> str | None:
    """The variables whose values nobody gave."""
    entries = [e for part in parts if part for e in ((part,) if isinstance(part, Entry) else part.entries)]
    names = dict.fromkeys(name for entry in entries for name in entry.unknown)
    listed = ", ".join(f"${{{name}}}" for name in names)
    return f"the value of {listed} is not known without the environment" if names else None


def _engines(manifest: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    engines = manifest.get("engines")
    for tool in ("node", "npm"):
        if isinstance(engines, Mapping) and isinstance(engines.get(tool), str):
            yield tool, engines[tool]


def _manifest(text: SetupText, report: Gathering) -> Mapping[str, Any] | None:
    try:
        manifest = json.loads(text.text)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", 1)
        what = f"package.json is not valid JSON: {getattr(error, 'msg', 'nested too deeply')}."
        report.remark("error", "npm-package-invalid", text.place(line), what, "Mend the file at this line.")
        return None
    if isinstance(manifest, dict):
        return manifest
    report.remark("error", "npm-package-invalid", text.place(1), "package.json holds no object.", "Mend the file.")
    return None
