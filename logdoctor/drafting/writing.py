"""A draft as YAML, in the order of the contributor's guide, with words that say what a person has to fill in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from logdoctor.model import Phase

__all__ = ["TODO", "Contents", "owner_of", "still_to_do", "yaml_text"]

TODO = "TODO"
_OWNERS = {
    "agent": "agent-admin",
    "checkout": "code-host-admin",
    "resolve": "repository-admin",
    "deploy": "target-admin",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What goes into the file. `known`: the entry exists already, and only a wording is added."""

    id: str
    phase: Phase
    title: str
    meaning: str
    signature: str
    tool: str
    line: str
    literal: str
    example: str
    lookalikes: tuple[str, ...]
    known: bool


def owner_of(phase: str) -> str:
    """Who mostly can change it; a guess that the author of the entry corrects."""
    return _OWNERS.get(phase, "build-owner")


def yaml_text(contents: Contents) -> str:
    """The file."""
    lines = [
        f"id: {contents.id}",
        f"phase: {contents.phase}",
        f"title: {_quoted(contents.title)}",
        f"meaning: {_quoted(contents.meaning)}",
        "signatures:",
        f"  - id: {contents.signature}",
        f"    tool: {_quoted(contents.tool) if contents.tool[:1].isdigit() else contents.tool}",
        f"    line: {_quoted(contents.line)}",
        f"    literal: {_quoted(contents.literal)}",
        f"    prefers: [{contents.phase}]",
        "    examples:  # the line of the log; secrets, hosts and accounts are replaced",
        f"      - {{text: {_quoted(contents.example)}, seen: memory}}",
        *_list("    lookalikes", contents.lookalikes),
    ]
    lines += ["causes: []  # those of the known entry stay"] if contents.known else _skeleton(contents)
    return "\n".join(lines) + "\n"


def _list(key: str, texts: Sequence[str]) -> list[str]:
    if not texts:
        return []
    return [f"{key}:", *(f"      - {_quoted(text)}" for text in texts)]


def _skeleton(contents: Contents) -> list[str]:
    return [
        "causes:",
        "  - id: todo-cause",
        "    says: 'TODO: in one sentence, what was wrong, and in which system.'",
        "    usual: common            # common | occasional | rare",
        "    rerun: useless           # useless | may | helps",
        f"    owner: {owner_of(contents.phase)}  # a guess by phase: who can change it?",
        "    fix:",
        "      - 'TODO: one step a line, concrete: the element, option, command or right.'",
        "    caution: null            # a text where a step deletes, weakens or exposes something",
        "    proof: 'TODO: what the next log shows once it is fixed.'",
        "checks:",
        "  - id: todo-check",
        "    ask: 'TODO: a question with yes or no that tells the causes apart?'",
        "    how: 'TODO: how to find out, concrete.'",
        "    effort: minutes          # seconds | minutes | someone-else",
        "    yes: {todo-cause: strongly-for}",
        "    no: {todo-cause: against}",
    ]


def still_to_do(data: object, path: str = "$") -> list[str]:
    """The key paths of an entry whose text still says that it is to be written."""
    if isinstance(data, str):
        return [path] if data.startswith((TODO, TODO.lower() + "-")) else []
    if isinstance(data, dict):
        return _of_mapping(data, path)
    if isinstance(data, list):
        return [found for index, value in enumerate(data) for found in still_to_do(value, f"{path}[{index}]")]
    return []


def _of_mapping(data: Mapping[object, object], path: str) -> list[str]:
    found: list[str] = []
    for key, value in data.items():
        if str(key) not in ("yes", "no", "True", "False"):
            found += still_to_do(value, f"{path}.{key}")
    return found


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
