"""Whose a name is: the project's own organisation's, by the code host and the project's group, or another's.

That a package name begins with the owner's domain turned round is the naming rule of the Java Language Specification
(section 6.1); scopes and module paths follow the same habit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from logdoctor.model import FactValue

__all__ = ["Owner", "belonging_facts", "owner_in", "owner_of_groups"]

_CODE_HOST = lazy(
    r"\b(?:git|[Cc]loning|[Ff]etching|[Cc]heckout|[Ss]yncing)\b.*?"
    r"(?:\b(?:https?|ssh|git)://(?:[^@/\s]+@)?|\bgit@)(?P<host>[a-zA-Z\d-]+(?:\.[a-zA-Z\d-]+){2,})(?=[:/])"
)
_BANNER = lazy(r"-{3,}< (?P<group>[\w.-]+):[\w.-]+ >-{3,}")
_SHARED_GROUPS = frozenset({"com.github", "io.github", "com.gitlab", "io.gitlab", "org.bitbucket"})
_SHORT_SUFFIX = 3
_NAMED = ("class", "artifact", "package", "module", "name", "missing", "plugin")
_DOTTED = lazy(r"[a-z][\w-]*(?:\.[\w-]+)+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """Domains and package prefixes of the organisation whose build it is."""

    domains: frozenset[str] = frozenset()
    prefixes: frozenset[str] = frozenset()

    def owns_host(self, host: str) -> bool | None:
        """Whether a host lies in one of the domains; None where no domain or no real name is known."""
        if not self.domains or "." not in host or not re.search(r"[a-z]", host):
            return None
        return any(host == domain or host.endswith("." + domain) for domain in self.domains)

    def owns_name(self, name: str) -> bool | None:
        """Whether a class, coordinates, a scoped package or a module path is the organisation's; None where it can't be told."""
        prefixes = self.prefixes | {".".join(reversed(domain.split("."))) for domain in self.domains}
        if not prefixes:
            return None
        if name.startswith("@"):
            scope = name[1:].partition("/")[0].lower()
            return scope in {prefix.split(".")[-1].lower() for prefix in prefixes}
        host = name.partition("/")[0]
        if "/" in name and self.owns_host(host):
            return True
        dotted = name.partition(":")[0].replace("/", ".")
        if not _DOTTED.fullmatch(dotted.partition("$")[0]):
            return None
        return any(dotted == prefix or dotted.startswith(prefix + ".") for prefix in prefixes)


def owner_in(lines: Iterable[str]) -> Owner:
    """The owner by lines of a log: its code host, and the group of the project that is built."""
    hosts: set[str] = set()
    groups: set[str] = set()
    for text in lines:
        if match := _CODE_HOST.search(text):
            hosts.add(match["host"].lower())
        if match := _BANNER.search(text):
            groups.add(match["group"])
    domains = {_domain(host) for host in hosts}
    return Owner(domains=frozenset(d for d in domains if d), prefixes=owner_of_groups(groups).prefixes)


def owner_of_groups(groups: Iterable[str]) -> Owner:
    """The owner by the groups (or scopes) of its projects: their first two parts, three where two are shared by many."""
    found = set()
    for group in groups:
        parts = group.split(".")
        first = ".".join(parts[:2])
        found.add(".".join(parts[:3]) if first in _SHARED_GROUPS else first)
    return Owner(prefixes=frozenset(found))


def _domain(host: str) -> str | None:
    """The host without its own label; None where that is no domain of one organisation."""
    rest = host.split(".")[1:]
    # "co.uk" and the like are no organisation's.
    least = 3 if len(rest[-1]) < _SHORT_SUFFIX and len(rest[-2]) <= _SHORT_SUFFIX and len(rest) > 2 else 2
    domain = ".".join(rest[-least:])
    return None if len(rest) == 2 and _is_suffix(rest) else domain


def _is_suffix(parts: list[str]) -> bool:
    return len(parts[-1]) < _SHORT_SUFFIX and len(parts[0]) < _SHORT_SUFFIX


def belonging_facts(
    owner: Owner, known: Mapping[str, FactValue], asked: Iterable[str] = ()
) -> Iterator[tuple[str, FactValue]]:
    """Whether the name in the message and the host of the request (or one of those `asked`) are the organisation's own."""
    told = [owner.owns_name(str(known[key])) for key in _NAMED if known.get(key)]
    if said := [answer for answer in told if answer is not None]:
        yield "named_is_ours", any(said)
    hosts = [str(known["host"])] if known.get("host") else list(asked)
    owned = [owner.owns_host(host.lower()) for host in hosts]
    if ours := [answer for answer in owned if answer is not None]:
        yield "host_is_ours", any(ours)
