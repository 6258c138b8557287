"""The text of a team file to rules. YAML nodes are read as they stand: nothing is constructed, every scalar is text."""

from __future__ import annotations

from typing import TYPE_CHECKING, NoReturn

import yaml

from logdoctor.errors import InputError
from logdoctor.reports.teams import OWNERS, TeamRules

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["parse_team_file"]

MAPS = ("owners", "modules", "paths", "hosts")
KEYS = ("teams", *MAPS, "otherwise")
TEAM_KEYS = ("channel", "code_owners")


def parse_team_file(data: bytes, name: str) -> TeamRules:
    """The rules; InputError names the line of the first thing that is wrong."""
    return _Reader(name).rules(data)


class _Reader:
    def __init__(self, name: str) -> None:
        self._name = name
        self._channels: dict[str, str | None] = {}
        self._code_owners: dict[str, str] = {}

    def rules(self, data: bytes) -> TeamRules:
        top = self._composed(data)
        if top is None:
            return TeamRules()
        parts = self._map(top, "the file", KEYS)
        self._teams(parts.get("teams"))
        maps = {key: self._to_teams(parts[key], key) for key in MAPS if key in parts}
        for owner, node in self._map(parts["owners"], "owners").items() if "owners" in parts else ():
            if owner not in OWNERS:
                self._wrong(node, f"{_short(owner)} is no owner", f"owners are {', '.join(sorted(OWNERS))}")
        otherwise = self._team(parts["otherwise"], "otherwise") if "otherwise" in parts else None
        return TeamRules(channels=self._channels, code_owners=self._code_owners, otherwise=otherwise, **maps)

    def _composed(self, data: bytes) -> yaml.Node | None:
        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        try:
            return yaml.compose(data.decode("utf-8-sig"), Loader=loader)
        except UnicodeDecodeError as error:
            raise InputError(self._name, "is not UTF-8", "save it as UTF-8") from error
        except (yaml.YAMLError, RecursionError, ValueError) as error:
            mark = getattr(error, "problem_mark", None)
            where = f"line {mark.line + 1}: " if mark else ""
            problem = getattr(error, "problem", None) or "can't be read as YAML"
            raise InputError(self._name, f"{where}{problem}", "mend the YAML") from error

    def _teams(self, node: yaml.Node | None) -> None:
        if node is None:
            return
        for team, about in self._map(node, "teams").items():
            self._channels[team] = None
            if self._empty(about):
                continue
            parts = self._map(about, f"team {_short(team)}", TEAM_KEYS)
            if "channel" in parts:
                self._channels[team] = self._text(parts["channel"], "channel")
            for owner in self._list(parts["code_owners"]) if "code_owners" in parts else ():
                self._code_owners[owner] = team

    def _to_teams(self, node: yaml.Node, what: str) -> dict[str, str]:
        return {key: self._team(value, what) for key, value in self._map(node, what).items()}

    def _team(self, node: yaml.Node, what: str) -> str:
        team = self._text(node, what)
        if team not in self._channels:
            self._wrong(
                node, f"{what}: {_short(team)} is not among the teams", "add it under teams, or name one of them"
            )
        return team

    def _map(self, node: yaml.Node, what: str, known: Iterable[str] = ()) -> dict[str, yaml.Node]:
        if self._empty(node):
            return {}
        if not isinstance(node, yaml.MappingNode):
            self._wrong(node, f"{what} is no table of keys and values", "write one `key: value` a line")
        found: dict[str, yaml.Node] = {}
        allowed = tuple(known)
        for key, value in node.value:
            name = self._text(key, f"a key of {what}")
            if allowed and name not in allowed:
                self._wrong(key, f"{what} has the unknown key {_short(name)}", f"keys are {', '.join(allowed)}")
            if name in found:
                self._wrong(key, f"{what} has the key {_short(name)} twice", "keep one of them")
            found[name] = value
        return found

    def _list(self, node: yaml.Node) -> list[str]:
        if isinstance(node, yaml.SequenceNode):
            return [self._text(one, "code_owners") for one in node.value]
        return [self._text(node, "code_owners")]

    def _text(self, node: yaml.Node, what: str) -> str:
        if not isinstance(node, yaml.ScalarNode) or not node.value.strip():
            self._wrong(node, f"{what} is no text", "write a word or a text in quotes")
        return str(node.value)

    @staticmethod
    def _empty(node: yaml.Node) -> bool:
        return isinstance(node, yaml.ScalarNode) and node.tag == "tag:yaml.org,2002:null"

    def _wrong(self, node: yaml.Node, problem: str, mend: str) -> NoReturn:
        raise InputError(self._name, f"line {node.start_mark.line + 1}: {problem}", mend)


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:59] + "…"
