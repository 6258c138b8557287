"""Secrets in HTTP headers, as a client's verbose output, a wire log, a command line or JSON print them.

Header names after RFC 9110 (sections 11.6, 11.7) and RFC 6265; the `X-` names are from memory of services' own pages.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.masking.model import Secret
from logdoctor.masking.patterns import Pattern
from logdoctor.masking.values import is_mixed, is_placeholder

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["find_in_headers"]

_OPEN = r"""(?:\\{0,4}["'])?\s{0,4}(?:=>|[:=])\s{0,4}[\[(]?(?:\\{0,4}["'])?"""
_AUTHORIZATION = Pattern(
    r"(proxy[-_]?)?authorization"
    + _OPEN
    + r"(?:(?P<scheme>bearer|basic|token|negotiate|ntlm|digest|apikey|api-key|jwt|oauth|hawk|key|aws4-hmac-sha256|aws|sso-key)"
    r"(?:[ ]{1,4}|:[ ]?)(?:token=)?[\"']?)?"
    r"(?P<value>[^\s\"'\\<>\[\]{}]++)",
    re.IGNORECASE,
)
_BEARER = Pattern(r"\bbearer[ :=]{1,3}[\"']?([\w.~+/-]{12,}=*)", re.IGNORECASE)
_NAMED = Pattern(
    r"(?<![\w-])(x-api-key|private-token|job-token|deploy-token|x-auth-token|x-auth-key|x-vault-token"
    r"|x-access-token|x-jfrog-art-api|x-nuget-apikey|x-amz-security-token|x-goog-api-key|x-csrf-token|x-xsrf-token"
    r"|x-registry-auth|x-gitlab-token|x-hub-signature(?:-256)?|x-figma-token|x-[a-z-]{1,30}(?:token|api-key|secret)"
    r"|circle-token|ocp-apim-subscription-key|docker-token)" + _OPEN + r"([^\s\"'\\<>\[\],;]++)",
    re.IGNORECASE,
)
_COOKIE = Pattern(r"(?<![\w-])(set-)?cookie2?" + _OPEN + r"(?=[!#$%&*+.^_`|~\w-]{1,100}=)", re.IGNORECASE)
_PAIR = Pattern(r"\s{0,4}([!#$%&*+.^_`|~\w-]{1,100})=(\"?)([^\s;,\"'\\]*+)\"?(;|,)?")
_ATTRIBUTES = frozenset(
    "path domain expires max-age samesite version comment priority httponly secure".split()  # noqa: SIM905 -- a table of words reads better as text
)
_SESSION = Pattern(
    r"(?<![A-Za-z])(?:jsessionid|phpsessid|asp\.net_sessionid|sessionid|session_id|connect\.sid|sid|laravel_session)"
    r"=\"?([^\s;,&\"'<>?#\\]{12,})",
    re.IGNORECASE,
)
_DIGEST_RESPONSE = Pattern(r"\bresponse=\"?([0-9a-f]{32,})", re.IGNORECASE)


def find_in_headers(text: str, lowered: str) -> Iterator[Secret]:
    """Every secret that a header's name gives away."""
    if "authorization" in lowered:
        yield from _authorization(text)
    if "bearer" in lowered:
        for match in _BEARER.finditer(text):
            if is_mixed(match[1], 12) and not is_placeholder(match[1]):
                yield Secret(match.start(1), match.end(1), "bearer token")
    if "token" in lowered or "key" in lowered or "secret" in lowered or "x-" in lowered:
        yield from _named(text)
    if "cookie" in lowered:
        yield from _cookies(text)
    if "sid=" in lowered or "session" in lowered:
        for match in _SESSION.finditer(text):
            if is_mixed(match[1], 12):
                yield Secret(match.start(1), match.end(1), "session identifier")


def _authorization(text: str) -> Iterator[Secret]:
    for match in _AUTHORIZATION.finditer(text):
        scheme, value = (match["scheme"] or "").lower(), match["value"]
        if scheme == "digest":
            part = _DIGEST_RESPONSE.search(text, match.start("value"), match.end("value") + 2048)
            if part:
                yield Secret(part.start(1), part.end(1), "digest in an Authorization header")
            continue
        if is_placeholder(value) or value.lower().startswith(("realm=", "credential=")):
            continue
        if not scheme and not is_mixed(value):
            continue
        header = "Proxy-Authorization" if match[1] else "Authorization"
        kind = (
            f"{scheme.capitalize()} value in {'a' if match[1] else 'an'} {header} header"
            if scheme
            else (f"value of {'a' if match[1] else 'an'} {header} header")
        )
        yield Secret(match.start("value"), _trim(text, match.start("value"), match.end("value")), kind)


def _trim(text: str, start: int, end: int) -> int:
    while end > start + 1 and text[end - 1] in ",;)":
        end -= 1
    return end


def _named(text: str) -> Iterator[Secret]:
    for match in _NAMED.finditer(text):
        value = match[2]
        if not is_placeholder(value) and (is_mixed(value, 6) or len(value) >= 16):
            yield Secret(match.start(2), match.end(2), f"value of the header {match[1]}".replace("\n", " "))


def _cookies(text: str) -> Iterator[Secret]:
    for match in _COOKIE.finditer(text):
        place = match.end()
        kind = "cookie set by a server" if match[1] else "cookie sent to a server"
        while pair := _PAIR.match(text, place):
            if pair[1].lower() not in _ATTRIBUTES and len(pair[3]) >= 4 and not is_placeholder(pair[3]):
                yield Secret(pair.start(3), pair.end(3), kind)
            place = pair.end()
            if not pair[4] or pair[1].lower() in _ATTRIBUTES:
                break
