"""Judges a value by itself: a placeholder, a piece of code, prose, a path, or something that looks random.

The thresholds are rules of thumb of the trade (common practice, no source).
"""

from __future__ import annotations

import re

from logdoctor.masking.patterns import Pattern

__all__ = ["is_code", "is_mixed", "is_path", "is_placeholder", "is_prose", "is_random", "is_scrambled", "is_wordy"]

LONGEST_PLACEHOLDER = 512
"""Nothing longer is taken for a placeholder: it keeps a rejected value cheap to look at again."""

_WORDS = frozenset(
    """
    null nil none undefined true false yes no on off empty blank required optional prompt hidden masked redacted
    removed filtered missing invalid expired incorrect wrong unset not set n/a na tbd todo void default
    protected secure known encrypted sensitive unknown present absent failed denied rejected changed updated deleted ok error
    """.split()  # noqa: SIM905 -- a table of words reads better as text
)
_TYPES = frozenset(
    """
    string str bytes byte number int integer bool boolean any object unknown never char charsequence char[] string[]
    optional securestring text varchar interface{} *string &str &string string? str? byte[] []byte
    """.split()  # noqa: SIM905 -- a table of words reads better as text
)
_REFERENCE = Pattern(
    r"""
    \$\{\{?[^{}]*\}?\} | \$\([^()]*\) | \$[A-Za-z_]\w*+ | \$\d\b | %[A-Za-z_]\w*+% | \{\{[^{}]*\}\} | \#\{[^{}]*\}
    | !?%[sdvqr]\b | \{\w*+(?:![rsa])?(?::[^{}]*)?\} | @[A-Za-z_.]++@ | `[^`]*` | ![A-Za-z_]\w*+!
    """,
    re.VERBOSE,
)
_STARS = Pattern(r"[*•#._?-]++|[xX]{3,}|\*{3,}\W*")
_BRACKETS = Pattern(r"<[^<>]*+>|\[[\w *.:-]*+\]?|\((?:sensitive|known|hidden|masked|redacted|none|null|not|empty)\b.*")
_LOOKUP = Pattern(
    r"(?:env|secrets?|vars?|process|os|data|local|module|inputs|steps|github|params?|parameters|this|self|props|options"
    r"|args|config|settings|system|req|request|ctx|context)\.[A-Za-z_]"
)
_CALL = Pattern(r"(?:await\s|new\s)?[A-Za-z_][A-Za-z_.]{2,}+[\(\[][\w.,:'\" ()\[\]-]*+[;]?")
_VARIABLE = Pattern(r"[a-z_]+_(?:password|passwd|pass|token|secret|key|passphrase)s?|[a-z]+(?:Password|Token|Secret)")
_CHAIN = Pattern(r"[A-Za-z_]\w*+(?:(?:\.|->|::|\?\.)[A-Za-z_]\w*+)+[;,)]*+")
_SENSITIVE = Pattern(r"pass|pwd|secret|token|key|cred", re.IGNORECASE)
_STOP_WORDS = Pattern(
    r"\b(?:is|are|was|must|be|should|the|your|for|of|to|in|not|and|or|has|have|cannot|can't|please|enter|required|invalid"
    r"|expected|with|from|at|a|an|this|that|failed)\b",
    re.IGNORECASE,
)
_WORDY = Pattern(r"[A-Za-z]{2,16}\d{0,4}|v?\d{0,5}|[A-Za-z]")
_CAMEL_PARTS = Pattern(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])")


def is_placeholder(value: str) -> bool:
    """Whether the value only stands for a secret: empty, starred out, a variable, or a word such as `null`."""
    if len(value) > LONGEST_PLACEHOLDER:
        return False
    bare = value.strip().lstrip("([").strip("\"'\\,;):]").strip()
    if not any(map(str.isalnum, bare)) or bare.lower() in _WORDS or {bare.lower(), value.lower()} & _TYPES:
        return True
    if _STARS.fullmatch(bare) or _BRACKETS.fullmatch(value.strip()) or "•••" in bare:
        return True
    if _REFERENCE.fullmatch(value.strip().strip("\"',;")):
        return True
    rest = _REFERENCE.sub("", bare)
    return rest != bare and sum(char.isalnum() for char in rest) < 4


def is_code(value: str) -> bool:
    """Whether the value is an expression of a programming language and no literal."""
    if len(value) > LONGEST_PLACEHOLDER:
        return False
    if _LOOKUP.match(value) or _CALL.fullmatch(value) or _VARIABLE.fullmatch(value):
        return True
    return bool(_CHAIN.fullmatch(value) and _SENSITIVE.search(value))


def is_prose(value: str) -> bool:
    """Whether the value is a sentence about secrets: several words, some of them little ones."""
    return len(value) <= LONGEST_PLACEHOLDER and value.count(" ") >= 2 and bool(_STOP_WORDS.search(value))


def is_path(value: str) -> bool:
    """Whether the value names a file: several plain segments, none of which looks random."""
    if not re.match(r"(?:[.~]{0,2}/|[A-Za-z]:[\\/]|file:)", value):
        return False
    return not any(is_mixed(part, 12) and _classes(part) >= 3 for part in re.split(r"[\\/]", value))


def is_mixed(value: str, least: int = 8) -> bool:
    """Whether the value has the length and mixes letters with digits, or has no word-like letter runs."""
    if len(value) < least or " " in value:
        return False
    if len(value) > LONGEST_PLACEHOLDER:
        return True
    letters = any(char.isalpha() for char in value)
    if letters and any(char.isdigit() for char in value):
        return True
    return len(value) >= 16 and is_scrambled(value)


def is_random(value: str, least: int = 16) -> bool:
    """Stricter than `is_mixed`: long, of few signs, and no words joined by dashes."""
    if not is_mixed(value, least) or is_wordy(value):
        return False
    return sum(char.isalnum() for char in value) > len(value) * 0.8


def is_wordy(value: str) -> bool:
    """Whether the value is made of words, small numbers or a version: `deploy-user01`, `v1.2.3`, `my_secret_2`."""
    if len(value) > LONGEST_PLACEHOLDER or (len(value) >= 8 and is_scrambled(value)):
        return False
    return all(_WORDY.fullmatch(part) for part in re.split(r"[-_./ ]", value))


def is_scrambled(value: str) -> bool:
    """Letters of both cases in an order that no camel-case name has."""
    parts = _CAMEL_PARTS.findall(value)
    letters = sum(map(len, parts))
    return _classes(value) >= 2 and any(char.isupper() for char in value) and letters < 3 * len(parts)


def _classes(value: str) -> int:
    return (
        any(char.islower() for char in value)
        + any(char.isupper() for char in value)
        + any(char.isdigit() for char in value)
        + any(not char.isalnum() for char in value)
    )
