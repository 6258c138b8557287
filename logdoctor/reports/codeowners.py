"""CODEOWNERS files as code hosts publish their form: patterns of gitignore, the last match wins, owners after the pattern.

Told apart from gitignore, as published: `docs/*` holds the files right in `docs` alone; a pattern without owners frees
its files; negation and character ranges are no patterns here. Sections (`[Name] @owner`) each give their own last match.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from logdoctor.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import regex

__all__ = ["CodeOwners", "OwnerRule", "Owners", "find_code_owners", "path_matches"]

MOST_BYTES = 3 * 1024 * 1024
"""The limit that a code host publishes for this file; a larger one is not read there either."""
LONGEST_PATTERN = 1000
LONGEST_PATH = 4096
MOST_STARS = 12
PATIENCE = 0.1
"""Seconds that one pattern may take for one path."""
_SECTION = re.compile(r"\^?\[(?P<name>[^\]]+)\](?:\[\d+\])?(?:\s+(?P<owners>.*))?$")
_OWNER = re.compile(r"@[\w.@/-]+|[\w.+-]+@[\w-]+(?:\.[\w-]+)+$")
_WORD = re.compile(r"(?:\\.|[^\s\\])+|\\$")


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerRule:
    """One line: a pattern, who owns what it matches, and the section it stands in."""

    line: int
    pattern: str
    owners: tuple[str, ...]
    section: str

    def holds(self, path: str) -> bool:
        """Whether the pattern matches a path of the work tree, given with forward slashes."""
        return path_matches(self.pattern, path, children_only=self.pattern.endswith("/*"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Owners:
    """Who owns a path, and the lines of the file that say so."""

    names: tuple[str, ...]
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeOwners:
    """A file that was read; `left_out` holds the numbers of lines that could not be used."""

    name: str
    rules: tuple[OwnerRule, ...]
    left_out: tuple[int, ...] = ()

    @classmethod
    def parse(cls, text: str, *, name: str = "CODEOWNERS") -> CodeOwners:
        """Never fails: a line that is no rule is left out and counted."""
        rules: list[OwnerRule] = []
        left_out: list[int] = []
        section: str = ""
        standing: tuple[str, ...] = ()
        for number, raw in enumerate(text.splitlines(), start=1):
            line = raw.strip()
            if not line or line.startswith("#"):
                continue
            opened = _SECTION.match(line)
            if opened:
                section, standing = opened["name"].strip().casefold(), _owners((opened["owners"] or "").split())
                continue
            rule = _rule(number, line, section, standing)
            if rule is None:
                left_out.append(number)
            else:
                rules.append(rule)
        return cls(name=name, rules=tuple(rules), left_out=tuple(left_out))

    def of(self, path: str) -> Owners | None:
        """Who owns a path; None where nobody does."""
        last: dict[str, OwnerRule] = {}
        for rule in reversed(self.rules):
            if rule.section not in last and rule.holds(path):
                last[rule.section] = rule
                if len(last) == self._sections():
                    break
        owning = sorted((rule for rule in last.values() if rule.owners), key=lambda rule: rule.line)
        if not owning:
            return None
        names = dict.fromkeys(owner for rule in owning for owner in rule.owners)
        return Owners(names=tuple(names), lines=tuple(rule.line for rule in owning))

    def _sections(self) -> int:
        return len({rule.section for rule in self.rules})


def _rule(number: int, line: str, section: str, standing: tuple[str, ...]) -> OwnerRule | None:
    words: list[str] = []
    for word in _WORD.findall(line):
        if words and word.startswith("#"):
            break
        words.append(word)
    if not words or words[0].startswith("!") or re.search(r"(?<!\\)[\[\]]", words[0]) or not _usable(words[0]):
        return None
    return OwnerRule(line=number, pattern=words[0], owners=_owners(words[1:]) or standing, section=section)


def _usable(pattern: str) -> bool:
    return len(pattern) <= LONGEST_PATTERN and pattern.count("*") <= MOST_STARS and not pattern.endswith("\\")


def path_matches(pattern: str, path: str, *, children_only: bool = False) -> bool:
    """Whether a pattern of gitignore holds a path; with `children_only` nothing below a folder that it names."""
    compiled = _compiled(pattern)
    if compiled is None or len(path) > LONGEST_PATH:
        return False
    try:
        found = compiled.search(path, timeout=PATIENCE)
    except TimeoutError:  # many stars against a long path; such a rule tells nothing
        return False
    return found is not None and not (children_only and found.groupdict().get("ps_d"))


@lru_cache(maxsize=4096)
def _compiled(pattern: str) -> regex.Pattern[str] | None:
    """The library's translation, compiled so that matching can be given up."""
    import regex
    from pathspec import GitIgnoreSpec

    try:
        made = GitIgnoreSpec.from_lines([pattern]).patterns
    except ValueError:
        return None
    source = made[0].regex.pattern if made and made[0].regex is not None else None
    return regex.compile(source) if isinstance(source, str) else None


def _owners(words: list[str]) -> tuple[str, ...]:
    return tuple(word for word in words if _OWNER.fullmatch(word))


def find_code_owners(root: Path) -> CodeOwners | None:
    """The file of a work tree: in a hidden folder at its top, else at the top, else in `docs`; the first one counts."""
    for path in _places(root):
        try:
            if not path.is_file():
                continue
            with path.open("rb") as file:
                data = file.read(MOST_BYTES + 1)
        except OSError as error:
            raise InputError(
                str(path), error.strerror or "can't be read", "make it readable, or leave it out"
            ) from error
        if len(data) > MOST_BYTES:
            raise InputError(str(path), "is larger than 3 MiB", "no code host reads it either; shorten it")
        text = data.decode("utf-8-sig", "replace")
        return CodeOwners.parse(text, name=path.relative_to(root).as_posix())
    return None


def _places(root: Path) -> Iterator[Path]:
    try:
        hidden = sorted(entry for entry in root.iterdir() if entry.name.startswith(".") and entry.is_dir())
    except OSError:
        hidden = []
    yield from (folder / "CODEOWNERS" for folder in hidden if folder.name != ".git")
    yield root / "CODEOWNERS"
    yield root / "docs" / "CODEOWNERS"
