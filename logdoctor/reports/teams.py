"""Who gets a failure: a project file (`.logdoctor/teams.yaml`) that maps owners, modules, paths and hosts to teams.

What is in the repository being built goes by file (the project file's paths, then CODEOWNERS), then by module; what
is in another system goes by host; both end with the owner of the first cause. `Team.why` says which it was.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from logdoctor.errors import InputError
from logdoctor.reports.codeowners import CodeOwners, path_matches
from logdoctor.reports.places import class_file, tree_path

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from logdoctor.model import Finding, Verdict

__all__ = ["FILE", "NO_RULES", "Team", "TeamRules", "find_team_rules", "read_team_rules", "team_for"]

FILE = ".logdoctor/teams.yaml"
MOST_BYTES = 256 * 1024
OWNERS = frozenset(
    [
        "build-owner",
        "job-owner",
        "agent-admin",
        "ci-admin",
        "repository-admin",
        "code-host-admin",
        "network-admin",
        "package-author",
        "target-admin",
    ]
)
IN_THE_REPOSITORY = frozenset(["build-owner"])
BY_FILE = frozenset(["test", "compile"])
HOST_FACTS = ("host", "hostname", "server", "registry")
ADDRESS_FACTS = ("url", "address", "remote", "repository_url", "registry_url")


@dataclass(frozen=True, slots=True, kw_only=True)
class Team:
    """Who gets it, where they are reached, and why it is theirs."""

    name: str
    channel: str | None = None
    why: str = ""

    def says(self) -> str:
        """Name, channel and reason in one sentence without its full stop."""
        return f"{self.name}{f' ({self.channel})' if self.channel else ''}, as {self.why}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TeamRules:
    """The project file: teams with their channels, and what belongs to which, in the file's order."""

    channels: Mapping[str, str | None] = field(default_factory=dict)
    code_owners: Mapping[str, str] = field(default_factory=dict)
    """The team of a name in CODEOWNERS."""
    owners: Mapping[str, str] = field(default_factory=dict)
    modules: Mapping[str, str] = field(default_factory=dict)
    paths: Mapping[str, str] = field(default_factory=dict)
    hosts: Mapping[str, str] = field(default_factory=dict)
    otherwise: str | None = None

    def team(self, name: str, why: str) -> Team:
        """A team of the file, with its reason."""
        return Team(name=name, channel=self.channels.get(name), why=why)


NO_RULES = TeamRules()


def team_for(
    verdict: Verdict, rules: TeamRules = NO_RULES, codeowners: CodeOwners | None = None, *, root: Path | None = None
) -> Team | None:
    """Who gets the root of a verdict; None where nothing tells, or where there is nothing to give."""
    if verdict.outcome == "succeeded":
        return None
    found = verdict.root
    if found is None or found.failure.stand_in == "last":
        return rules.team(rules.otherwise, f"the reason is unknown ({FILE}: otherwise)") if rules.otherwise else None
    owner = found.causes[0].cause.owner if found.causes else None
    if found.failure.phase in BY_FILE or owner in IN_THE_REPOSITORY:
        team = _by_file(found, rules, codeowners, root) or _by_module(verdict, found, rules)
    else:
        team = _by_host(found, rules)
    return team or _by_owner(found, rules)


def _by_file(found: Finding, rules: TeamRules, codeowners: CodeOwners | None, root: Path | None) -> Team | None:
    """The team that owns most of the files which the failure names."""
    files = dict.fromkeys(_files(found, root))
    votes: Counter[tuple[str, str | None]] = Counter()
    whys: dict[tuple[str, str | None], str] = {}
    for path in files:
        team = _of_path(path, rules, codeowners)
        if team is not None:
            votes[team.name, team.channel] += 1
            whys.setdefault((team.name, team.channel), team.why)
    if not votes:
        return None
    best, count = votes.most_common(1)[0]
    share = f" ({count} of {len(files)} files)" if len(files) > 1 else ""
    return Team(name=best[0], channel=best[1], why=whys[best] + share)


def _files(found: Finding, root: Path | None) -> Iterator[str]:
    """The files of the work tree that the items name, by path or by class; else the one that the facts name."""
    paths = [tree_path(item.file, root) if item.file else class_file(item.text, root) for item in found.items]
    named = found.facts.get("file")
    if not any(paths) and isinstance(named, str):
        paths = [tree_path(named, root)]
    yield from (path for path in paths if path is not None)


def _of_path(path: str, rules: TeamRules, codeowners: CodeOwners | None) -> Team | None:
    holding = [pattern for pattern in rules.paths if path_matches(pattern, path)]
    if holding:
        return rules.team(rules.paths[holding[-1]], f"{path} is under {holding[-1]} ({FILE}: paths)")
    owners = codeowners.of(path) if codeowners else None
    if owners is None or codeowners is None:
        return None
    why = f"{path} is theirs by {codeowners.name}, line {', '.join(map(str, owners.lines))}"
    known = [rules.code_owners[name] for name in owners.names if name in rules.code_owners]
    return rules.team(known[0], why) if known else Team(name=", ".join(owners.names), why=why)


def _by_module(verdict: Verdict, found: Finding, rules: TeamRules) -> Team | None:
    around = [s for s in verdict.segments if s.module and s.start <= found.line <= s.end]
    module = min(around, key=lambda s: s.lines).module if around else found.facts.get("module")
    if not isinstance(module, str):
        return None
    for pattern, team in rules.modules.items():
        if fnmatchcase(module, pattern):
            return rules.team(team, f"it struck in module {module} ({FILE}: modules)")
    return None


def _by_host(found: Finding, rules: TeamRules) -> Team | None:
    for host in _hosts(found.facts):
        for pattern, team in rules.hosts.items():
            if fnmatchcase(host, pattern.casefold()):
                return rules.team(team, f"it is about {host} ({FILE}: hosts)")
    return None


def _hosts(facts: Mapping[str, Any]) -> Iterator[str]:
    for name in HOST_FACTS:
        value = facts.get(name)
        if isinstance(value, str) and value:
            yield value.casefold().partition("/")[0].partition(":")[0].rstrip(".")
    for name in ADDRESS_FACTS:
        value = facts.get(name)
        if not isinstance(value, str):
            continue
        try:
            host = urlsplit(value if "://" in value else f"//{value}").hostname
        except ValueError:
            continue
        if host:
            yield host.rstrip(".")


def _by_owner(found: Finding, rules: TeamRules) -> Team | None:
    if not found.causes:
        return None
    best = found.causes[0]
    team = rules.owners.get(best.cause.owner)
    if team is None:
        return None
    if len({c.cause.owner for c in found.causes}) == 1:
        sure = "every cause is"
    elif found.shares_informed:
        sure = f"the first cause ({best.share:.0%}) is"
    else:
        sure = "the most usual cause is"
    return rules.team(team, f"{sure} for {best.cause.owner} ({FILE}: owners)")


# --- the file ------------------------------------------------------------------------------------


def find_team_rules(root: Path) -> TeamRules | None:
    """The rules of a work tree; None where it has no such file."""
    path = root / FILE
    return read_team_rules(path) if path.is_file() else None


def read_team_rules(path: Path) -> TeamRules:
    """The rules of a file; InputError tells the first thing that is wrong, with its line."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(str(path), error.strerror or "can't be read", "name a file that can be read") from error
    if len(data) > MOST_BYTES:
        raise InputError(str(path), f"is larger than {MOST_BYTES // 1024} KiB", "a table of teams is small; shorten it")
    from logdoctor.reports.team_file import parse_team_file

    return parse_team_file(data, str(path))
