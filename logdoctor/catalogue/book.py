"""The loaded catalogue: entries are built when asked for, rules for the scan are listed once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from logdoctor.catalogue.building import build_failure, build_mark
from logdoctor.catalogue.literals import Need, holds
from logdoctor.catalogue.picking import Picking, listed
from logdoctor.model import Failure, FailureId, Mark, Signature

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.catalogue.prepared import Prepared
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
        prepared: Prepared | None = None,
    ) -> None:
        """`prepared` holds the same already, with what picks lines; its marks are read when they are asked for."""
        self._entries = entries
        self._built: dict[str, Failure] = {}
        self._signatures: dict[str, Signature] = {}
        self._mark_files = marks
        self._prepared = prepared
        self.marks: Mapping[str, Mark] = (
            _Marks(prepared.marks)
            if prepared
            else {mark.id: mark for mark in (build_mark(told["data"], told["tool"]) for told in self.mark_data())}
        )
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
            for told in self.mark_data()
            if f"{told['tool']}/{told['data']['id']}" == mark_id
            for text in told["data"].get(key, ())
        ]

    def mark_data(self) -> list[dict[str, Any]]:
        """The plain data of each mark, with the tool of its file."""
        if self._prepared is not None:
            return list(self._prepared.marks.values())
        return [{"tool": file["tool"], "data": data} for file in self._mark_files for data in file["marks"]]

    def entry_data(self) -> list[dict[str, Any]]:
        """The plain data of each entry."""
        return list(self._entries.values())

    def picking(self) -> Picking:
        """What picks lines for the rules."""
        return self._prepared.picking if self._prepared is not None else listed(self.rules())

    def rules(self) -> list[Rule]:
        """Everything the scan looks for, without building the entries."""
        if self._prepared is not None:
            return self._prepared.rules()
        rules: list[Rule] = []
        for entry in self._entries.values():
            rules += [_signature_rule(entry["id"], data) for data in entry["signatures"]]
        rules += [_mark_rule(told["tool"], told["data"]) for told in self.mark_data()]
        literals = self.facts.get("literals", {})
        rules += [
            Rule(key=name, kind="fact", line=line, literals=tuple(literals[name]))
            for name, line in self.facts.get("line", {}).items()
        ]
        return rules


class _Marks(Mapping[str, Mark]):
    """Marks by id, each built when it is asked for."""

    def __init__(self, told: Mapping[str, dict[str, Any]]) -> None:
        self._told = told
        self._built: dict[str, Mark] = {}

    def __getitem__(self, key: str) -> Mark:
        if key not in self._built:
            told = self._told[key]
            self._built[key] = build_mark(told["data"], told["tool"])
        return self._built[key]

    def __contains__(self, key: object) -> bool:
        return key in self._told

    def __iter__(self) -> Iterator[str]:
        return iter(self._told)

    def __len__(self) -> int:
        return len(self._told)


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
