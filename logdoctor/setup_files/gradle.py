"""Gradle: the repositories that build and settings scripts name literally, for downloads and for publishing.

The scripts are read, not run: what is computed, or added by plugins and init scripts, is said to be unknown.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from logdoctor.setup_files.gathering import Gathering
from logdoctor.setup_files.gradle_properties import check_properties, check_wrapper, gradle_version, parse_properties
from logdoctor.setup_files.gradle_script import Block, Token, blocks
from logdoctor.setup_files.values import BUILT_IN, Route, RouteKind, Setup, Severity
from logdoctor.setup_files.work_tree import Address, WorkTree

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from logdoctor.setup_files.finding import SetupText

__all__ = ["read_gradle"]

MOST_REPOSITORIES = 2000
KNOWN = ("mavenCentral", "google", "gradlePluginPortal", "jcenter")
"""Repositories that Gradle knows the address of."""
URL_WORDS = frozenset(
    [
        "url",
        "setUrl",
        "uri",
        "URI",
        "URL",
        "create",
        "new",
        "java",
        "net",
        "toURI",
        "project",
        "rootProject",
        "this",
        "maven",
        "ivy",
        "repository",
    ]
)
"""Words that may stand around a literal address without changing it."""

_REFERENCE = re.compile(r"\$\{\s*(?:project\.|rootProject\.)?(\w+)\s*\}|\$(\w+)")
_LOOKUPS = frozenset(["findProperty", "property", "gradleProperty", "getProperty", "getenv", "environmentVariable"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Repository:
    """A repository as a script declares it."""

    block: Block
    path: tuple[str, ...]
    """The names of the blocks around it."""
    text: SetupText
    names: Mapping[str, str]
    """Values that are known by name: properties, and literals of the same script."""

    @property
    def publishing(self) -> bool:
        """Whether artifacts go there."""
        return bool({"publishing", "uploadArchives", "configure<PublishingExtension>"} & set(self.path))

    @property
    def kind(self) -> RouteKind:
        """What it is for."""
        if self.publishing:
            return "release"
        return "plugin" if {"pluginManagement", "buildscript"} & set(self.path) else "dependency"

    @property
    def of_project(self) -> bool:
        """Whether it is one of a project's own repositories for dependencies."""
        central = "dependencyResolutionManagement" in self.path
        return self.kind == "dependency" and not central and not self.text.path.name.startswith("settings.gradle")

    @property
    def conditional(self) -> bool:
        """Whether it may not be reached."""
        return bool({"if", "else", "when"} & set(self.path))

    def parts(self, *names: str) -> Iterator[Block]:
        """The parts that begin with one of the names."""
        return (part for part in self.block.parts if part.names and part.names[-1] in names)


@dataclass(slots=True, kw_only=True)
class _Scripts:
    """What the scripts of one set-up hold together."""

    environment: Mapping[str, str] | None
    version: tuple[int, ...] | None = None
    properties: dict[str, str] = field(default_factory=dict)
    repositories: list[Repository] = field(default_factory=list)
    modes: list[tuple[str, SetupText, int]] = field(default_factory=list)


def read_gradle(
    files: Sequence[Path], *, tree: WorkTree | None = None, environment: Mapping[str, str] | None = None
) -> Setup:
    """Facts, routes and remarks of Gradle's scripts and properties files."""
    report = Gathering(tree=tree or WorkTree())
    scripts = _Scripts(environment=environment)
    texts = report.read(files)
    for text in texts:
        _read_properties(text, scripts, report)
    for name, value in (environment or {}).items():
        if name.startswith("ORG_GRADLE_PROJECT_"):
            scripts.properties[name.removeprefix("ORG_GRADLE_PROJECT_")] = value
    for text in texts:
        if text.path.suffix in (".gradle", ".kts"):
            _read_script(text, scripts, report)
    for repository in scripts.repositories:
        _repository(repository, scripts, report)
    _check_modes(scripts, report)
    if any(t.path.name.startswith("build.gradle") for t in texts):
        report.incomplete.append(
            "repositories that Gradle plugins and init scripts add are not seen without running the build"
        )
    return report.setup()


def _read_properties(text: SetupText, scripts: _Scripts, report: Gathering) -> None:
    if text.path.name == "gradle-wrapper.properties":
        check_wrapper(text, report)
        scripts.version = gradle_version(parse_properties(text))
        if scripts.version:
            report.fact("gradle_version", ".".join(map(str, scripts.version)), text.place_of("distributionUrl"))
    elif text.path.name.endswith(".properties"):
        check_properties(text, report)
        # The Gradle home beats the project.
        own = {key: value for key, (value, _) in parse_properties(text).items()}
        at_home = not report.tree.holds(text.path)
        scripts.properties = {**scripts.properties, **own} if at_home else {**own, **scripts.properties}


def _read_script(text: SetupText, scripts: _Scripts, report: Gathering) -> None:
    parts = blocks(text.text)
    names = {**scripts.properties, **dict(_literals(parts))}
    waiting: list[tuple[Block, tuple[str, ...]]] = [(part, ()) for part in reversed(parts)]
    while waiting:
        block, path = waiting.pop()
        inside = "repositories" in path
        name = block.names[-1] if block.names else ""
        declares = name in ("maven", "ivy", *KNOWN) or (
            name in ("repository", "snapshotRepository") and "uploadArchives" in path
        )
        if inside and declares and len(scripts.repositories) < MOST_REPOSITORIES:
            scripts.repositories.append(Repository(block=block, path=path, text=text, names=names))
            continue
        scripts.modes += _modes(block, path, text)
        if block.names == ("apply",) and "from" in block.words:
            where = block.strings[0].text if block.strings else "a computed file"
            report.incomplete.append(f"{text.path} applies {Address.of(where).bare}, which is not followed")
        waiting += [(part, path + block.names) for part in reversed(block.parts)]


def _literals(parts: Sequence[Block]) -> Iterator[tuple[str, str]]:
    """`val name = "text"` and the like, on the outermost level."""
    for part in parts:
        shape = [token.text if token.kind == "sign" else token.kind for token in part.tokens]
        if shape[-3:] == ["word", "=", "text"] and not part.tokens[-1].computed and len(shape) <= 6:
            yield part.tokens[-3].text, part.tokens[-1].text


def _modes(block: Block, path: tuple[str, ...], text: SetupText) -> Iterator[tuple[str, SetupText, int]]:
    if "dependencyResolutionManagement" in path + block.names and "repositoriesMode" in block.words:
        for mode in ("FAIL_ON_PROJECT_REPOS", "PREFER_SETTINGS"):
            if mode in block.words:
                yield mode, text, block.line


def _repository(repository: Repository, scripts: _Scripts, report: Gathering) -> None:
    """Route and remarks of one repository."""
    block, text = repository.block, repository.text
    kind = block.names[-1]
    place = text.place(block.line)
    if kind in KNOWN:
        report.routes.append(_route(repository, kind, BUILT_IN, None))
        return
    url, unknown = _url(repository)
    name = _name(repository) or kind
    if url is None:
        said = f"the address of the repository {name} ({text.path}, line {block.line}) is computed by the build"
        report.incomplete.append(said)
        report.routes.append(_route(repository, name, unknown or "", said))
        return
    report.routes.append(_route(repository, name, url, _unseen_credentials(repository, name, scripts)))
    report.check_password(url, text, place)
    _check_http(repository, url, scripts, report)
    _check_credentials(repository, name, report)
    if repository.publishing and Address.of(url).host and not any(repository.parts("credentials")):
        what = f"Uploads to {name} go without credentials, as far as the script shows."
        mend = "Add credentials(PasswordCredentials::class) and set the two properties on the agent, if the repository wants a login."
        report.remark("note", "gradle-publish-without-credentials", place, what, mend)


def _url(repository: Repository) -> tuple[str | None, str | None]:
    """The address, or None and what is written in its place."""
    candidates = [repository.block, *repository.parts("url", "setUrl")]
    for part in reversed(candidates):
        plain = {w for w in part.words if w not in URL_WORDS}
        if part.strings and not plain:
            return _filled(part.strings[0], repository.names), part.strings[0].text
        if part is not repository.block and len(plain) == 1 and not part.strings:
            # `url = base`: a single name.
            return repository.names.get(plain.pop()), None
        if part is not repository.block or part.strings:
            return None, None
    return None, None


def _filled(token: Token, names: Mapping[str, str]) -> str | None:
    if not token.computed:
        return token.text
    filled = _REFERENCE.sub(lambda m: names.get(m[1] or m[2], m[0]), token.text)
    return None if "$" in filled else filled


def _name(repository: Repository) -> str | None:
    for part in repository.parts("name", "setName"):
        if part.strings and not part.strings[0].computed:
            return part.strings[0].text
    return None


def _route(repository: Repository, name: str, url: str, incomplete: str | None) -> Route:
    contents = {
        word for part in repository.parts("mavenContent", "content") for inner in part.parts for word in inner.words
    }
    user = _literal(repository, "username")
    typed = any("PasswordCredentials" in " ".join(part.words) for part in repository.parts("credentials"))
    address = Address.of(url)
    return Route(
        direction="upload" if repository.publishing else "download",
        kind=repository.kind,
        repository_id=name,
        url=BUILT_IN if url == BUILT_IN else address.bare,
        declared=repository.text.place(repository.block.line),
        server_id=f"{name}Username" if typed else None,
        user=user or address.user,
        releases="snapshotsOnly" not in contents,
        snapshots="releasesOnly" not in contents,
        incomplete=incomplete,
    )


def _literal(repository: Repository, *names: str) -> str | None:
    """A value inside the credentials block that is written out."""
    for credentials in repository.parts("credentials"):
        for part in credentials.parts:
            plain = part.words - {*names, "it", "this"}
            if part.names and part.names[-1] in names and part.strings and not plain:
                return None if part.strings[0].computed else part.strings[0].text
    return None


def _unseen_credentials(repository: Repository, name: str, scripts: _Scripts) -> str | None:
    """Properties and variables that the credentials come from and that no given file holds."""
    missing: list[str] = []
    for part in repository.parts("credentials"):
        if not part.parts and "PasswordCredentials" in " ".join(part.words):
            missing += [f"{name}{end}" for end in ("Username", "Password") if f"{name}{end}" not in scripts.properties]
        for inner in part.parts:
            if _LOOKUPS & inner.words:
                known = scripts.environment or {}
                missing += [
                    s.text for s in inner.strings[:1] if s.text not in scripts.properties and s.text not in known
                ]
    listed = ", ".join(dict.fromkeys(missing))
    return f"the credentials come from {listed}, which no file that was read holds" if missing else None


def _check_http(repository: Repository, url: str, scripts: _Scripts, report: Gathering) -> None:
    address = Address.of(url)
    # Gradle lets 127.0.0.1 pass, but not localhost (seen: memory).
    if address.scheme != "http" or address.host == "127.0.0.1":
        return
    place = repository.text.place(repository.block.line)
    allowed = any(
        "false" not in p.words
        for p in repository.parts("allowInsecureProtocol", "isAllowInsecureProtocol", "setAllowInsecureProtocol")
    )
    if allowed:
        severity: Severity = "warning" if any(repository.parts("credentials")) and not address.loopback else "note"
        what = f"{address.bare} is reached without encryption; the script allows it."
        report.remark(severity, "gradle-plain-http", place, what, "Use the https:// address of the repository.")
        return
    major = scripts.version[0] if scripts.version else None
    says = {None: "Gradle 7 and later refuse it", 6: "Gradle 6 warns, and Gradle 7 refuses it"}
    refuses = "Gradle refuses it" if major and major >= 7 else says.get(major, "newer versions of Gradle refuse it")
    what = f"{address.bare} is a plain http address, and allowInsecureProtocol is not set: {refuses}."
    mend = "Use its https:// address; allowInsecureProtocol = true only where the organisation's rules allow it."
    report.remark("error" if major and major >= 7 else "warning", "gradle-insecure-protocol", place, what, mend)


def _check_credentials(repository: Repository, name: str, report: Gathering) -> None:
    password = _literal(repository, "password", "value")
    if password:
        place = repository.text.place(repository.block.line)
        what = f"The password for {name} is written out in the build script."
        mend = "Read it from a Gradle property or an environment variable, and change it if the script was shared."
        report.remark(report.exposed(repository.text), "gradle-secret-in-script", place, what, mend)


def _check_modes(scripts: _Scripts, report: Gathering) -> None:
    """Repositories of a project where the settings forbid or ignore them."""
    roots = sorted(
        {text.path.parent for _, text, _ in scripts.modes}
        | {r.text.path.parent for r in scripts.repositories if r.text.path.name.startswith("settings.gradle")},
        key=lambda p: -len(p.parts),
    )
    for mode, settings, line in scripts.modes[:20]:
        for repository in scripts.repositories:
            path = repository.text.path
            own = next((root for root in roots if path.is_relative_to(root)), None)
            if not repository.of_project or own != settings.path.parent or "buildSrc" in path.relative_to(own).parts:
                continue
            fails = mode == "FAIL_ON_PROJECT_REPOS"
            what = f"{settings.path.name} line {line} {'forbids' if fails else 'passes over'} repositories of projects ({mode}), and this script declares one."
            mend = (
                "Move the repository into dependencyResolutionManagement { repositories { … } } of the settings script."
            )
            severity: Severity = "error" if fails and not repository.conditional else "warning"
            report.remark(
                severity, "gradle-project-repositories", repository.text.place(repository.block.line), what, mend
            )
