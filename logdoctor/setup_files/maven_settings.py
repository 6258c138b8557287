"""The settings file: servers, mirrors, proxies, profiles, and the master password beside it.

Passwords are looked at here and never kept: only their kind goes on.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from logdoctor.setup_files.maven_parts import Profile, profile_of
from logdoctor.setup_files.maven_text import Filled, Surroundings, fill
from logdoctor.setup_files.values import Place

if TYPE_CHECKING:
    from pathlib import Path

    from logdoctor.setup_files.xml import Node

__all__ = ["Master", "Mirror", "Password", "Proxy", "Server", "Settings", "master_of", "settings_of"]

PasswordKind = Literal["none", "plain", "encrypted", "variable", "placeholder"]

# Maven's guide to password encryption: the encrypted part stands in braces, with remarks allowed around it.
_ENCRYPTED = re.compile(r"(?<![\\$#])\{(?:\[[^\]]*\])?[A-Za-z0-9+/=\s]{16,}(?<!\\)\}")
_VARIABLE = re.compile(r"\$\{env\.([^${}]+)\}")
# What a job fills in before Maven reads the file: @NAME@, %NAME%, $NAME, __NAME__, <name>, {{ name }}.
_PLACEHOLDER = re.compile(r"(@[\w.-]+@|%\w+%|\$\w+|\$\{[^}]+\}|#\{[^}]+\}#?|__\w+__|<[\w -]+>|\{\{[^}]+\}\}|\*+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Password:
    """The kind of a password, and the variables it is filled in from; never its text."""

    kind: PasswordKind
    variables: tuple[str, ...] = ()
    place: Place | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """A server entry; `user` None: none, or only a key."""

    id: str
    user: Filled | None
    password: Password
    has_key: bool
    has_headers: bool
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Mirror:
    """A mirror entry."""

    id: str
    url: Filled
    of: str
    layouts: str
    blocked: bool
    place: Place | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proxy:
    """An active proxy entry."""

    protocol: str
    host: str
    no_proxy: tuple[str, ...]
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """A settings file, filled in as far as possible."""

    file: str
    servers: tuple[Server, ...] = ()
    mirrors: tuple[Mirror, ...] = ()
    proxies: tuple[Proxy, ...] = ()
    profiles: tuple[Profile, ...] = ()
    active_profiles: tuple[str, ...] = ()
    active_places: tuple[Place, ...] = ()
    local_repository: str | None = None
    references: tuple[tuple[str, Place], ...] = field(default=())
    """Every `${env.NAME}` of the file, with its line."""

    def server(self, name: str) -> Server | None:
        """The entry for an id; of several, Maven uses the first."""
        return next((each for each in self.servers if each.id == name), None)


def settings_of(root: Node, file: str, surroundings: Surroundings) -> Settings:
    """Read a `settings` element."""

    def filled(node: Node, *path: str) -> Filled:
        return fill(node.value(*path) or "", surroundings.lookup)

    active = [each for each in root.all("activeProfiles", "activeProfile") if each.text]
    return Settings(
        file=file,
        servers=tuple(_server(each, file, surroundings) for each in root.all("servers", "server")),
        mirrors=tuple(
            Mirror(
                id=filled(each, "id").text or "default",
                url=filled(each, "url"),
                of=filled(each, "mirrorOf").text,
                layouts=filled(each, "mirrorOfLayouts").text or "default,legacy",
                blocked=filled(each, "blocked").text == "true",
                place=Place(file=file, line=each.line),
            )
            for each in root.all("mirrors", "mirror")
        ),
        proxies=tuple(
            Proxy(
                protocol=filled(each, "protocol").text or "http",
                host=filled(each, "host").text,
                no_proxy=tuple(part for part in re.split(r"[|,\s]+", filled(each, "nonProxyHosts").text) if part),
                place=Place(file=file, line=each.line),
            )
            for each in root.all("proxies", "proxy")
            if filled(each, "active").text != "false"
        ),
        profiles=tuple(profile_of(each, file, "settings") for each in root.all("profiles", "profile")),
        active_profiles=tuple(fill(each.text, surroundings.lookup).text for each in active),
        active_places=tuple(Place(file=file, line=each.line) for each in active),
        local_repository=_certain(filled(root, "localRepository")),
        references=tuple(_references(root, file)),
    )


def _certain(filled: Filled) -> str | None:
    return None if filled.unknown else filled.text or None


def _server(node: Node, file: str, surroundings: Surroundings) -> Server:
    user = node.value("username")
    return Server(
        id=fill(node.value("id") or "default", surroundings.lookup).text,
        user=fill(user, surroundings.lookup) if user else None,
        password=_password(node.first("password"), file),
        has_key=node.value("privateKey") is not None,
        has_headers=node.first("configuration", "httpHeaders") is not None,
        place=Place(file=file, line=node.line),
    )


def _password(node: Node | None, file: str) -> Password:
    if node is None or not node.text:
        return Password(kind="none")
    place = Place(file=file, line=node.line)
    variables = tuple(_VARIABLE.findall(node.text))
    if variables:
        return Password(kind="variable", variables=variables, place=place)
    if _ENCRYPTED.search(node.text):
        return Password(kind="encrypted", place=place)
    return Password(kind="placeholder" if _PLACEHOLDER.fullmatch(node.text) else "plain", place=place)


def _references(node: Node, file: str) -> list[tuple[str, Place]]:
    found = [(name, Place(file=file, line=node.line)) for name in _VARIABLE.findall(node.text)]
    for child in node.children:
        found += _references(child, file)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Master:
    """The master password's file: whether it is there and holds one. `certain` False: it may lie where we can't look."""

    present: bool
    certain: bool
    place: Place | None = None


def master_of(root: Node | None, file: Path, *, certain: bool) -> Master:
    """What a `settingsSecurity` element tells; None: there is no such file."""
    if root is None:
        return Master(present=False, certain=certain)
    there = root.value("master") is not None or root.value("relocation") is not None
    return Master(present=there, certain=True, place=Place(file=str(file), line=root.line))
