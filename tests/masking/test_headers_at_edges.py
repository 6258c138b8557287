"""Headers, cookies and commands at their edges: several in one text, where a value ends, what is no secret in them."""

from __future__ import annotations

import pytest

from logdoctor.masking import looks_secret, mask
from tests.masking.marked import as_printed, as_shown

V = "«h4rbour9p1lot»"
HEADERS = [
    # what one header says of itself does not end the search for the next one
    f"Authorization: Digest realm=x\nAuthorization: Token {V}", f"Authorization: ***\nAuthorization: Token {V}",
    f"Authorization: harbour\nAuthorization: Token {V}",
    "Authorization: Basic realm=fares9harbour", "Authorization: Basic Realm=fares9harbour",
    "Authorization: AWS4-HMAC-SHA256 Credential=fares-pilot",
    f"Authorization: Token {V}, next", f"Authorization: Token {V}); next", "Authorization: Token «a», next", "Authorization: Token «h4rbour9p1loX»",
    "Authorization: Token «h4rbour9p1lo») X",
    "Bearer «h4rbour9p1lo»", "Bearer harbourpilotboat", "sessionid=«h4rbour9p1lo»", "X-Hub-Signature: «a1b2c3»", "Ocp-Apim-Subscription-Key: «a1b2c3»",
    "X-Api-Key: «a1b2c3»", "X-Api-Key: a1b2c", "X-Api-Key: «harbourpilotboat»", "X-Api-Key: harbourpilotboa",
]  # fmt: skip
COOKIES = [
    "Cookie: a=«ab12»", "Cookie: a=abc", "Cookie: a=«h4rbour9» sent=2026x", "Set-Cookie: a=«h4rbour9»; Path=/; Mode=blue",
    "Set-Cookie: a=«h4rbour9»; path=/; Mode=blue", f"Cookie: a={V}\nCookie: b={V}", f"Set-Cookie: a={V}; Path=/\nSet-Cookie: b={V}; Path=/",
]  # fmt: skip
COMMANDS = [
    f"mkdir -p target9 && docker login -p {V}", "docker login -p '«h4r\",bour»' x", f'{{"cmd":"docker login -p {V}","exit":"1","z":"2"}}',
    "docker login -p -u fares9", "docker login -p <h4rbour9", "docker login -p file:h4rbour9", "docker login -p env:H4RBOUR9",
    f"tool -u fares:pilot9boat && curl -u fares:{V} x",
    f"docker login\t-p {V}", f"docker login\n-p {V}", "login fares password «harbour»", "machine h login fares password «harbour»",
    "settings {«COQLCE6DU6GtcS5PGtcS5PDU6GtcS5P=»}",
    "  -u 100000:100000", "  -u builder:builders", "  -u builder2:builder2", f"  -u builder:{V}",
]  # fmt: skip


@pytest.mark.parametrize("text", [*HEADERS, *COOKIES, *COMMANDS])
def test_the_value_is_masked_and_nothing_else(text: str) -> None:
    assert mask(as_printed(text)) == as_shown(text)


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("Authorization: h4rbour9p1lot", "value of an Authorization header"),
        ("Proxy-Authorization: h4rbour9p1lot", "value of a Proxy-Authorization header"),
        ("Bearer h4rbour9p1lot", "bearer token"),
        ("jsessionid=h4rbour9p1lot", "session identifier"),
        ("login fares password harbour", "password in a netrc entry"),
        ("Authorization: Token h4rbour9p1lot", "Token value in an Authorization header"),
        ("Proxy-Authorization: Token h4rbour9p1lot", "Token value in a Proxy-Authorization header"),
    ],
)
def test_a_kind_names_the_header_or_the_command(line: str, kind: str) -> None:
    assert looks_secret(line) == [kind]
