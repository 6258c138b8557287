"""Which mirror takes a repository, as Maven's guide to mirror settings defines it.

A mirror whose `mirrorOf` is exactly the repository's id wins; else the first one in the file whose pattern fits.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from logdoctor.setup_files.maven_settings import Mirror
from logdoctor.setup_files.maven_text import Filled, version_numbers
from logdoctor.setup_files.values import BUILT_IN
from logdoctor.setup_files.work_tree import Address

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = [
    "BLOCKER_ID",
    "blocks_http",
    "host_of",
    "is_external",
    "mirror_for",
    "mirrors_of",
    "plain_address",
    "scheme_of",
]

BLOCKER_ID = "maven-default-http-blocker"
_FIRST_THAT_BLOCKS = (3, 8, 1)
"""Maven 3.8.1 release notes: external http addresses are blocked by default."""


def scheme_of(url: str) -> str:
    """The scheme in lower case, empty where there is none; `dav:http` stays whole."""
    found = re.match(r"((?:dav:)?[A-Za-z][A-Za-z0-9+.-]*):", url)
    return found[1].lower() if found and url != BUILT_IN else ""


def host_of(url: str) -> str:
    """The host as written, without port and user; empty where there is none."""
    try:
        return (urlsplit(url.removeprefix("dav:")).hostname or "") if url != BUILT_IN else ""
    except ValueError:
        return ""


def plain_address(url: str) -> str:
    """The address without user and password."""
    return Address.of(url).bare if "@" in url else url


def is_external(url: str) -> bool:
    """Neither this machine by one of its two usual names nor a folder."""
    return url == BUILT_IN or not (host_of(url) in {"localhost", "127.0.0.1"} or scheme_of(url) == "file")


def is_external_http(url: str) -> bool:
    """External and without encryption."""
    return scheme_of(url) in {"http", "dav", "dav:http", "dav+http"} and is_external(url)


def blocks_http(version: str | None) -> bool | None:
    """Whether this version has the default mirror that blocks plain http; None: the version is not known."""
    numbers = version_numbers(version)
    return numbers >= _FIRST_THAT_BLOCKS if numbers else None


def mirrors_of(mirrors: Sequence[Mirror], version: str | None) -> tuple[Mirror, ...]:
    """The mirrors as this version understands them, and its default one, unless the settings redefine that one's id.

    Before 3.8.1 neither `blocked` nor `external:http:*` meant anything.
    """
    if blocks_http(version) is False:
        patterns = [",".join(part for part in each.of.split(",") if part != "external:http:*") for each in mirrors]
        return tuple(replace(each, of=of, blocked=False) for each, of in zip(mirrors, patterns, strict=True))
    if not blocks_http(version) or any(each.id == BLOCKER_ID for each in mirrors):
        return tuple(mirrors)
    blocker = Mirror(
        id=BLOCKER_ID,
        url=Filled(text="http://0.0.0.0/"),
        of="external:http:*",
        layouts="default,legacy",
        blocked=True,
        place=None,
    )
    return (*mirrors, blocker)


def mirror_for(repository_id: str, url: str, layout: str, mirrors: Sequence[Mirror]) -> Mirror | None:
    """The mirror that takes a repository, None where it is asked directly."""
    fitting = [each for each in mirrors if takes_layout(each.layouts, layout)]
    exact = next((each for each in fitting if each.of == repository_id), None)
    return exact or next((each for each in fitting if takes(each.of, repository_id, url)), None)


def takes(pattern: str, repository_id: str, url: str) -> bool:
    """Whether a `mirrorOf` takes a repository: an id or its exclusion decides at once, a wildcard may still be revoked."""
    taken = False
    for part in pattern.split(","):
        if len(part) > 1 and part.startswith("!"):
            if part[1:] == repository_id:
                return False
        elif part == repository_id:
            return True
        else:
            taken = taken or _wildcard_takes(part, url)
    return taken


def _wildcard_takes(part: str, url: str) -> bool:
    if part == "external:*":
        return is_external(url)
    return part == "*" or (part == "external:http:*" and is_external_http(url))


def takes_layout(layouts: str, layout: str) -> bool:
    """Whether `mirrorOfLayouts` takes a layout."""
    taken = layouts in {"", "*", layout}
    for part in layouts.split(","):
        if len(part) > 1 and part.startswith("!"):
            if part[1:] == layout:
                return False
        elif part == layout:
            return True
        elif part == "*":
            taken = True
    return taken
