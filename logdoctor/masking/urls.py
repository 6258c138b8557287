"""Secrets inside addresses: user information (RFC 3986, section 3.2.1), signed queries, and secret paths."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.lazy import lazy
from logdoctor.masking.model import Secret
from logdoctor.masking.patterns import Pattern
from logdoctor.masking.values import is_placeholder, is_random

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["URL_SECRET", "find_in_urls"]

URL_SECRET: re.Pattern[bytes] = lazy(rb"://[^\s/@:\"'<>]*+(?:@|:(?:[^\s/@\"'<>]*+@|(?!\d{1,5}/)[^\s@\"'<>]{1,256}+@))")
"""Picks, in bytes, the text that may hold user information; wider than `find_in_urls`, which decides."""

KIND_PASSWORD = "password in a URL"  # noqa: S105 -- the name of a kind
KIND_TOKEN = "token in a URL"  # noqa: S105 -- the name of a kind
ORACLE = "password in a database address"

_USERINFO = Pattern(r"://([^\s/?#\"'<>]*+)")
# A password that should have been encoded: a slash, question mark or hash in it. A port before the slash is no password.
_RAW = Pattern(r"://([^\s/:@\"'<>]{0,128}):(?!\d{1,5}/)([^\s@\"'<>]{1,256})@(?=[\w\[.-])")
_DIGEST = Pattern(r"sha(?:1|256|384|512):")
_ORACLE = Pattern(r":(?:thin|oci8?):([^\s/@:\"']{1,64})/([^\s@\"']{1,128})@", re.IGNORECASE)
_NO_PASSWORDS = ("", "x-oauth-basic")
"""What stands in the password's place when the user is the token."""
_WEBHOOKS: tuple[tuple[str, str, Pattern], ...] = (
    (
        "/services/t",
        "webhook address of a chat service",
        Pattern(r"/services/(T[A-Z0-9]{6,16}/B[A-Z0-9]{6,16}/[A-Za-z0-9]{16,})"),
    ),
    ("/webhooks/", "webhook address with a secret path", Pattern(r"/webhooks/(?:\d{15,22}/)([\w-]{40,})")),
    (
        "webhookb2",
        "webhook address of a meeting service",
        Pattern(r"/webhookb2/([0-9a-fA-F-]{36}@[0-9a-fA-F-]{36}/\w{1,40}/[0-9a-f]{32}/[0-9a-fA-F-]{36}[\w/-]*+)"),
    ),
    ("/bot", "token of a chat bot", Pattern(r"/bot(\d{8,12}:[\w-]{30,})")),
)


def find_in_urls(text: str, lowered: str) -> Iterator[Secret]:
    """Every secret that the form of an address gives away."""
    if "://" in text and "@" in text:
        yield from _user_information(text)
    if "@" in text and (":thin:" in lowered or ":oci" in lowered):
        for match in _ORACLE.finditer(text):
            if not is_placeholder(match[2]):
                yield Secret(match.start(2), match.end(2), ORACLE)
    for hint, kind, pattern in _WEBHOOKS:
        if hint in lowered:
            yield from (Secret(match.start(1), match.end(1), kind) for match in pattern.finditer(text))


def _user_information(text: str) -> Iterator[Secret]:
    for match in _USERINFO.finditer(text):
        authority = match[1]
        at = authority.rfind("@")
        if at >= 0 and not _DIGEST.match(text, match.start(1) + at + 1):
            yield from _parts(authority[:at], match.start(1))
        elif at < 0 and (raw := _RAW.match(text, match.start())):
            hidden = is_placeholder(raw[2]) or _DIGEST.match(text, raw.end())
            yield from () if hidden else (Secret(raw.start(2), raw.end(2), KIND_PASSWORD),)


def _parts(user_information: str, start: int) -> Iterator[Secret]:
    user, colon, password = user_information.partition(":")
    if is_random(user) and not is_placeholder(user):
        yield Secret(start, start + len(user), KIND_TOKEN)
    if colon and password not in _NO_PASSWORDS and not is_placeholder(password):
        yield Secret(start + len(user) + 1, start + len(user_information), KIND_PASSWORD)
