"""What a reader of set-up files gathers on its way, and the remarks that several readers make in the same words."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from logdoctor.setup_files.finding import SetupText, read_texts
from logdoctor.setup_files.values import Place, Remark, Route, Setup, SetupFact, Severity
from logdoctor.setup_files.work_tree import Address, WorkTree

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

__all__ = ["Gathering"]


@dataclass(slots=True, kw_only=True)
class Gathering:
    """Facts, routes and remarks so far."""

    tree: WorkTree = field(default_factory=WorkTree)
    facts: list[SetupFact] = field(default_factory=list)
    routes: list[Route] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    incomplete: list[str] = field(default_factory=list)

    def read(self, paths: Iterable[Path]) -> list[SetupText]:
        """The files that can be read; each other gets its remark."""
        texts, unreadable = read_texts(paths)
        self.remarks += unreadable
        return texts

    def remark(self, severity: Severity, code: str, place: Place | None, what: str, mend: str) -> None:
        """Note something down."""
        self.remarks.append(Remark(severity=severity, what=what, mend=mend, place=place, code=code))

    def fact(self, name: str, value: str | bool | int, place: Place | None) -> None:  # noqa: FBT001 -- a fact's value
        """Note an observation down."""
        self.facts.append(SetupFact(name=name, value=value, place=place))

    def exposed(self, text: SetupText | None) -> Severity:
        """How bad a secret written out in that file is."""
        return (self.tree.exposure(text.path) if text else None) or "note"

    def check_password(self, url: str, text: SetupText | None, place: Place | None) -> None:
        """An address that carries its password."""
        address = Address.of(url)
        if address.literal_password:
            what = f"The address {address.bare} is written with a user and a password in it."
            mend = "Take them out of the address and give them through the tool's credential settings or variables."
            self.remark(self.exposed(text), "credentials-in-url", place, what, mend)

    def setup(self) -> Setup:
        """All of it, each once."""
        return Setup(
            facts=tuple(dict.fromkeys(self.facts)),
            routes=tuple(dict.fromkeys(self.routes)),
            remarks=tuple(dict.fromkeys(self.remarks)),
            incomplete=tuple(dict.fromkeys(self.incomplete)),
        )
