"""The loaded catalogue: entries are built when asked for, rules for the scan are listed once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from logdoctor.catalogue.building import build_failure, build_mark
from logdoctor.catalogue.literals import Need, holds
from logdoctor.model import Failure, FailureId, Mark, Signature

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from logdoctor.catalogue.problems import Problem

__all__ = ["Catalogue", "Rule"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What the scan looks for: a key, the pattern, and the literals that pick lines for it."""

    key: str
    kind: Literal["signature", "mark", "fact"]
    line: str
    literals: tuple[str, ...]
    tally: bool = False
    needs: Need | None = None

    def may_match(self, text: str) -> bool:
        """Whether a text holds what every match holds; False is sure, True is not."""
        return self.needs is None or holds(self.needs, text, text.lower())


class Catalogue:
    """All failures and marks. `problems` names what was left out."""

    def __init__(
        self,
        entries: Mapping[str, dict[str, Any]],
        marks: Sequence[dict[str, Any]],
        facts: Mapping[str, Any],
        problems: tuple[Problem, ...] = (),
    ) -> None:
        self._entries = entries
        self._built: dict[str, Failure] = {}
        self._signatures: dict[str, Signature] = {}
        self._mark_data = marks
        self.marks: dict[str, Mark] = {
            mark.id: mark for file in marks for mark in (build_mark(data, file["tool"]) for data in file["marks"])
        }
        self.facts = facts
        self.problems = problems

    def __contains__(self, failure_id: object) -> bool:
        return failure_id in self._entries

    def __iter__(self) -> Iterator[Failure]:
        return (self.failure(FailureId(key)) for key in self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    def failure(self, failure_id: str) -> Failure:
        """The entry with this id; KeyError when there is none."""
        if failure_id not in self._built:
            self._built[failure_id] = build_failure(self._entries[failure_id])
        return self._built[failure_id]

    def file_of(self, failure_id: str) -> str:
        """The file an entry came from, relative to its layer's folder."""
        return str(self._entries[failure_id].get("file", ""))

    def signature(self, key: str) -> Signature:
        """The signature with the key `failure/signature`."""
        if key not in self._signatures:
            failure_id = key.partition("/")[0]
            for signature in self.failure(failure_id).signatures:
                self._signatures[f"{failure_id}/{signature.id}"] = signature
        return self._signatures[key]

    def mark_examples(self, mark_id: str, *, lookalikes: bool = False) -> list[str]:
        """The example lines (or the lookalikes) written beside a mark."""
        key = "lookalikes" if lookalikes else "examples"
        return [
            text
            for file in self._mark_data
            for data in file["marks"]
            if f"{file['tool']}/{data['id']}" == mark_id
            for text in data.get(key, ())
        ]

    def rules(self) -> list[Rule]:
        """Everything the scan looks for, without building the entries."""
        rules: list[Rule] = []
        for entry in self._entries.values():
            rules += [_signature_rule(entry["id"], data) for data in entry["signatures"]]
        for file in self._mark_data:
            rules += [_mark_rule(file["tool"], data) for data in file["marks"]]
        literals = self.facts.get("literals", {})
        rules += [
            Rule(key=name, kind="fact", line=line, literals=tuple(literals[name]))
            for name, line in self.facts.get("line", {}).items()
        ]
        return rules


def _mark_rule(tool: str, data: Mapping[str, Any]) -> Rule:
    return Rule(
        key=f"{tool}/{data['id']}",
        kind="mark",
        line=data["line"],
        literals=tuple(data["literal"]),
        tally=data["does"] in ("download", "upload"),
        needs=data.get("needs"),
    )


def _signature_rule(failure_id: str, data: Mapping[str, Any]) -> Rule:
    literals = tuple(data.get("literal", ()))
    return Rule(
        key=f"{failure_id}/{data['id']}",
        kind="signature",
        line=data["line"],
        literals=literals,
        needs=data.get("needs"),
    )
