"""The words that give a secret away when a name ends with them, and the names that only look so."""

from __future__ import annotations

import re

from logdoctor.masking.patterns import Pattern

__all__ = ["COMPOUNDS", "HARMLESS_NAME", "NAMED_WORD", "kind_of", "may_name", "spelled"]

COMPOUNDS: tuple[tuple[str, str], ...] = (
    # two halves, joined by nothing, a dash, an underscore or a dot
    ("api", "key"),
    ("access", "key"),
    ("private", "key"),
    ("account", "key"),
    ("auth", "key"),
    ("encryption", "key"),
    ("signing", "key"),
    ("master", "key"),
    ("subscription", "key"),
    ("deploy", "key"),
    ("license", "key"),
    ("shared", "key"),
    ("app", "key"),
    ("client", "key"),
    ("session", "key"),
    ("ssh", "key"),
    ("consumer", "key"),
    ("decryption", "key"),
    ("service", "key"),
    ("storage", "key"),
    ("instrumentation", "key"),
)
_HALVES = "|".join(dict.fromkeys(first for first, _ in COMPOUNDS))
NAMED_WORD = Pattern(
    r"(?:pass(?:word|wort|wd|[ _-]?phrase|code)s?|secrets?(?:[_.-]?access)?[_.-]?keys?|secrets?|tokens?|credentials?|pwd|psw"
    r"|(?:key)?store[_.-]?pass(?!w|[ _-]?phrase|code)|key[_.-]?pass(?!w|[ _-]?phrase|code)|(?<=[_.-])pass|(?<=[a-z])Pass(?![a-zA-Z])|_auth"
    rf"|(?:{_HALVES})[_.-]?keys?|(?<=[?&-])signature|(?<=[?&])sig|(?<=[?&])(?:key|auth|code|pass)|(?<=[\"'])auth(?=[\"'\\])|sonar\.login"
    r"|shared[_.-]?access[_.-]?(?:key|signature)|(?<![A-Za-z0-9])pw(?![A-Za-z])|dockerconfigjson)"
    r"(?:[_.-]?(?:\d{1,2}|value|plain|raw|plaintext|base64|b64|base|data))?",
    re.IGNORECASE,
)
"""Starts with fixed characters and takes no unbounded prefix: what stands before the word is looked at by hand."""

_PARTS = (
    "pass",
    "secret",
    "token",
    "key",
    "cred",
    "pwd",
    "psw",
    "auth",
    "sig",
    "shared",
    "code",
    "login",
    "pw",
    "dockerconfig",
)
"""Each name that `NAMED_WORD` finds holds one of these: a cheap look first."""

HARMLESS_NAME = Pattern(
    r"(?:public_?-?key_?-?token|cancellation_?token|syntax_?token|(?:next|page|continuation|sync|max|min|num|unexpected|end"
    r"|start|illegal|invalid|bad|expected|missing|current|last|first|previous|kind|type|stop|pad|eos|bos|unk|special|input"
    r"|output|total|completion|prompt|context|cached|lookahead|per|lexer|parser|java|error)[_ .-]?tokens?"
    r"|bypass|compass|first_pass|last_pass|second_pass|one_pass|multi_pass|_pass_pass|oldpwd|public_?key"
    r"|(?:no|show|hide|has|is|use|forgot|reset|confirm|require|requires|needs|allow|old_?pwd)[_-]?passw(?:or)?d)$",
    re.IGNORECASE,
)

_KINDS = (
    ("passphrase", "passphrase"),
    ("passcode", "passcode"),
    ("storepass", "password of a key store"),
    ("keypass", "password of a key"),
    ("pass", "password"),
    ("pwd", "password"),
    ("psw", "password"),
    ("pw", "password"),
    ("sharedaccess", "key of a shared access signature"),
    ("accountkey", "key of a storage account"),
    ("clientsecret", "client secret"),
    ("secretaccesskey", "secret access key"),
    ("secretkey", "secret key"),
    ("authtoken", "access token"),
    ("accesstoken", "access token"),
    ("refreshtoken", "refresh token"),
    ("token", "token"),
    ("credential", "credential"),
    ("signature", "signature of a signed address"),
    ("sig", "signature of a signed address"),
    ("apikey", "API key"),
    ("privatekey", "private key"),
    ("accesskey", "access key"),
    ("secret", "secret"),
    ("_auth", "package registry credential"),
    ("key", "key"),
    ("auth", "credential"),
    ("code", "access code"),
)


def may_name(lowered: str) -> bool:
    """Whether a telling name may stand in a text in small letters."""
    for part in _PARTS:  # noqa: SIM110 -- a plain loop is quicker than any(), and each line of a log comes by here
        if part in lowered:
            return True
    return False


def kind_of(name: str) -> str:
    """What a name promises, in plain words."""
    bare = name.lower().replace("-", "").replace(".", "").replace(" ", "")
    joined = bare.replace("_", "")
    for part, kind in _KINDS:
        if part in joined or (part == "_auth" and bare.endswith(part)):
            return kind
    return "secret"


def spelled(*halves: str) -> list[str]:
    """How a name of one or two halves is spelled in logs: case styles and joints."""
    joints = ["", "_", "-", "."] if len(halves) > 1 else [""]
    styles: list[list[str]] = [
        [half.lower() for half in halves],
        [half.upper() for half in halves],
        [half.capitalize() for half in halves],
        [halves[0].lower(), *(half.capitalize() for half in halves[1:])],
    ]
    return sorted({joint.join(style) for joint in joints for style in styles})
