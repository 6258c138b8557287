"""A verdict without names of its makers: hosts, users and paths become stable placeholders (`host-1`, `user-2`, `path-3`).

The verdict itself is changed, before any report is made, so that every format tells the same. Texts are masked first,
as a placeholder inside a secret would hide it from the masker. A name met in a sure place (an address, a home folder)
is replaced wherever it stands. Package, class, module and artifact names stay: they are what the failure is about.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

from logdoctor.model import (
    Cause,
    Check,
    Elsewhere,
    Evidence,
    Failure,
    Finding,
    Item,
    NextCheck,
    Part,
    RankedCause,
    Segment,
    Source,
    SpokenClue,
    Verdict,
    WorthReading,
)
from logdoctor.reports.naming import (
    EVERYDAY_USERS,
    FREE_HOSTS,
    HOST_SUFFIXES,
    NO_HOSTS,
    PATTERN,
    SURE_HOSTS,
    SURE_USERS,
)
from logdoctor.reports.plain import Gate

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

__all__ = ["KINDS", "Redactor", "kinds_of"]

KINDS = ("hosts", "users", "paths")
_WORDS = {"hosts": "host", "users": "user", "paths": "path"}
_PLACEHOLDER = re.compile(r"(?:host|user|path)-\d{1,6}")
_TOLD = (Verdict, Finding, Evidence, Item, SpokenClue, WorthReading, Elsewhere, Segment, Source, Part)
"""The values whose texts come from the log."""
_KEPT = frozenset(
    ["outcome", "fingerprint", "role", "tool", "signature", "struck_in", "phase", "state", "speaks", "cut", "encoding"]
)
_CATALOGUE = (Failure, Cause, NextCheck, Check)
"""The catalogue's values: their texts stay where they are built in; those of another layer may hold the maker's names."""
_CATALOGUE_KEPT = frozenset(["id", "usual", "rerun", "owner", "effort", "stand_in", "layer", "explains", "references"])
_HOST_FACTS = frozenset(["host", "hostname", "server", "agent", "node"])
_USER_FACTS = frozenset(["user", "username", "account", "login"])
_PATH_FACTS = frozenset(["file", "path", "directory", "folder", "workspace", "user_path"])


def kinds_of(told: str) -> frozenset[str]:
    """The kinds in an option such as `hosts,users`; ValueError names one that is none."""
    kinds = [word.strip() for word in told.split(",") if word.strip()]
    wrong = [kind for kind in kinds if kind not in KINDS]
    if wrong or not kinds:
        raise ValueError(f"--redact {told}: write one or more of {', '.join(KINDS)}, with commas between")
    return frozenset(kinds)


@dataclass(frozen=True, slots=True)
class _Change:
    """What is done to a text, and whether the catalogue's texts are changed too."""

    text: Callable[[str], str]
    catalogue: bool = True


class Redactor:
    """Replaces names of the given kinds, the same one always by the same placeholder; one for each report."""

    def __init__(self, kinds: Iterable[str]) -> None:
        self._kinds = frozenset(kinds)
        unknown = self._kinds - set(KINDS)
        if unknown:
            raise ValueError(f"no kinds of names: {', '.join(sorted(unknown))}")
        self._numbers: dict[str, dict[str, str]] = {kind: {} for kind in KINDS}
        self._everywhere: dict[str, tuple[str, str]] = {}
        """Words that are replaced wherever they stand: the word in small letters, its kind and its name."""
        self._words: re.Pattern[str] | None = None

    def verdict(self, verdict: Verdict) -> Verdict:
        """The verdict with all its texts masked and redacted."""
        gate = Gate(verdict)
        for text in _texts(verdict):
            self.learn(gate.text(text))
        self._learn_facts(verdict, gate)
        changed: Verdict = self._changed(verdict, _Change(lambda text: self.text(gate.text(text))))
        return changed

    def plain(self, value: Any) -> Any:
        """The same for JSON-ready values: every text in it, but no key."""
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, dict):
            return {key: one if key in _KEPT else self.plain(one) for key, one in value.items()}
        return [self.plain(one) for one in value] if isinstance(value, list) else value

    def learn(self, text: str) -> None:
        """Look for names in sure places, so that they are known wherever they stand."""
        for match in PATTERN.finditer(text):
            if match["url_host"] and match["url_host"].strip("[]"):
                self._know("hosts", match["url_host"])
            for group in ("url_user", "mail_user", "home_user", "windows_user"):
                if match[group]:
                    self._know("users", match[group])
            if match["mail_host"]:
                self._know("hosts", match["mail_host"])
        for kind, pattern in (("hosts", SURE_HOSTS), ("users", SURE_USERS)):
            for match in pattern.finditer(text):
                self._know(kind, match[match.lastgroup or 0])

    def text(self, text: str) -> str:
        """The text with its names replaced."""
        self.learn(text)
        if "hosts" in self._kinds:
            text = SURE_HOSTS.sub(self._reached, text)
        pieces: list[str] = []
        place = 0
        for match in PATTERN.finditer(text):
            pieces += [self._known_words(text[place : match.start()]), self._matched(match)]
            place = match.end()
        pieces.append(self._known_words(text[place:]))
        return "".join(pieces)

    def path(self, text: str) -> str:
        """A text that is a path as a whole, however it looks."""
        return self._named("paths", text) if "paths" in self._kinds else self.text(text)

    def _matched(self, match: re.Match[str]) -> str:
        if match["url_scheme"]:
            user = f"{self._user(match['url_user'])}{match['url_password'] or ''}@" if match["url_user"] else ""
            port = match["url_port"] or ""
            return f"{match['url_scheme']}{user}{self._host(match['url_host'])}{port}{self._tail(match['url_tail'])}"
        if match["mail_user"]:
            return f"{self._user(match['mail_user'])}@{self._host(match['mail_host'])}{self._tail(match['scp_path'])}"
        if match["path"]:
            if "paths" in self._kinds:
                return self._named("paths", match["path"])
            return self._home(match)
        if match["address"]:
            return self._host(match["address"])
        name = match["dotted"]
        known = name.casefold() in self._everywhere or name.rpartition(".")[2].casefold() in HOST_SUFFIXES
        return self._host(name) if known else self._known_words(name)

    def _home(self, match: re.Match[str]) -> str:
        """A path that may stay, without the user's name in it and without known hosts."""
        path = match["path"]
        user = match["home_user"] or match["windows_user"]
        if not user or "users" not in self._kinds:
            return self._known_words(path)
        start = path.index(user)
        return path[:start] + self._user(user) + self._known_words(path[start + len(user) :])

    def _tail(self, tail: str | None) -> str:
        if not tail or tail == "/" or "paths" not in self._kinds:
            return self._known_words(tail or "")
        # What ends a sentence or a quotation is no part of the address.
        bare = tail.rstrip(".,;:!?)]}>'\"")
        sign = bare[:1] if bare[:1] in "/:?#" else ""
        return (sign + self._named("paths", bare[len(sign) :]) if bare[len(sign) :] else bare) + tail[len(bare) :]

    def _host(self, name: str) -> str:
        return self._named("hosts", name) if "hosts" in self._kinds and name.casefold() not in FREE_HOSTS else name

    def _user(self, name: str) -> str:
        return self._named("users", name) if "users" in self._kinds and name not in ("git", "root") else name

    def _known_words(self, text: str) -> str:
        if not text or not self._everywhere:
            return text
        if self._words is None:
            longest_first = sorted(self._everywhere, key=len, reverse=True)
            inner = "|".join(map(re.escape, longest_first))
            self._words = re.compile(rf"(?<![\w-])(?:{inner})(?![\w-])", re.IGNORECASE)
        return self._words.sub(lambda m: self._named(*self._everywhere[m[0].casefold()]), text)

    def _reached(self, match: re.Match[str]) -> str:
        """A host of one word, named in a sure place alone."""
        name, start = match[match.lastgroup or 0], match.start(match.lastgroup or 0) - match.start()
        if "." in name or name.isdigit() or name.casefold() in NO_HOSTS or name.casefold() in self._everywhere:
            return match[0]
        return match[0][:start] + self._host(name) + match[0][start + len(name) :]

    def _know(self, kind: str, name: str) -> None:
        """Remember a name that is to be replaced everywhere, unless it is also an everyday word."""
        bare = name.strip("[]").rstrip(".").casefold()
        if kind not in self._kinds or len(bare) < 3 or _PLACEHOLDER.fullmatch(bare) or bare in self._everywhere:
            return
        if kind == "users" and (bare in EVERYDAY_USERS or bare.isdigit()):
            return
        if kind == "hosts" and (bare in FREE_HOSTS or not re.search(r"[\d.-]", bare)):
            return
        self._everywhere[bare] = (kind, bare)
        self._words = None

    def _named(self, kind: str, name: str) -> str:
        """The placeholder of a name, given out at first use."""
        if _PLACEHOLDER.fullmatch(name):
            return name
        key = name if kind == "paths" else name.strip("[]").rstrip(".").casefold()
        known = self._numbers[kind]
        if key not in known:
            known[key] = f"{_WORDS[kind]}-{len(known) + 1}"
        return known[key]

    def _learn_facts(self, verdict: Verdict, gate: Gate) -> None:
        for finding in (verdict.root, *verdict.others):
            for name, value in finding.facts.items() if finding else ():
                if isinstance(value, str) and value:
                    kind = "hosts" if name in _HOST_FACTS else "users" if name in _USER_FACTS else ""
                    if kind and re.fullmatch(r"[\w.@:-]{2,255}", value):
                        self._know(kind, gate.text(value))

    def _changed(self, value: Any, change: _Change) -> Any:
        """A frozen value with the texts in it changed, whatever it is made of."""
        own = isinstance(value, _CATALOGUE)
        if not isinstance(value, (*_TOLD, RankedCause, *_CATALOGUE)):
            return value
        if isinstance(value, Finding) and value.failure.layer == "built in":
            change = _Change(change.text, catalogue=False)
        if own and not change.catalogue:
            return value
        new: dict[str, Any] = {}
        for one in fields(value):
            held = getattr(value, one.name)
            if one.name in _KEPT or (own and one.name in _CATALOGUE_KEPT):
                continue
            if isinstance(held, str):
                new[one.name] = self._field(value, one.name, held, change)
            elif isinstance(held, tuple):
                new[one.name] = tuple(change.text(h) if isinstance(h, str) else self._changed(h, change) for h in held)
            elif one.name == "facts":
                new[one.name] = {k: self._fact(k, v, change) for k, v in held.items()}
            else:
                new[one.name] = self._changed(held, change)
        return replace(value, **new)

    def _field(self, owner: object, name: str, text: str, change: _Change) -> str:
        if isinstance(owner, Item) and name == "file":
            return self.path(change.text(text) if "paths" not in self._kinds else text)
        if isinstance(owner, SpokenClue) and name == "fact":
            return text
        if isinstance(owner, Source | Part) and name == "name" and re.search(r"[/\\]", text):
            return self.path(text)
        return change.text(text)

    def _fact(self, name: str, value: Any, change: _Change) -> Any:
        if not isinstance(value, str):
            return value
        if name in _PATH_FACTS:
            return self.path(change.text(value) if "paths" not in self._kinds else value)
        if name in _HOST_FACTS and re.fullmatch(r"[\w.-]{2,255}", value):
            return self._host(value)
        if name in _USER_FACTS and re.fullmatch(r"[\w.@-]{2,255}", value):
            return self._user(value)
        return change.text(value)


def _texts(value: object) -> list[str]:
    """All texts of a verdict that come from the log, in its order."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, tuple):
        return [text for one in value for text in _texts(one)]
    if isinstance(value, Mapping):
        return [text for one in value.values() for text in _texts(one)]
    if isinstance(value, _TOLD) and is_dataclass(value):
        return [text for one in fields(value) if one.name not in _KEPT for text in _texts(getattr(value, one.name))]
    return []
