"""The `.npmrc` format of npm, and which credential entry a request to an address takes.

The format is that of npm's ini files with variables put in; the choice of the entry follows npm's documentation
(npmrc, "Auth related configuration"): the longest address that begins the request's own.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.setup_files.work_tree import Address

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from logdoctor.setup_files.finding import SetupText
    from logdoctor.setup_files.values import Place

__all__ = [
    "PAIRS",
    "SECRET_KEYS",
    "Credential",
    "Entry",
    "credential",
    "environment_entries",
    "is_credential",
    "nerf_dart",
    "nerf_walk",
    "other_path",
    "parse_npmrc",
    "slashed",
]

SECRET_KEYS = ("_authToken", "_auth", "_password")
PAIRS = (("_authToken",), ("_auth",), ("username", "_password"), ("certfile", "keyfile"))
"""In the order in which npm looks for them; of the last two both keys have to be there."""

MOST_SETTINGS = 2000

_VARIABLE = re.compile(r"(?<!\\)(\\*)\$\{([^${}?]+)(\?)?\}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One setting: its value after variables were put in, and the variables that are missing or not known."""

    key: str
    value: str
    place: Place | None
    text: SetupText | None = None
    written_out: bool = True
    undefined: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Credential:
    """The entry that goes along with a request."""

    address: str
    entries: tuple[Entry, ...]

    @property
    def key(self) -> str:
        """The key of the entry that matters."""
        return self.entries[-1].key

    @property
    def user(self) -> str | None:
        """The account, where it is written."""
        first = self.entries[0]
        return first.value if first.key.endswith(":username") else None


def parse_npmrc(text: SetupText, environment: Mapping[str, str] | None) -> list[Entry]:
    """The settings of one file; later ones win. Sections are not npm's and are left out."""
    entries: list[Entry] = []
    for number, line in enumerate(text.text.replace("\r\n", "\n").split("\n"), start=1):
        bare = line.strip()
        if bare.startswith("[") or len(entries) >= MOST_SETTINGS:
            break
        if not bare or bare[0] in ";#":
            continue
        key, equals, value = bare.partition("=")
        raw = _unquoted(value) if equals else "true"
        entries.append(_entry(_unquoted(key).removesuffix("[]"), raw, text.place(number), environment, text))
    return entries


def nerf_dart(url: str) -> str:
    """The address of a registry without its protocol, up to its last slash: the key of `npm publish`."""
    return f"//{_authority(url)}{_path(url).rpartition('/')[0]}/"


def nerf_walk(url: str) -> Iterator[str]:
    """The addresses under which a request looks for a credential, the longest first."""
    address = f"//{_authority(url)}{_path(url)}"
    while len(address) > 2:
        yield address
        address = re.sub(r"(?:[^/]+|/)$", "", address)


def _authority(url: str) -> str:
    address = Address.of(url)
    port = None if (address.scheme, address.port) in (("http", 80), ("https", 443)) else address.port
    host = f"[{address.host}]" if ":" in address.host else address.host
    return host + (f":{port}" if port else "")


def _path(url: str) -> str:
    return Address.of(url).path or "/"


def _unquoted(value: str) -> str:
    """A key or value as the ini format of npm reads it: quotes off, a comment at its end off."""
    value = value.strip()
    if len(value) >= 2 and value[0] == value[-1] and value[0] in "\"'":
        return value[1:-1]
    cut = re.split(r"(?<!\\)[;#]", value, maxsplit=1)[0].strip()
    return re.sub(r"\\([\\;#])", r"\1", cut)


def _entry(
    key: str, raw: str, place: Place | None, environment: Mapping[str, str] | None, text: SetupText | None
) -> Entry:
    undefined: list[str] = []
    unknown: list[str] = []

    def put_in(match: re.Match[str]) -> str:
        name, optional = match[2], match[3]
        if len(match[1]) % 2:
            return match[0][1:]
        if environment is None:
            unknown.append(name)
        elif name in environment:
            return environment[name]
        elif optional:
            return ""
        else:
            undefined.append(name)
        return match[0]

    value = _VARIABLE.sub(put_in, raw)
    return Entry(
        key=_VARIABLE.sub(put_in, key),
        value=value,
        place=place,
        text=text,
        written_out=not _VARIABLE.search(raw),
        undefined=tuple(undefined),
        unknown=tuple(unknown),
    )


def environment_entries(environment: Mapping[str, str] | None) -> list[Entry]:
    """Settings that npm takes from the environment: `npm_config_registry` and the like, in any case."""
    entries = []
    for name, value in (environment or {}).items():
        if name[:11].lower() == "npm_config_" and value:
            key = name[11:]
            if not key.startswith(("//", "@")):
                key = key[:1].lower() + key[1:].lower().replace("_", "-")
            entries.append(_entry(key, value, None, None, None))
    return entries


def slashed(url: str) -> str:
    """The address with a slash at its end: what a request to a registry begins with."""
    return url if url.endswith("/") else url + "/"


def credential(config: Mapping[str, Entry], addresses: Iterable[str]) -> Credential | None:
    """The credential under the first of the addresses that has a whole one."""
    for address in addresses:
        for keys in PAIRS:
            entries = tuple(config[k] for key in keys if (k := f"{address}:{key}") in config and config[k].value)
            if len(entries) == len(keys):
                return Credential(address=address, entries=entries)
    return None


def is_credential(entry: Entry) -> bool:
    """Whether the entry is a credential for an address."""
    return entry.key.startswith("//") and entry.key.rpartition(":")[2] in {key for pair in PAIRS for key in pair}


def other_path(config: Mapping[str, Entry], url: str) -> Credential | None:
    """A credential for the same host that a request to this address does not take."""
    host = Address.of(url).host
    for entry in config.values():
        address = entry.key.rpartition(":")[0]
        if host and is_credential(entry) and entry.value and Address.of(f"https:{address}").host == host:
            return Credential(address=address, entries=(entry,))
    return None
