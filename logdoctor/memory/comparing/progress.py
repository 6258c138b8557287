"""How far either run got, what became of the old failure, and the progress in one sentence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from logdoctor.memory.comparing.model import SetupChange
from logdoctor.model import PHASES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.memory.comparing.model import FailureChange, ItemsChange, Standing
    from logdoctor.model import Finding, Phase, Segment, Verdict

__all__ = ["Progress", "progress_of", "reached", "sentence"]

PLACES: dict[Phase, str] = {
    "agent": "the agent",
    "checkout": "checkout",
    "setup": "tool setup",
    "resolve": "resolving dependencies",
    "compile": "compiling",
    "test": "the tests",
    "package": "packaging",
    "deploy": "deploy",
    "post": "the steps after the build",
}
MANY = frozenset(["the tests", "the steps after the build"])
SUBJECTS = (
    *("artifact", "package", "module", "version", "repository_id", "url", "host", "path", "status", "goal", "image"),
    *("ref", "command", "variable", "file", "symbol", "plugin", "user", "port", "exit_status"),
)
"""Facts that say what a failure is about."""

Further = Literal["further", "same", "less far", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """The two runs' failures side by side."""

    further: Further
    failure: FailureChange
    old_failure: Standing
    differs_in: tuple[SetupChange, ...]


def progress_of(old: Verdict, new: Verdict) -> Progress:
    """What became of the old failure, and how far the new run got against the old one."""
    further = _further(old, new)
    change = _change(old, new, further)
    standing: Standing = "none" if not _stopped(old) else "same" if change == "same" else _standing(old, new, further)
    differs = tuple(_differs(old.root, new.root)) if change == "same" and old.root and new.root else ()
    return Progress(further=further, failure=change, old_failure=standing, differs_in=differs)


def reached(verdict: Verdict) -> Phase | None:
    """The phase that stopped the run; of one that was not stopped by anything known, the furthest phase it was in."""
    if verdict.root is not None:
        return verdict.root.struck_in
    work = [s for s in verdict.segments if s.phase != "post"]
    if verdict.outcome == "succeeded":
        return max((s.phase for s in work), key=PHASES.index, default=None)
    return work[-1].phase if work else None


def _stopped(verdict: Verdict) -> bool:
    return verdict.outcome in ("failed", "aborted") or verdict.root is not None


def _further(old: Verdict, new: Verdict) -> Further:
    ends = old.outcome == "succeeded", new.outcome == "succeeded"
    if ends != (False, False):
        return "same" if all(ends) else "further" if ends[1] else "less far"
    if not _stopped(new) or not _stopped(old):
        return _by_phase(old, new)
    here, there = _struck(old), _struck(new)
    if here is None or there is None:
        return _by_phase(old, new)
    past, before = _passed(new, here, old, there), _passed(old, there, new, here)
    if past != before:
        return "further" if past else "less far"
    if _key(here) == _key(there):
        return "same"
    return _by_phase(old, new)


def _by_phase(old: Verdict, new: Verdict) -> Further:
    one, two = reached(old), reached(new)
    if one is None or two is None:
        return "unknown"
    difference = PHASES.index(two) - PHASES.index(one)
    return "further" if difference > 0 else "less far" if difference < 0 else "same"


def _struck(verdict: Verdict) -> Segment | None:
    """The segment that the run stopped in."""
    if verdict.root is None:
        work = [s for s in verdict.segments if s.phase != "post"]
        failed = [s for s in work if s.state != "passed"]
        return failed[-1] if failed else work[-1] if work else None
    line, phase = verdict.root.line, verdict.root.struck_in
    holding = [s for s in verdict.segments if s.start <= line <= s.end]
    return next((s for s in holding if s.phase == phase), holding[0] if holding else None)


def _key(segment: Segment) -> tuple[str, str | None, str | None]:
    return segment.phase, segment.module, segment.tool


def _passed(verdict: Verdict, place: Segment, other: Verdict, end: Segment) -> bool:
    """Whether a run got past a place of the other run: the same segment is there, passed, before the run's own end."""
    alike = [s for s in other.segments if _key(s) == _key(place)]
    number = alike.index(place) if place in alike else 0
    mine = [s for s in verdict.segments if _key(s) == _key(place)]
    return number < len(mine) and mine[number].state == "passed" and mine[number].start <= end.start


def _change(old: Verdict, new: Verdict, further: Further) -> FailureChange:
    if not _stopped(old):
        return "new" if _stopped(new) else "none"
    if not _stopped(new):
        return "gone"
    if old.root is None or new.root is None:
        alike = old.root is new.root and old.fingerprint == new.fingerprint
        return "same" if alike else "other"
    alike = old.root.failure.id == new.root.failure.id and (further == "same" or old.fingerprint == new.fingerprint)
    return "same" if alike else "other"


def _standing(old: Verdict, new: Verdict, further: Further) -> Standing:
    if new.outcome == "succeeded":
        return "fixed"
    roles = ("separate", "follow-on")
    if old.root is not None:
        failure = old.root.failure.id
        if any(f.failure.id == failure and f.role in roles for f in new.others):
            return "still there"
    if further == "further":
        return "fixed"
    return "not reached" if further == "less far" else "gone"


def _differs(old: Finding, new: Finding) -> Iterator[SetupChange]:
    for name in SUBJECTS:
        before, after = old.facts.get(name), new.facts.get(name)
        if before is not None and after is not None and before != after:
            yield SetupChange(kind="fact", name=name, old=(str(before),), new=(str(after),))


# --- the sentence ----------------------------------------------------------------------------------


def sentence(old: Verdict, new: Verdict, progress: Progress, items: ItemsChange) -> str:
    """The progress from one run to the other, in one sentence."""
    if progress.failure == "none":
        return _neither(old, new)
    if progress.failure == "new":
        before = "succeeded" if old.outcome == "succeeded" else "shows no failure"
        return f"The old run {before}; the new one stops {_at(new)}: {_what(new)}."
    if progress.failure == "gone":
        return _gone(old, new, progress)
    if progress.failure == "same":
        return _same(old, new, progress, items)
    return _other(old, new, progress)


def _neither(old: Verdict, new: Verdict) -> str:
    if old.outcome == new.outcome == "succeeded":
        return "Both runs succeeded."
    told = [name for name, verdict in (("old", old), ("new", new)) if verdict.outcome == "succeeded"]
    if not told:
        return "Neither log shows a failure or tells how its run ended."
    other = "new" if told == ["old"] else "old"
    return f"The {told[0]} run succeeded; the {other} log shows no failure, but does not tell how the run ended."


def _gone(old: Verdict, new: Verdict, progress: Progress) -> str:
    if progress.old_failure == "fixed":
        end = "the build now succeeds" if new.outcome == "succeeded" else f"the build now reaches {_place(new)}"
        return f"{_fixed(old)} ({_what(old)}); {end}."
    end = "but does not tell how the run ended"
    return f"The new log does not show the old failure ({_what(old)}), {end}."


def _same(old: Verdict, new: Verdict, progress: Progress, items: ItemsChange) -> str:
    told = f"No progress: both runs stop {_at(new)}: {_what(new)}"
    if old.root is None:
        return told + "."
    counts = [f"{len(found)} {word}" for found, word in _counts(items) if found]
    if items.new or items.gone:
        told = told.replace("No progress: both runs", "Both runs", 1)
        return f"{told}, but not by the same items: {', '.join(counts)}."
    if progress.differs_in:
        first = progress.differs_in[0]
        told = told.replace("No progress: both runs", "Both runs", 1)
        return f"{told}, but with another {first.name.replace('_', ' ')}: {first.old[0]} before, {first.new[0]} now."
    return told + "."


def _counts(items: ItemsChange) -> tuple[tuple[tuple[object, ...], str], ...]:
    return (items.new, "new"), (items.still, "still failing"), (items.gone, "gone")


def _other(old: Verdict, new: Verdict, progress: Progress) -> str:
    if progress.old_failure == "fixed":
        if reached(old) == reached(new):
            return (
                f"The old failure is fixed ({_what(old)}); the new run gets further and stops {_at(new)}: {_what(new)}."
            )
        return f"{_fixed(old)}; the build now reaches {_place(new)} and is stopped there: {_what(new)}."
    if progress.old_failure == "not reached":
        return (
            f"The new run stops earlier, {_at(new)}: {_what(new)}; it did not come to {_place(old)}, "
            f"so whether the old failure there is fixed can't be told ({_what(old)})."
        )
    if progress.old_failure == "still there":
        return f"The old failure is still there ({_what(old)}), but the new run stops {_at(new)}: {_what(new)}."
    return f"Another failure in the place of the old one: {_what(new)}, instead of {_what(old)}."


def _fixed(verdict: Verdict) -> str:
    place = _place(verdict)
    return f"{place[:1].upper()}{place[1:]} {'are' if place in MANY else 'is'} fixed"


def _place(verdict: Verdict) -> str:
    phase = reached(verdict)
    return PLACES[phase] if phase else "the build"


def _at(verdict: Verdict) -> str:
    phase = reached(verdict)
    words = {
        "agent": "on the agent",
        "checkout": "at checkout",
        "deploy": "on deploy",
        "resolve": "while resolving dependencies",
    }
    return words.get(
        phase or "", f"in {_place(verdict)}" if phase not in ("compile", "package") else f"while {_place(verdict)}"
    )


def _what(verdict: Verdict) -> str:
    root = verdict.root
    if root is None:
        return "something that is not in the catalogue"
    title = root.failure.title
    # A word such as JAVA_HOME keeps its capitals.
    return title[:1].lower() + title[1:] if title[1:2].islower() or title[1:2] == " " else title
