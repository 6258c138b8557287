"""Secrets that stand beside a telling name: `password=x`, `"token": "x"`, `<passphrase>x</…>`, `--secret x`, `-Dpassword=x`.

The word is searched first and its surroundings are looked at from there, so that the cost stays near-linear.
How sure the form is decides how much the value must look like a secret.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from logdoctor.masking.model import Secret
from logdoctor.masking.patterns import Pattern
from logdoctor.masking.values import is_code, is_mixed, is_path, is_placeholder, is_prose, is_random, is_wordy
from logdoctor.masking.words import HARMLESS_NAME, NAMED_WORD, kind_of, may_name

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["find_named", "is_value_of"]

LONGEST_NAME = 64

# What may stand between a name and what joins it to its value; a cheap look before the dear ones.
_FOLLOWERS = frozenset("\\\"'`][ \t\n=:>,-%")
_NAME_TAIL = Pattern(r"[\w.-]*$")
_JOINT = Pattern(
    r"(?P<close>\\{0,4}[\"'`]?\]?)[ \t]{0,24}(?P<op>[=-]>|:=|=(?!=)|:(?![:/])|%3[dD])(?P<gap>[ \t]{0,8})(?P<open>[(\[]?\\{0,4}[\"'`]?)"
)
_ELEMENT = Pattern(
    r"\\{0,4}[\"']?\s{0,4}(?:[\w:.-]{1,40}=\"[^\"<>\n]{0,100}\"\s{0,4}){0,4}>\s{0,8}(?:<!\[CDATA\[)?([^<>\n]++)"
)
_PAIRED = Pattern(
    r"\\{0,4}[\"']?\s{0,4},?\s{0,4}\\{0,4}[\"']?value\\{0,4}[\"']?\s{0,4}[:=]\s{0,4}\\{0,4}[\"']",
    re.IGNORECASE,
)
_SPACE = Pattern(r"[\"']?[ \t]{1,8}(\\{0,4}[\"']?)")
_BARE = Pattern(
    r"(?:[^\s\"'`<>,;&)\]}|\\]|[,;&)\]}|\\](?![\s\"'`<>,;&)\]}|\\]|$|[rnt](?:\s|$|\\)|[A-Za-z_][\w.-]{0,40}[=:]|-[DP]))++"
)
_SHELL = Pattern(r"\S++")
_SAID_OF = ("password", "passwd", "passphrase", "pass phrase", "passwort", "passcode")
_SAID = Pattern(
    r"[\"'`]?[ ]{1,2}(?:(?:is|was|set|to|will|be|now) ){0,4}[\"'`]?(\w[\w!@#$%^&*+~.-]{5,63})(?=[\"'`.,;:)]*+(?:\s|$))"
)
_BRACKETED = Pattern(r"[ ]?\[([^\s\[\]]{4,256})\]")
_SETTER = Pattern(r"\b(?:ENV|ARG|set|setx|setenv) $")
_ENV_NAME = Pattern(r"[A-Z][A-Z0-9_]*")
_LINE_START = Pattern(r"(?:^|\n)\s*(?:\+{1,4} |\$ |(?:export|set|declare -x|ENV|ARG|setx) )?\s*$")
_REFERENCE = Pattern(r"[$#]\{\{?[^{}\n]{0,200}\}?\}|\{\{[^{}\n]{0,200}\}\}|\$\([^()\n]{0,200}\)|\{[\w!:.]{0,60}\}")
_FLAG_PROSE = frozenset(
    """is via to or and option options flag flags argument arguments was for in on with from has not must requires parameter
    cannot can will should instead set if when as the a an string value switch may are file path text only field fields
    authentication auth does did be been that which prompt stdin environment variable using used by""".split()  # noqa: SIM905 -- a table of words reads better as text
)


class Form(Enum):
    """How a name and its value are joined."""

    ASSIGNED = "name=value"
    ENVIRONMENT = "NAME=value"
    SPACED = "name = value"
    COLON = "name: value"
    QUOTED = "name: 'value'"
    ELEMENT = "<name>value</name>"
    OPTION = "--name value"
    QUERY = "?name=value"
    TOLD = "name is value"
    BRACKETS = "name[value]"


_SURE = frozenset({Form.TOLD, Form.ENVIRONMENT, Form.ELEMENT, Form.OPTION, Form.QUERY})
_WHERE = {
    Form.ASSIGNED: "in an assignment", Form.ENVIRONMENT: "in an environment variable", Form.SPACED: "in an assignment",
    Form.COLON: "after a colon", Form.QUOTED: "in quotes", Form.ELEMENT: "in an XML element",
    Form.OPTION: "in a command-line option", Form.QUERY: "in a URL query", Form.TOLD: "in a sentence",
    Form.BRACKETS: "in brackets",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    """A name with the value found beside it."""

    name: str
    lead: str
    form: Form
    start: int
    end: int


def find_named(text: str, lowered: str) -> Iterator[Secret]:
    """Every value whose name and form give it away."""
    if not may_name(lowered):
        return
    place = 0
    while word := NAMED_WORD.search(text, place):
        place = word.end()
        candidate = _candidate(text, word)
        if candidate is not None and _is_secret(text, candidate):
            kind = f"{kind_of(candidate.name)} {_WHERE[candidate.form]}"
            yield Secret(candidate.start, candidate.end, kind)
            place = max(place, candidate.end)


def _candidate(text: str, word: re.Match[str]) -> _Candidate | None:
    if text[word.end() : word.end() + 1] not in _FOLLOWERS:
        return None
    start = max(0, word.start() - LONGEST_NAME)
    tail = _NAME_TAIL.search(text[start : word.start()])
    name_start = start + (tail.start() if tail else word.start() - start)
    name = text[name_start : word.end()]
    lead = text[max(0, name_start - 12) : name_start]
    if HARMLESS_NAME.search(name) or lead.endswith(('type="', "type='")):
        return None
    return _beside(text, name, lead, word.end())


def _beside(text: str, name: str, lead: str, place: int) -> _Candidate | None:
    """What stands right behind a name, in the order in which one form could be taken for another."""
    if paired := _PAIRED.match(text, place):
        return _quoted(text, name, lead, paired.end(), paired[0][-2:])
    if lead[-1:] in ("<", ":", '"', "'") and (element := _ELEMENT.match(text, place)):
        # `<user>:<password>@host` stands in help texts.
        helping = element[1][0] in "@:" and not text.startswith("</", element.end())
        return None if helping else _of(name, lead, Form.ELEMENT, element.start(1), element.end(1))
    if joint := _JOINT.match(text, place):
        return _joined(text, name, lead, joint)
    if bracketed := _BRACKETED.match(text, place):
        return _in_brackets(name, lead, bracketed)
    npm_setting = name.endswith(("_authToken", "_auth", "_password"))
    if name.startswith("-") or npm_setting or lead.endswith("-") or ("_" in name and _SETTER.search(lead)):
        return _option(text, name, lead, place)
    return _told(name, lead, _SAID.match(text, place))


def _told(name: str, lead: str, said: re.Match[str] | None) -> _Candidate | None:
    """`password is x`, `with password x`: in a sentence only what looks made up counts."""
    if said is None or not name.lower().endswith(_SAID_OF) or not is_mixed(said[1]) or is_wordy(said[1]):
        return None
    return _of(name, lead, Form.TOLD, said.start(1), said.end(1))


def _in_brackets(name: str, lead: str, found: re.Match[str]) -> _Candidate | None:
    """`password[x]`: an index of a program looks the same, so the value, or `user[x]` before it, must tell."""
    value = found[1]
    in_a_row = found[0][0] == "[" and lead.rstrip(" ,;").endswith("]") and len(value) >= 5
    if is_code(value) or (is_wordy(value) and not in_a_row) or not (in_a_row or is_mixed(value)):
        return None
    return _of(name, lead, Form.BRACKETS, found.start(1), found.end(1))


def _joined(text: str, name: str, lead: str, joint: re.Match[str]) -> _Candidate | None:
    opening = joint["open"].lstrip("([\\")
    if opening:
        escaped = "\\" in joint["open"]
        return _quoted(text, name, lead, joint.end(), "\\" + opening if escaped else opening)
    start = joint.end() - len(joint["open"])
    form = _form_of(name, lead, joint)
    return _of(name, lead, form, start, _bare_end(text, name, form, start, joint))


def _form_of(name: str, lead: str, joint: re.Match[str]) -> Form:
    spaced = joint["gap"] or (joint.end("close") < joint.start("op"))
    if lead.endswith(("?", "&", "&amp;", "?amp;")) and joint["op"] == "=":
        return Form.QUERY
    option = name.startswith(("-D", "-P", "--")) or lead.endswith(("-p:", "/p:"))
    if option and joint["op"] in ("=", ":") and not joint["gap"]:
        return Form.OPTION
    if joint["op"] in ("=", ":=") and not spaced:
        return Form.ENVIRONMENT if _ENV_NAME.fullmatch(name) else Form.ASSIGNED
    return Form.COLON if joint["op"] == ":" else Form.SPACED


def _bare_end(text: str, name: str, form: Form, start: int, joint: re.Match[str]) -> int:
    """Where an unquoted value ends; a variable of an environment listing runs to the next space."""
    name_start = joint.start() - len(name)
    if form is Form.ENVIRONMENT and _LINE_START.search(text[max(0, name_start - 24) : name_start]):
        pattern = _SHELL
    else:
        pattern = _BARE
    place = start
    if reference := _REFERENCE.match(text, start):
        place = reference.end()
    found = pattern.match(text, place)
    return found.end() if found else place


def _quoted(text: str, name: str, lead: str, start: int, opening: str) -> _Candidate | None:
    """A quoted value; the opening quote has a backslash when the text is quoted itself."""
    quote, escaped = opening[-1], opening.startswith("\\")
    end = start
    limit = text.find("\n", start)
    limit = len(text) if limit < 0 else limit
    while True:
        end = text.find(quote, end, limit)
        if end < 0:
            end = limit
            break
        if escaped or text[end - 1] != "\\" or text[end - 2 : end] == "\\\\":
            break
        end += 1
    while escaped and end > start and text[end - 1] == "\\":
        end -= 1
    form = Form.ENVIRONMENT if _ENV_NAME.fullmatch(name) else Form.QUOTED
    if name.startswith(("--", "-D", "-P")):
        form = Form.OPTION
    return _of(name, lead, form, start, end)


def _option(text: str, name: str, lead: str, place: int) -> _Candidate | None:
    joint = _SPACE.match(text, place)
    if joint is None:
        return None
    if joint[1].lstrip("\\"):
        found = _quoted(text, name, lead, joint.end(), joint[1])
        return found and _of(name, lead, Form.OPTION, found.start, found.end)
    value = _SHELL.match(text, joint.end())
    if value is None or value[0].startswith("-"):
        return None
    bare = value[0].rstrip(".,:;)").lower()
    if bare in _FLAG_PROSE or value[0].startswith(("=", "|", ">", "(", "&&")):
        return None
    end = value.end()
    while end > value.start() and text[end - 1] in "\"'`,;)]\\":
        end -= 1
    return _of(name, lead, Form.OPTION, value.start(), end)


def _of(name: str, lead: str, form: Form, start: int, end: int) -> _Candidate | None:
    return _Candidate(name=name, lead=lead, form=form, start=start, end=end) if end > start else None


def is_value_of(name: str, value: str) -> bool:
    """Whether a value that stands elsewhere than its name, as `name: DB_PASSWORD` and `value: x`, is a secret."""
    form = Form.ENVIRONMENT if _ENV_NAME.fullmatch(name) else Form.QUOTED
    found = _of(name, "", form, 0, len(value))
    return found is not None and _is_secret(value, found)


def _is_secret(text: str, found: _Candidate) -> bool:
    value = text[found.start : found.end]
    if is_placeholder(value) or _mirrors(found.name, value):
        return False
    strong = _is_strong(found.name)
    if found.form in _SURE:
        return _sure_enough(found, value, strong=strong)
    if found.form is Form.BRACKETS:
        return strong or is_random(value)
    if found.form is Form.QUOTED:
        return _quoted_enough(value, strong=strong, name=found.name)
    return not (is_code(value) or is_path(value)) and _bare_enough(text, found, value, strong=strong)


def _bare_enough(text: str, found: _Candidate, value: str, *, strong: bool) -> bool:
    if not strong:
        return is_mixed(value) and not is_wordy(value)
    if found.form is Form.ASSIGNED:
        return not _is_argument(text, found, value)
    return _spaced_enough(text, found, value)


def _sure_enough(found: _Candidate, value: str, *, strong: bool) -> bool:
    if found.form is Form.ELEMENT and (is_prose(value) or value.count(" ") > 6):
        return False
    if not strong and ((value.isdigit() and len(value) < 6) or is_path(value)):
        return False
    # `TOKEN=value` names its own placeholder; `PWD=/home` is the shell's working directory.
    return not (found.name.upper().endswith("PWD") and is_path(value))


def _quoted_enough(value: str, *, strong: bool, name: str) -> bool:
    if is_prose(value) and "phrase" not in name.lower():
        return False
    if is_path(value):
        return False
    return strong or (is_mixed(value) and not is_wordy(value))


def _spaced_enough(text: str, found: _Candidate, value: str) -> bool:
    """`name = value` and `name: value` also stand in prose and code: what follows the value decides."""
    if value.replace(":", "").isdigit() and text[found.start - 1] == ":":
        return False  # a place in a source file: `Password:34:12`
    rest = text[found.end : found.end + 3]
    if rest[:1] in (";", "(", ")", "[", "?", "|") or value.endswith((":", "?", "(")):
        return is_mixed(value) and not is_code(value)
    last_in_line = not rest.strip() or rest[0] in "\r\n\"'`,}\\<&"
    if last_in_line:
        return not (value.isalpha() and (len(value) < 3 or found.lead.rstrip().endswith(("for", "of"))))
    return is_mixed(value, 6) and not is_wordy(value)


def _is_strong(name: str) -> bool:
    bare = re.sub(r"[_.-]", "", name).lower()
    if any(part in bare for part in ("pass", "pwd", "psw", "clientsecret", "secretkey", "secretaccess")):
        return True
    return bare.endswith(
        ("pw", "authtoken", "accesstoken", "accountkey", "sharedaccesskey", "sharedaccesssignature")
    ) or (name.lower().endswith("_auth"))


def _mirrors(name: str, value: str) -> bool:
    """`token=TOKEN`, `--password PASSWORD`, `password=password`: documentation or code, nothing to hide."""
    bare = value.strip("\"'<>[](){},;.").lower()
    return bare in (
        "token",
        "password",
        "passwd",
        "secret",
        "api_key",
        "apikey",
        "api-key",
        "your_token",
        "key",
        "credentials",
    ) or (len(bare) >= 3 and bare == name.strip("-").lower())


def _is_argument(text: str, found: _Candidate, value: str) -> bool:
    """`f(user, password=secret_value)`: an identifier handed on."""
    behind = text[found.end : found.end + 1]
    return behind in (")", ",") and value.replace("_", "").isalpha() and found.lead.rstrip()[-1:] in ("(", ",")
