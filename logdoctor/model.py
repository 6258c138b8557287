"""The frozen values that pass between rooms: catalogue entries, scan hits, segments, findings, the verdict.

Line numbers are 1-based and count as ``grep -n`` counts; byte offsets are into the decompressed log.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, NewType

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

FailureId = NewType("FailureId", str)
SignatureId = NewType("SignatureId", str)

Phase = Literal["agent", "checkout", "setup", "resolve", "compile", "test", "package", "deploy", "post"]
PHASES: tuple[Phase, ...] = (
    "agent",
    "checkout",
    "setup",
    "resolve",
    "compile",
    "test",
    "package",
    "deploy",
    "post",
)
StandIn = Literal["no", "general", "last"]
Speaks = Literal["excludes", "strongly-against", "against", "for", "strongly-for"]
Rerun = Literal["useless", "may", "helps"]
Outcome = Literal["failed", "succeeded", "aborted", "unknown"]
State = Literal["passed", "failed", "unfinished"]
Role = Literal["root", "follow-on", "recovered", "separate", "background"]
Cut = Literal["none", "head", "middle", "tail"]
FactValue = str | bool | int | float


# --- the catalogue -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """A condition on the lines around a match."""

    line: str
    within: int = 5
    where: Literal["before", "after", "around"] = "around"
    must: Literal["stand", "not-stand"] = "stand"


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """A line (or a few) as a tool prints it, and where it was seen: lab, published or memory."""

    text: str
    seen: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """How one tool words a failure."""

    id: SignatureId
    tool: str
    line: str
    literals: tuple[str, ...]
    near: tuple[Near, ...] = ()
    prefers: tuple[Phase, ...] = ()
    ends: bool = False
    summary: bool = False
    bare: bool = False
    soft: bool = False
    items: bool = False
    shares: tuple[FailureId, ...] = ()
    examples: tuple[Example, ...] = ()
    lookalikes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """How strongly a value of a fact speaks for or against a cause; `accepts` or `matches` names the values."""

    fact: str
    accepts: tuple[FactValue, ...]
    matches: str | None
    speaks: Speaks
    group: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One explanation of a failure, with its fix and the owner who can do it."""

    id: str
    says: str
    usual: Literal["common", "occasional", "rare"]
    rerun: Rerun
    clues: tuple[Clue, ...]
    owner: str
    fix: tuple[str, ...]
    caution: str | None
    proof: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckFact:
    """The fact that answers a check by itself, when it has one of the values in `accepts` (any value when that is empty)."""

    name: str
    accepts: tuple[FactValue, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A yes/no question; `yes` and `no` tell how the answer speaks for each cause id. `fact` makes it needless."""

    id: str
    ask: str
    how: str
    effort: Literal["seconds", "minutes", "someone-else"]
    yes: Mapping[str, Speaks]
    no: Mapping[str, Speaks]
    fact: CheckFact | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A catalogue entry: what went wrong, without naming a tool."""

    id: FailureId
    phase: Phase
    title: str
    meaning: str
    stand_in: StandIn = "no"
    wrapper: bool = False
    explains: tuple[FailureId, ...] = ()
    outcome: Outcome | None = None
    becomes: Mapping[str, FailureId] = field(default_factory=dict)
    standard: Mapping[str, object] = field(default_factory=dict)
    references: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=dict)
    signatures: tuple[Signature, ...] = ()
    causes: tuple[Cause, ...] = ()
    checks: tuple[Check, ...] = ()
    layer: str = "built in"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A line that tells where a build is; `does` names what it tells (see catalogue/marks.py)."""

    id: str
    tool: str
    does: str
    line: str
    literals: tuple[str, ...]
    phase: str | None = None
    table: Mapping[str, str] = field(default_factory=dict)
    table_needs: Mapping[str, Any] = field(default_factory=dict)
    """What each pattern of the table needs to stand in a text, so that few of them are compiled."""
    outcome: str | None = None
    by: str = "tool"
    options: Mapping[str, object] = field(default_factory=dict)


# --- the scan ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A rule (signature, mark or fact line) met on one line of the log."""

    rule: str
    line: int
    offset: int
    text: str
    groups: Mapping[str, str]
    lane: str | None = None
    seconds: float | None = None
    clock: str | None = None


# --- the verdict ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A run of lines in one phase and lane."""

    phase: Phase
    lane: str | None
    module: str | None
    start: int
    end: int
    lines: int
    state: State
    seconds: float | None
    tool: str | None = None
    goal: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """A line of the log that shows something."""

    line: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A failing test, a compiler error or a missing artifact."""

    text: str
    file: str | None
    line: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpokenClue:
    """A clue that spoke: the fact, its value and what it did to the cause."""

    fact: str
    value: FactValue
    speaks: Speaks
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedCause:
    """A cause with its share of 1 after all clues."""

    cause: Cause
    share: float
    clues: tuple[SpokenClue, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextCheck:
    """A check worth asking, with its expected information gain in bits."""

    check: Check
    gain_bits: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A signature met in this log, with its role here."""

    failure: Failure
    signature: str
    tool: str
    role: Role
    line: int
    last_line: int
    count: int
    struck_in: Phase
    evidence: tuple[Evidence, ...]
    facts: Mapping[str, FactValue]
    excerpt: tuple[Evidence, ...] = ()
    items: tuple[Item, ...] = ()
    items_total: int = 0
    causes: tuple[RankedCause, ...] = ()
    shares_informed: bool = False
    next_checks: tuple[NextCheck, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WorthReading:
    """A line that an unknown failure may be read from."""

    line: int
    text: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """A known failure whose wording comes near; closeness from 0 to 1."""

    failure: FailureId
    title: str
    closeness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere:
    """Another log or report that holds the reason or more of it."""

    what: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposedSecret:
    """A line that shows a secret, and of which kind; never the value."""

    line: int
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One file of a log made of several: the line before its own first line."""

    name: str
    first: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What was read: sizes are of the decompressed log. `parts`: its files, where there are several."""

    name: str
    bytes: int
    lines: int
    encoding: str
    cut: Cut
    parts: tuple[Part, ...] = ()

    def place(self, line: int) -> tuple[str | None, int]:
        """The file that holds a line of the whole (None where there is only one), and the line's number there."""
        index = bisect_right(self.parts, line, key=lambda part: part.first) - 1
        if index < 0:
            return None, line
        part = self.parts[index]
        return part.name, max(1, line - part.first)

    def says(self, line: int) -> str:
        """A line's place in words."""
        file, number = self.place(line)
        return f"line {number}" if file is None else f"{file} line {number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """All that is known of one log."""

    source: Source
    outcome: Outcome
    headline: str
    fingerprint: str
    segments: tuple[Segment, ...]
    root: Finding | None
    others: tuple[Finding, ...]
    others_left_out: int
    worth_reading: tuple[WorthReading, ...]
    nearest: tuple[Nearest, ...]
    elsewhere: tuple[Elsewhere, ...]
    exposed_secrets: tuple[ExposedSecret, ...]
    notices: tuple[str, ...] = ()
    secret_lines: tuple[str, ...] = field(default=(), repr=False)
    """Raw texts of the lines that show a secret: never to be shown, but for the gate to know the values by."""

    @property
    def log_texts(self) -> Iterator[str]:
        """All raw texts that came out of the log; a secret known from one of them is masked in the others."""
        yield from self.secret_lines
        for finding in (self.root, *self.others):
            if finding is not None:
                yield from (evidence.text for evidence in (*finding.evidence, *finding.excerpt))
                yield from (value for value in finding.facts.values() if isinstance(value, str))
        yield from (worth.text for worth in self.worth_reading)
        yield from (place.where for place in self.elsewhere)
