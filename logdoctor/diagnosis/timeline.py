"""Marks in order become steps: one goal, task or command in one lane, and what became of it.

A step is finer than a segment: a compile segment may hold three goals, and a failure in one of them was not
in the others.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from logdoctor.catalogue.literals import holds
from logdoctor.catalogue.patterns import compiled
from logdoctor.lazy import lazy
from logdoctor.model import PHASES, Hit, Mark, Phase

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from logdoctor.catalogue import Catalogue
    from logdoctor.scan import Scan

# What may stand before a command's name: another command that runs it, settings of variables.
_BEFORE_COMMAND = lazy(
    r"^(?:(?:sudo|env|time|exec|nohup|command|xvfb-run|retry)\s+|timeout\s+\S+\s+|[A-Za-z_]\w*=\S*\s+)+"
)

# What a shell goes on after, whatever the command before it did: `npm audit || true`.
_ALLOWED_TO_FAIL = lazy(r"\|\|\s*(?!exit\b|return\b|die\b|fail\b|\{|\()\S[^;&|]*$")
# Whose marks begin something new; those of tools stand inside the command that was called.
CALLERS = frozenset({"bash", "ci"})

# The line that says so, and how many lines up, itself included, what it speaks of may stand.
ALLOWED = "ci/allowed-to-fail"
ALLOWED_AT_ONCE = 3
SCRIPT_EXITS = "bash/script-exits"
SECTION = "ci/starting-section"
# What scripts do between a failure and their own `exit 1`: say it, and show what may explain it.
SAYS = lazy(
    r"^(?:echo|printf|cat|tail|head|ls|cp|mv|tar|zip|mkdir|test -\w|true|logger|df|free|ps|journalctl|dmesg|sleep)\b"
    r"|^(?:kubectl|oc|docker|podman|helm)\b.{0,80}?\b(?:get|describe|logs?|ps|events|status|history|inspect|top)\b"
)

__all__ = ["ALLOWED", "ALLOWED_AT_ONCE", "SAYS", "MarkHit", "Step", "Timeline", "build_timeline"]


@dataclass(frozen=True, slots=True)
class MarkHit:
    """A mark met in the log."""

    mark: Mark
    hit: Hit

    @property
    def line(self) -> int:
        """Where it stands."""
        return self.hit.line


@dataclass(slots=True)
class Step:
    """One goal, task or command. `closed` is passed or failed where a mark says so, else None."""

    phase: Phase
    start: int
    lane: str | None = None
    tool: str | None = None
    goal: str | None = None
    module: str | None = None
    end: int = 0
    closed: str | None = None
    followed: bool = False
    inner: bool = False
    allowed: bool = False
    """Whether the shell goes on when it fails."""
    keeps: bool = False
    """Whether commands within it belong to it: a stage of work after the build, as against one such line."""
    opened_by: Hit | None = None
    opened_as: str | None = None
    ended_by: Hit | None = None

    def holds(self, line: int, lane: str | None) -> bool:
        """Whether a line of a lane belongs to this step."""
        return self.start <= line <= self.end and self.lane == lane


@dataclass(slots=True)
class Timeline:
    """Steps of all lanes in order of their start, the marks by what they do, and the real lanes."""

    steps: list[Step] = field(default_factory=list)
    marks: dict[str, list[MarkHit]] = field(default_factory=dict)
    lanes: frozenset[str | None] = frozenset({None})
    lines: int = 0
    by_lane: dict[str | None, list[Step]] = field(default_factory=dict)

    def of(self, *does: str) -> list[MarkHit]:
        """The marks that do one of these, in order."""
        found = [m for d in does for m in self.marks.get(d, ())]
        return sorted(found, key=lambda m: m.line)

    def lane_of(self, hit: Hit) -> str | None:
        """The hit's lane, or None where its prefix is not a lane of this log."""
        return hit.lane if hit.lane in self.lanes else None

    def step_at(self, line: int, lane: str | None) -> Step:
        """The step that was open on a line of a lane."""
        steps = self.by_lane.get(lane) or self.by_lane[None]
        index = bisect_right(steps, line, key=lambda s: s.start) - 1
        return steps[index] if index >= 0 else self.by_lane[None][0]

    def after(self, step: Step) -> Iterator[Step]:
        """Later steps of the same lane."""
        steps = self.by_lane[step.lane]
        return iter(steps[steps.index(step) + 1 :])


def build_timeline(scan: Scan, catalogue: Catalogue) -> Timeline:
    """Order the marks and cut each lane into steps."""
    timeline = Timeline(lines=scan.lines)
    for key in catalogue.marks:
        if key in scan.hits:
            mark = catalogue.marks[key]
            timeline.marks.setdefault(mark.does, []).extend(MarkHit(mark, hit) for hit in scan.hits[mark.id].kept())
    for hits in timeline.marks.values():
        hits.sort(key=lambda m: m.line)
    _drop_forgiven(timeline.marks)
    timeline.lanes = _real_lanes(timeline.marks)
    _cut_steps(timeline)
    return timeline


def _drop_forgiven(marks: dict[str, list[MarkHit]]) -> None:
    """Take out what says that something failed where the next line says that the job goes on all the same."""
    forgiven = {
        (m.line - n, m.hit.lane)
        for m in marks.get("repair", ())
        if m.mark.id == ALLOWED
        for n in range(ALLOWED_AT_ONCE)
    }
    for does in ("state", "conclude"):
        marks[does] = [
            m for m in marks.get(does, ()) if m.mark.outcome == "succeeded" or (m.line, m.hit.lane) not in forgiven
        ]


def _real_lanes(marks: Mapping[str, list[MarkHit]]) -> frozenset[str | None]:
    """A prefix is a lane when something was opened or stated in it."""
    found = [m.hit for does in ("open", "state", "conclude") for m in marks.get(does, ())]
    return frozenset([None, *(hit.lane for hit in found if not _names_workspace(hit))])


def _names_workspace(hit: Hit) -> bool:
    """`[fares] $ mvn package` names the workspace of a command, whose output then has no prefix."""
    return hit.text.startswith("$ ")


def _cut_steps(timeline: Timeline) -> None:
    open_steps: dict[str | None, Step] = {None: Step(phase="agent", start=1)}
    timeline.steps.append(open_steps[None])
    for found in timeline.of("open", "close", "skip"):
        lane = timeline.lane_of(found.hit)
        current = open_steps.get(lane)
        if found.mark.does == "open":
            _open(timeline, open_steps, found, lane)
        elif current is not None and found.mark.does == "skip":
            current.phase = "post"  # announced, but not done: nothing that followed
        elif current is not None:
            current.closed, current.ended_by = found.mark.outcome, found.hit
    for step in open_steps.values():
        step.end = timeline.lines
    _spot_last_words(timeline)
    timeline.steps.sort(key=lambda s: s.start)
    for step in timeline.steps:
        timeline.by_lane.setdefault(step.lane, []).append(step)
    for steps in timeline.by_lane.values():
        _spot_checkouts_undone(steps)
        _mark_followed(steps)


def _spot_checkouts_undone(steps: Sequence[Step]) -> None:
    """A section of the server's named like a checkout, behind all the work, only takes back what the checkout left."""
    for number in range(len(steps) - 1, 0, -1):
        step = steps[number]
        if step.phase == "checkout" and step.opened_as == SECTION and any(map(_is_section_of_work, steps[:number])):
            step.phase = "post"
        elif step.phase != "post":
            return


def _is_section_of_work(step: Step) -> bool:
    return step.opened_as == SECTION and step.phase not in ("checkout", "setup")


def _spot_last_words(timeline: Timeline) -> None:
    """What a script says between a failure and its own `exit 1` is no work that followed."""
    for end in [m for m in timeline.of("conclude") if m.mark.id == SCRIPT_EXITS]:
        lane = timeline.lane_of(end.hit)
        for step in reversed([s for s in timeline.steps if s.lane == lane and s.start <= end.line]):
            if step.phase != "post" and not SAYS.search(step.goal or ""):
                break
            step.phase = "post"


def _open(timeline: Timeline, open_steps: dict[str | None, Step], found: MarkHit, lane: str | None) -> None:
    """Begin a step, unless the mark's table does not know it or it only says again what is open."""
    current = open_steps.get(lane)
    phase = phase_of(found, current.phase if current else "agent", keeps=current is not None and current.keeps)
    if phase is None or (current is not None and _goes_on(current, found, phase)):
        return
    if current is not None:
        current.end = max(current.start, found.line - 1)
        current.ended_by = current.ended_by or found.hit
        if current.start == found.line:
            timeline.steps.remove(current)
    within = current is not None and current.keeps and current.phase == phase and found.mark.phase == "same"
    open_steps[lane] = _step(found, phase, lane, keeps=within or bool(found.mark.options.get("keeps")))
    if current is not None and current.allowed and found.mark.tool not in CALLERS:
        open_steps[lane].allowed = not _closed_between(timeline, current, found)
    timeline.steps.append(open_steps[lane])


def _closed_between(timeline: Timeline, step: Step, found: MarkHit) -> bool:
    """Whether the CI server closed the job that called this step's command before the mark was met."""
    return any(m.mark.by == "ci" and step.start < m.line < found.line for m in timeline.of("conclude"))


def _goes_on(step: Step, found: MarkHit, phase: Phase) -> bool:
    """Whether a mark only says again what is open: one compiler call after the other is one step."""
    named = found.hit.groups.keys() & {"goal", "command", "module"}
    return not named and step.opened_as == found.mark.id and step.phase == phase


def _step(found: MarkHit, phase: Phase, lane: str | None, *, keeps: bool) -> Step:
    groups = found.hit.groups
    return Step(
        phase=phase,
        start=found.line,
        lane=lane,
        tool=found.mark.tool,
        goal=groups.get("goal") or groups.get("command"),
        module=groups.get("module"),
        inner=found.mark.options.get("depth") == "inner",
        allowed=_ALLOWED_TO_FAIL.search(groups.get("command", "")) is not None,
        keeps=keeps,
        opened_by=found.hit,
        opened_as=found.mark.id,
    )


def _mark_followed(steps: list[Step]) -> None:
    """A step was left behind when a later step of the same module, or of no module, opened."""
    for index, step in enumerate(steps):
        step.followed = any(
            later.module == step.module or step.module is None or later.module is None
            for later in steps[index + 1 :]
            if later.phase != "post"
        )


def phase_of(found: MarkHit, current: Phase, *, keeps: bool = False) -> Phase | None:
    """The phase that an opening mark stands for; None when its table does not know the text.

    `current` is the phase open so far, which `phase: same` keeps (work after the build only where its step `keeps` it).
    """
    mark = found.mark
    text = (
        found.hit.groups.get("goal") or _BEFORE_COMMAND.sub("", found.hit.groups.get("command", "")) or found.hit.text
    )
    if keeps and current == "post" and mark.phase == "same" and not mark.options.get("keeps"):
        return "post"
    lowered = text.lower()
    for pattern, phase in mark.table.items():
        needs = mark.table_needs.get(pattern)
        if needs is not None and not holds(needs, text, lowered):
            continue
        rule = compiled(pattern)
        if rule is not None and rule.search(text):
            return _phase(phase)
    if mark.phase == "same":
        stays = keeps or mark.options.get("keeps") == "all"
        return "agent" if current == "post" and not stays else current
    return _phase(mark.phase)


def _phase(name: str | None) -> Phase | None:
    return name if name in PHASES else None


def lines_of(steps: Iterable[Step]) -> int:
    """How many lines the steps take together."""
    return sum(step.end - step.start + 1 for step in steps)
