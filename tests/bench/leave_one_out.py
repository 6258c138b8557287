"""Measures unknown failures: one entry is left out, its logs are diagnosed and drafted from, the draft is tried on all logs.

`python -m tests.bench.leave_one_out [--quick]` prints a table by phase: is the root line among the five shown, did a wrong root
take its place (near relatives apart), does the draft find the failure's other logs (those in nearly the
same words, and all of the same tool) and leave alone those of near relatives, all others, and the succeeded ones (green).
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from rapidfuzz import fuzz

from logdoctor.api import standard_diagnoser
from logdoctor.catalogue import Catalogue
from logdoctor.catalogue.loading import cache_folder
from logdoctor.catalogue.patterns import compiled
from logdoctor.catalogue.reading import Knowledge, read_folder
from logdoctor.diagnosis import Diagnoser
from logdoctor.diagnosis.wording import normalized
from logdoctor.drafting import Draft, DraftError, draft_entry
from logdoctor.intake import clean, open_log
from logdoctor.model import PHASES, Failure, Verdict
from tests.support import FIXTURES, ROOT, catalogue, diagnoser

SHOWN_GOAL, WRONG_GOAL = 0.90, 0.05
LINES_OFF = 2
ALIKE = 80.0


@dataclass(frozen=True)
class Case:
    """A kept log and what is expected of it."""

    name: str
    data: bytes
    failures: frozenset[str]
    line: int
    outcome: str

    @property
    def failure(self) -> str:
        """The first of the right failures; empty where there is none."""
        return min(self.failures, default="")


@dataclass
class Tally:
    """Counts of one phase, or of all."""

    logs: int = 0
    unknown: int = 0
    shown: int = 0
    first: int = 0
    stand_in: int = 0
    near: int = 0
    wrong: list[str] = field(default_factory=list)
    hidden: list[str] = field(default_factory=list)
    drafts: int = 0
    undrafted: list[str] = field(default_factory=list)
    phases: int = 0
    tools: int = 0
    problems: int = 0
    labels: list[str] = field(default_factory=list)
    same_tool: int = 0
    same_tool_found: int = 0
    same_wording: int = 0
    same_wording_found: int = 0
    missed: list[str] = field(default_factory=list)
    touching_near: int = 0
    touching: list[str] = field(default_factory=list)
    green: list[str] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Count another one in."""
        for name in self.__dataclass_fields__:
            setattr(self, name, getattr(self, name) + getattr(other, name))


@cache
def knowledge() -> Knowledge:
    """The built-in catalogue as plain data."""
    return read_folder(ROOT / "knowledge", cache_dir=cache_folder())


@cache
def cases() -> tuple[Case, ...]:
    """All kept logs."""
    return tuple(_case(path) for path in sorted(FIXTURES.rglob("*.log")))


def _case(path: Path) -> Case:
    want: dict[str, Any] = yaml.safe_load(path.with_suffix(".yaml").read_text())
    names = [want["failure"], *(want.get("also") or [])] if want.get("failure") else []
    return Case(path.stem, path.read_bytes(), frozenset(names), want.get("line") or 0, want["outcome"])


@cache
def named() -> dict[str, Case]:
    """All kept logs by name."""
    return {case.name: case for case in cases()}


@cache
def lines_of(name: str) -> tuple[str, tuple[str, ...]]:
    """A log's lines as patterns see them, and all of them as one text."""
    case = named()[name]
    texts = tuple(clean(line).text[:4096] for line in case.data.decode("utf-8", "replace").split("\n"))
    return "\n".join(texts), texts


@cache
def full_verdict(name: str) -> Verdict:
    """The verdict of the whole catalogue."""
    case = named()[name]
    with open_log(case.data, name=name) as log:
        return diagnoser().diagnose(log)


def without(failure: str) -> Catalogue:
    """The catalogue without one failure, and without what others say of it."""
    data = knowledge()
    entries = {}
    for entry in data.entries:
        if entry["id"] != failure:
            kept = dict(entry)
            kept["becomes"] = {k: v for k, v in entry.get("becomes", {}).items() if v != failure}
            kept["explains"] = [other for other in entry.get("explains", ()) if other != failure]
            entries[entry["id"]] = kept
    return Catalogue(entries, data.marks, data.facts)


def related(one: Failure, other: Failure) -> bool:
    """Near relatives: one explains or becomes the other, both share a wording, or both are of one phase."""
    families = [{f.id, *f.becomes.values(), *f.explains} for f in (one, other)]
    shares = {x for f in (one, other) for s in f.signatures for x in s.shares}
    return bool(families[0] & families[1]) or bool(shares & {one.id, other.id}) or one.phase == other.phase


def measure(failure: str, chosen: Sequence[Case], everything: Sequence[Case]) -> Tally:
    """Leave one failure out and look at its logs."""
    left = without(failure)
    maker = standard_diagnoser(left)
    entry = catalogue().failure(failure)
    tally = Tally()
    groups: dict[str, list[tuple[Case, Verdict]]] = defaultdict(list)
    for case in chosen:
        with open_log(case.data, name=case.name) as log:
            verdict = maker.diagnose(log)
        _count_root(tally, entry, case, verdict)
        root = full_verdict(case.name).root
        if root is not None and root.failure.id == failure:
            groups[root.tool].append((case, verdict))
    for tool, found in groups.items():
        _count_draft(tally, entry, (tool, found, maker), everything)
    return tally


def _count_root(tally: Tally, entry: Failure, case: Case, verdict: Verdict) -> None:
    tally.logs += 1
    root = verdict.root
    if root is None or root.failure.stand_in == "last":
        tally.unknown += 1
        lines = [worth.line for worth in verdict.worth_reading]
        if any(abs(line - case.line) <= LINES_OFF for line in lines):
            tally.shown += 1
        else:
            tally.hidden.append(f"{case.name}:{case.line}")
        tally.first += _chooses(case, verdict)
    elif root.failure.stand_in == "general":
        tally.stand_in += 1
    elif root.failure.id in case.failures or related(entry, root.failure):
        tally.near += 1
    else:
        tally.wrong.append(f"{case.name}: {root.failure.id}")


def _chooses(case: Case, verdict: Verdict) -> bool:
    """Whether a draft without a line named is made from the right one."""
    from logdoctor.drafting.proposing import choose_line

    try:
        return abs(choose_line(verdict) - case.line) <= LINES_OFF
    except DraftError:
        return False


def _count_draft(
    tally: Tally,
    entry: Failure,
    group: tuple[str, list[tuple[Case, Verdict]], Diagnoser],
    everything: Sequence[Case],
) -> None:
    tool, found, maker = group
    first, verdict = found[0]
    try:
        draft = draft_of(first, verdict, maker.catalogue)
    except DraftError as error:
        tally.undrafted.append(str(error))
        return
    tally.drafts += 1
    tally.phases += draft.phase == entry.phase
    tally.tools += draft.tool == tool
    tally.problems += bool(draft.problems)
    if draft.phase != entry.phase or draft.tool != tool:
        tally.labels.append(
            f"{first.name}: {draft.phase} {draft.tool}, not {entry.phase} {tool}: {draft.example[:100]}"
        )
    for case, _ in found[1:]:
        same = alike(first, case)
        known = matches(draft, case.name)
        tally.same_tool += 1
        tally.same_tool_found += known
        tally.same_wording += same
        tally.same_wording_found += same and known
        if same and not known:
            tally.missed.append(f"{case.name}: {draft.pattern}")
    for case in everything:
        if matches(draft, case.name) and not shows(entry, case):
            told = f"{case.name}: {draft.pattern}"
            other = case.failure
            if case.outcome == "succeeded":
                tally.green.append(told)
            elif other in catalogue() and related(entry, catalogue().failure(other)):
                tally.touching_near += 1
            else:
                tally.touching.append(told)


def alike(one: Case, other: Case) -> bool:
    """Whether two logs tell their failure in nearly the same words."""
    texts = [normalized(lines_of(case.name)[1][case.line - 1]) for case in (one, other)]
    return fuzz.token_sort_ratio(*texts) >= ALIKE


def draft_of(case: Case, verdict: Verdict, left: Catalogue) -> Draft:
    """A draft from the line that is expected to tell the failure."""
    with open_log(case.data, name=case.name) as log:
        return draft_entry(log, verdict, case.line, left)


def matches(draft: Draft, name: str) -> bool:
    """Whether a draft's pattern matches a line of a log; quicker than a scan, and the same for logs as small as these."""
    whole, texts = lines_of(name)
    rule = compiled(draft.pattern)
    return (
        rule is not None
        and draft.literal in whole
        and any(draft.literal in text and rule.search(text) is not None for text in texts)
    )


def shows(entry: Failure, case: Case) -> bool:
    """Whether a log shows the failure by the whole catalogue, as its root or beside it."""
    verdict = full_verdict(case.name)
    ids = {f.failure.id for f in (verdict.root, *verdict.others) if f is not None}
    return entry.id in ids | case.failures or bool(ids & set(entry.becomes.values()))


def by_failure(everything: Iterable[Case]) -> dict[str, list[Case]]:
    """The logs of each failure that the catalogue knows and that stands in for no other."""
    found: dict[str, list[Case]] = defaultdict(list)
    for case in everything:
        expected = yaml_failure(case)
        if expected and expected in catalogue() and catalogue().failure(expected).stand_in == "no" and case.line:
            found[expected].append(case)
    return found


@cache
def expectations() -> dict[str, str | None]:
    """The expected failure of each log."""
    return {p.stem: yaml.safe_load(p.read_text()).get("failure") for p in FIXTURES.rglob("*.yaml") if p.stem != "open"}


def yaml_failure(case: Case) -> str | None:
    """The failure that is expected of a log, without those that are right, too."""
    return expectations().get(case.name)


def run(*, quick: bool = False) -> dict[str, Tally]:
    """All tallies by phase; quick takes every fifth failure."""
    everything = cases()
    tallies: dict[str, Tally] = defaultdict(Tally)
    for number, (failure, chosen) in enumerate(sorted(by_failure(everything).items())):
        if not quick or number % 5 == 0:
            tallies[catalogue().failure(failure).phase].add(measure(failure, chosen, everything))
    return tallies


def table(tallies: dict[str, Tally]) -> Iterator[str]:
    """The table, a row for each phase."""
    yield (
        f"{'phase':<9} {'logs':>5} {'unknown':>8} {'shown':>6} {'chosen':>7} {'general':>8} {'near':>5} {'wrong':>6} "
        f"{'drafts':>7} {'phase':>6} {'tool':>5} {'same wording':>13} {'same tool':>10} {'near':>5} {'touching':>9} {'green':>6}"
    )
    total = Tally()
    for phase in PHASES:
        if phase in tallies:
            total.add(tallies[phase])
            yield _row(phase, tallies[phase])
    yield _row("all", total)
    yield (
        f"root line among the shown: {_share(total.shown, total.unknown)} (goal {SHOWN_GOAL:.0%}); "
        f"wrong root: {_share(len(total.wrong), total.logs)} (goal {WRONG_GOAL:.0%} at most); "
        f"drafts with problems: {total.problems}, not made: {len(total.undrafted)}"
    )


def _row(name: str, t: Tally) -> str:
    return (
        f"{name:<9} {t.logs:>5} {t.unknown:>8} {t.shown:>6} {t.first:>7} {t.stand_in:>8} {t.near:>5} {len(t.wrong):>6} "
        f"{t.drafts:>7} {t.phases:>6} {t.tools:>5} {f'{t.same_wording_found}/{t.same_wording}':>13} "
        f"{f'{t.same_tool_found}/{t.same_tool}':>10} {t.touching_near:>5} {len(t.touching):>9} {len(t.green):>6}"
    )


def _share(part: int, whole: int) -> str:
    return f"{part} of {whole} ({part / whole:.1%})" if whole else "none"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="every fifth failure")
    parser.add_argument("--details", action="store_true", help="also name what did not go as it should")
    options = parser.parse_args()
    begin = time.perf_counter()
    tallies = run(quick=options.quick)
    print("\n".join(table(tallies)))
    print(f"{time.perf_counter() - begin:.0f} s")
    if options.details:
        for phase, tally in tallies.items():
            for kind in ("wrong", "hidden", "undrafted", "green", "touching", "missed", "labels"):
                for text in getattr(tally, kind):
                    print(f"{kind:<10} {phase:<9} {text}")


if __name__ == "__main__":
    main()
