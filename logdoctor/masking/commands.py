"""Secrets on command lines where no telling name stands beside them: `-u user:password`, `-p x`, a piped password.

Options after the commands' own manual pages (seen: memory).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.masking.model import Secret
from logdoctor.masking.patterns import Pattern
from logdoctor.masking.values import is_placeholder, is_random

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["find_in_commands"]

_QUOTED = r"(?:\"([^\"\n]+)\"|'([^'\n]+)'|([^\s\"'][^\s]*))"
_HTTP_USER = Pattern(
    r"(?:(?<=\s)|^)(?:-[a-zA-Z]{0,8}u[ =]{0,2}|--(?:proxy-)?user[ =]{1,2}|--creds[ =]{1,2}|-U[ ]{0,2})"
    r"[\"']?([^\s\"':@/]{1,128}):([^\s\"'\n]+)"
)
_LFTP_USER = Pattern(r"(?<=\s)-u[ ]{0,2}[\"']?[^\s\"',]{1,128},([^\s\"'\n]+)")
_ALONE = Pattern(r"^[\s+]{1,20}(?:-u|--user)[ =][\"']?([^\s\"':@/]{1,128}):([^\s\"'\n]{6,})", re.MULTILINE)
_SHORT_P = Pattern(r"(?<=\s)-p(?:[ =]{1,2}|(?=[\"']))" + _QUOTED)
_SHORT_P_ATTACHED = Pattern(r"(?<=\s)-p" + _QUOTED)
_SHORT_P_EITHER = Pattern(r"(?<=\s)-p[ ]{0,2}" + _QUOTED)
_SHORT_K = Pattern(r"(?<=\s)-k[ ]{1,2}" + _QUOTED)
_SHORT_A = Pattern(r"(?<=\s)-a[ ]{1,2}" + _QUOTED)
_SHORT_W = Pattern(r"(?<=\s)-w[ ]{0,2}" + _QUOTED)
_PIPED = Pattern(r"\b(?:echo|printf)[ ]{1,2}(?:-[ne]{1,2}[ ])?(?:[\"']?%s(?:\\n)?[\"']? )?" + _QUOTED + r"\s{0,3}\|")
_PASS_SCHEME = Pattern(r"(?<=\s)-(?:pass|passin|passout|passwd)[ ]{1,2}pass:" + _QUOTED)
_NETRC = Pattern(r"\blogin[ ]{1,3}\S{1,128}[ ]{1,3}password[ ]{1,3}(\S+)")
_ENCRYPT = Pattern(r"(?<=\s)(?:-emp|-ep|--encrypt-(?:master-)?password)[ ]{1,2}" + _QUOTED)
_LOGIN_TOKEN = Pattern(r"\b(?:cargo login|vault login|nuget setapikey)[ ]{1,2}(?:token=)?" + _QUOTED, re.IGNORECASE)
_BASIC_SETTING = Pattern(r"\bhttp-basic\.\S{1,100}[ ]{1,2}\S{1,100}[ ]{1,2}" + _QUOTED)
_TOKEN_SETTING = Pattern(r"\b(?:pypi-token|bearer|gitlab-token|github-oauth)\.\S{1,100}[ ]{1,2}" + _QUOTED)
_BUNDLE = Pattern(r"\b(?:BUNDLE_[A-Z0-9_]{3,100}=|bundle config .{0,60}? )[\"']?[^\s:\"'/]{1,100}:(?!/)([^\s\"']+)")

# A here-string after a command that reads a secret from its standard input; not the `<<<<<<<` of a merge conflict.
_READS_SECRET = Pattern(r"token|passw|pass-?phrase|secret|(?:api|access)-key|\blogin\b|\bsudo -S", re.IGNORECASE)
_HERE_STRING = Pattern(r"(?<!<)<<<(?!<)[ \t]{0,3}" + _QUOTED)
_INTO_STDIN = Pattern(
    r"\b(?:echo|printf)[ ]{1,2}(?:-[ne]{1,2}[ ])?(?:[\"']?%s(?:\\n)?[\"']? )?" + _QUOTED + r"\s{0,3}\|[^|\n]{1,200}?"
    r"(?:--with-token|-token-stdin|--passphrase-fd|--pass-stdin|\b(?:cargo|npm|helm registry|vault) login)\b"
)
# Commands that take a key's name, or a verb, in the same place: only what looks random counts.
_GEM_KEY = Pattern(r"(?<=\s)-k[ =]{1,2}" + _QUOTED)
_AUTH = Pattern(
    r"(?:^|(?<=\s))(?:[\w./@-]{2,60} (?:auth|authtoken)|[\w./@-]{2,60} config add-authtoken)[ ]{1,2}"
    + _QUOTED
    + r"(?=[ \t\r]*(?:$|[-&|;>]))",
    re.MULTILINE,
)
_SOURCE_KEY = Pattern(
    r"<add\s{1,4}key=(\\?[\"'])https?://[^\"'<>\s]{1,500}\1\s{1,4}value=(\\?[\"'])([^\"'<>\s\\]++)", re.IGNORECASE
)

# word that must stand in the line (lower case), pattern of the command, pattern of the option, kind
_COMMANDS: tuple[tuple[str, Pattern, Pattern, str], ...] = (
    ("login", Pattern(r"\b(?:login|logon)\b"), _SHORT_P, "password after -p of a login command"),
    ("twine", Pattern(r"\btwine\b"), _SHORT_P, "password after -p of an upload command"),
    ("sshpass", Pattern(r"\bsshpass\b"), _SHORT_P_EITHER, "password after -p of sshpass"),
    ("mysql", Pattern(r"\bmysql\w*(?=\s)"), _SHORT_P_ATTACHED, "password after -p of a database client"),
    (
        "mariadb",
        Pattern(r"\bmariadb(?:-\w+)?(?=\s)"),
        _SHORT_P_ATTACHED,
        "password after -p of a database client",
    ),
    (
        "mongo",
        Pattern(r"\bmongo(?:sh|dump|restore|export|import)?(?=\s)"),
        _SHORT_P,
        "password after -p of a database client",
    ),
    ("redis-cli", Pattern(r"\bredis-cli\b"), _SHORT_A, "password after -a of a database client"),
    (
        "ldap",
        Pattern(r"\bldap(?:search|add|modify|delete|whoami|passwd)\b"),
        _SHORT_W,
        "password after -w of a directory client",
    ),
    ("nuget push", Pattern(r"\bnuget push\b"), _SHORT_K, "key after -k of an upload command"),
    ("openssl", Pattern(r"\bopenssl\b"), _SHORT_K, "password after -k of openssl"),
    ("pass:", Pattern(r"(?=-pass)"), _PASS_SCHEME, "password after pass: of openssl"),
    ("password-stdin", Pattern(r"^"), _PIPED, "password piped to a login command"),
    ("sudo -s", Pattern(r"^"), _PIPED, "password piped to sudo"),
    ("-emp ", Pattern(r"(?=\s-emp )"), _ENCRYPT, "password given to be encrypted"),
    ("-ep ", Pattern(r"(?=\s-ep )"), _ENCRYPT, "password given to be encrypted"),
    ("encrypt-", Pattern(r"(?=\s--encrypt-)"), _ENCRYPT, "password given to be encrypted"),
    ("cargo login", Pattern(r"^"), _LOGIN_TOKEN, "token after a login command"),
    ("vault login", Pattern(r"^"), _LOGIN_TOKEN, "token after a login command"),
    ("nuget setapikey", Pattern(r"^"), _LOGIN_TOKEN, "key after a login command"),
    ("http-basic.", Pattern(r"^"), _BASIC_SETTING, "password in a setting command"),
    ("-token.", Pattern(r"^"), _TOKEN_SETTING, "token in a setting command"),
    ("bundle", Pattern(r"^"), _BUNDLE, "password of a package source"),
    ("nuget ", Pattern(r"\bnuget (?:add|update|sources)\b"), _SHORT_P, "password of a package source"),
    ("conan", Pattern(r"\bconan (?:user|remote)\b"), _SHORT_P, "password after -p of a login command"),
    ("--with-token", Pattern(r"^"), _INTO_STDIN, "token piped to a login command"),
    ("-token-stdin", Pattern(r"^"), _INTO_STDIN, "token piped to a login command"),
    ("--passphrase-fd", Pattern(r"^"), _INTO_STDIN, "passphrase piped to a command"),
    ("login", Pattern(r"^"), _INTO_STDIN, "token piped to a login command"),
    ("<<<", _READS_SECRET, _HERE_STRING, "secret in a here-string"),
    ("lftp", Pattern(r"\blftp\b"), _LFTP_USER, "password after -u of a transfer command"),
)
_DASHED = frozenset(
    [_SHORT_P, _SHORT_P_ATTACHED, _SHORT_P_EITHER, _SHORT_K, _SHORT_A, _SHORT_W, _PASS_SCHEME, _ENCRYPT, _LFTP_USER]
)
_WITHOUT_DASH = tuple(row for row in _COMMANDS if row[2] not in _DASHED)
"""Rows whose option needs no dash behind a blank: the only ones for most lines of a log."""
_ONLY_RANDOM: tuple[tuple[str, Pattern, Pattern, str], ...] = (
    ("gem push", Pattern(r"\bgem push\b"), _GEM_KEY, "key after -k of an upload command"),
    (" auth ", Pattern(r"^"), _AUTH, "token after an auth command"),
    ("authtoken ", Pattern(r"^"), _AUTH, "token after an auth command"),
    ("<add ", Pattern(r"^"), _SOURCE_KEY, "key of a package source"),
)
_HTTP_CLIENT = Pattern(
    r"(?:^|[\s/;&|(`\"'])(?:curl|wget|lftp|ncftpput|jfrog|jf|rclone|skopeo|oras|helm|ab|aria2c)"
    r"(?:\.exe)?(?=\s)"
)


def find_in_commands(text: str, lowered: str) -> Iterator[Secret]:
    """Every secret that a command and its option give away."""
    dashed = " -" in text or "\t-" in text or "\n-" in text
    for hint, command, option, kind in _COMMANDS if dashed else _WITHOUT_DASH:
        if hint in lowered and (place := command.search(text)):
            yield from _values(option, text, place.end(), kind)
    for hint, command, option, kind in _ONLY_RANDOM:
        if hint in lowered and (place := command.search(text)):
            found = _values(option, text, place.end(), kind)
            yield from (secret for secret in found if is_random(text[secret.start : secret.end].rstrip("=")))
    if "login" in lowered and "password" in lowered:
        yield from _values(_NETRC, text, 0, "password in a netrc entry")
    if dashed:
        yield from _user_options(text)


def _user_options(text: str) -> Iterator[Secret]:
    client = _HTTP_CLIENT.search(text)
    if client is not None:
        for match in _HTTP_USER.finditer(text, client.end()):
            yield from _password_of(match, text)
    elif ":" in text:
        for match in _ALONE.finditer(text):
            # A container's `-u 1000:1000` or `-u build:build` names a user and a group.
            if not match[2].isdigit() and match[2] != match[1] and not match[2].isalpha():
                yield from _password_of(match, text)


def _password_of(match: re.Match[str], text: str) -> Iterator[Secret]:
    start, end = match.span(2)
    if not is_placeholder(text[start:end]):
        yield Secret(start, end, "password after -u of an HTTP client")


def _values(option: Pattern, text: str, place: int, kind: str) -> Iterator[Secret]:
    for match in option.finditer(text, place):
        index = match.lastindex or 0
        value = match[index] if index else ""
        # A command that stands in a JSON text ends where the text's quotation does.
        cut = value.find('",') if index == match.re.groups else -1
        value = value[:cut] if cut > 0 else value
        if value and not is_placeholder(value) and not value.startswith(("-", "<", "file:", "env:")):
            yield Secret(match.start(index), match.start(index) + len(value), kind)
