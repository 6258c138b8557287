"""What a log tells of the set-up, collected in the pass that takes the fingerprints; bounded, however long the log."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

from logdoctor.memory.comparing.model import SetupChange
from logdoctor.memory.comparing.setup_rules import ANSWER, ASKED, ASKED_LINE, RULES, SetupRule
from logdoctor.scan.pickers import make_picker

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.scan.pickers import Picker

__all__ = ["SetupSeen", "setup_changes"]

MOST_LINES = 30_000
"""Lines looked at for one literal: what comes later tells the same again."""
MOST_NAMES = 20_000
MOST_VALUES = 60
LONGEST = 1000
KINDS = ("agent", "tool", "revision", "plugin", "dependency", "download source")

_MAVEN_FILE = re.compile(
    r"https?://[^/\s]+/(?P<path>\S+)/(?P<artifact>[^/\s]+)/(?P<version>\d[^/\s]*|[^/\s]*-SNAPSHOT)/(?P=artifact)-(?P<file>\d[^/\s]*)\.(?:pom|jar|war|aar|zip|module)$"
)
_FILE_VERSION = re.compile(r"(?P<stamped>\d[\w.]*(?:-[A-Za-z][\w.]*)*?-\d{8}\.\d{6}-\d+)")
_HOST = re.compile(r"(?P<host>https?://[^/\s@]+)(?:/|$)")
_PIP_ITEM = re.compile(r"^(?P<name>.+)-(?P<version>\d[^-\s]*)$")


@cache
def _picker() -> tuple[Picker, tuple[tuple[SetupRule, ...], ...]]:
    by_literal: dict[str, list[SetupRule]] = {}
    for rule in RULES:
        for literal in rule.literals:
            by_literal.setdefault(literal, []).append(rule)
    by_literal[ASKED] = []
    picker = make_picker([literal.encode() for literal in by_literal])
    return picker, tuple(tuple(rules) for rules in by_literal.values())


@dataclass(slots=True)
class SetupSeen:
    """Values by kind and name, each in the order of the log; `names` are texts that differ from agent to agent."""

    values: dict[tuple[str, str], dict[str, None]] = field(default_factory=dict)
    workspaces: dict[str, None] = field(default_factory=dict)
    counts: dict[int, int] = field(default_factory=dict)

    def look(self, block: bytes) -> None:
        """Look at the lines of a block that may tell something."""
        picker, rules = _picker()
        done: set[tuple[int, int]] = set()
        for index, start, end in picker.places(block):
            seen = self.counts.get(index, 0)
            if seen >= MOST_LINES:
                continue
            self.counts[index] = seen + 1
            begin, stop = _piece(block, start, end)
            if (begin, index) in done:
                continue
            done.add((begin, index))
            self._line(block[begin:stop], picker, rules)
            if not rules[index]:
                self._answer(block[begin:stop], block[stop + 1 : stop + 1 + LONGEST])

    def _line(self, line: bytes, picker: Picker, rules: tuple[tuple[SetupRule, ...], ...]) -> None:
        text = line.decode("utf-8", "replace").rstrip()
        for index in sorted(picker.literals_in(line)):
            for rule in rules[index]:
                match = rule.pattern.search(text)
                if match is not None:
                    self._take(rule, {k: v for k, v in match.groupdict().items() if v})

    def _answer(self, line: bytes, following: bytes) -> None:
        """What a tool says when a script asks for its version."""
        asked = ASKED_LINE.search(line.decode("utf-8", "replace"))
        said = ANSWER.match(following.lstrip(b"\n").partition(b"\n")[0].decode("utf-8", "replace"))
        if asked and said:
            self._add("tool", asked["tool"], said["value"])

    def _take(self, rule: SetupRule, groups: dict[str, str]) -> None:
        if "workspace" in groups:
            self.workspaces[groups["workspace"]] = None
        if "url" in groups:
            self._download(groups)
        elif "list" in groups:
            for item in groups["list"].split():
                if found := _PIP_ITEM.match(item):
                    self._add(rule.kind, f"{rule.name} {found['name']}", found["version"])
        elif value := groups.get("value") or groups.get("plain"):
            self._add(rule.kind, _named(rule, groups.get("name")), value)

    def _download(self, groups: dict[str, str]) -> None:
        url = groups["url"].rstrip(")")
        if host := _HOST.match(url):
            self._add("download source", groups.get("source", "downloads"), host["host"])
        found = _MAVEN_FILE.match(url)
        if found is None:
            return
        version = found["version"]
        stamped = _FILE_VERSION.match(found["file"])
        if version.endswith("-SNAPSHOT") and stamped:
            version = stamped["stamped"]
        self._add("dependency", found["artifact"], version)

    def _add(self, kind: str, name: str, value: str) -> None:
        key = (kind, name)
        if key not in self.values and len(self.values) >= MOST_NAMES:
            return
        values = self.values.setdefault(key, {})
        if len(values) < MOST_VALUES:
            values[value] = None

    def names(self) -> dict[bytes, bytes]:
        """Texts of this log that differ from agent to agent, and what stands for them in a comparison."""
        agents = [value for (_, name), values in self.values.items() if name == "agent" for value in values]
        found = {path.encode(): b"<workspace>" for path in self.workspaces if len(path) > 3}
        for agent in agents:
            # A name such as "linux" is a word that logs hold anyway.
            if len(agent) >= 4 and any(sign.isdigit() or sign == "-" for sign in agent):
                found[agent.encode()] = b"<agent>"
        return dict(sorted(found.items(), key=lambda pair: -len(pair[0])))


def _piece(block: bytes, start: int, end: int) -> tuple[int, int]:
    """The line around a place, or of a line that was written over (a progress bar), the part around it."""
    begin = max(block.rfind(b"\n", 0, start), block.rfind(b"\r", 0, start)) + 1
    if start - begin > LONGEST:
        begin = start - LONGEST // 2
    stop = min((at for sign in (b"\n", b"\r") if (at := block.find(sign, end, begin + LONGEST)) >= 0), default=-1)
    return begin, min(len(block), begin + LONGEST) if stop < 0 else stop


def _named(rule: SetupRule, name: str | None) -> str:
    if rule.kind == "plugin" and name:
        return name.removeprefix("maven-").removesuffix("-plugin").removesuffix("-maven")
    if rule.kind == "dependency" and rule.name != "maven":
        return f"{rule.name} {name}"
    if rule.kind == "dependency" and name:
        return name.rpartition(":")[2]
    return f"{rule.name} {name}".strip() if name else rule.name


def setup_changes(old: SetupSeen, new: SetupSeen) -> tuple[SetupChange, ...]:
    """What differs, in the order agent, tools, revision, plugins, dependencies; within a kind what changed comes first."""
    changes: list[SetupChange] = []
    for key in dict.fromkeys([*old.values, *new.values]):
        before, after = tuple(old.values.get(key, ())), tuple(new.values.get(key, ()))
        if set(before) != set(after) and max(len(before), len(after)) < MOST_VALUES:
            changes.append(SetupChange(kind=key[0], name=key[1], old=before, new=after))
    changes.sort(key=lambda c: (KINDS.index(c.kind), not (c.old and c.new)))
    return tuple(_worth_telling(changes, old, new))


def _worth_telling(changes: list[SetupChange], old: SetupSeen, new: SetupSeen) -> Iterator[SetupChange]:
    """What one log alone tells is a change only where the other tells of the same kind at all: a full cache tells nothing."""
    told = {kind: (_tells(old, kind), _tells(new, kind)) for kind in KINDS}
    for change in changes:
        both = all(told[change.kind])
        if (change.old and change.new) or both:
            yield change


def _tells(seen: SetupSeen, kind: str) -> bool:
    return any(key[0] == kind for key in seen.values)
