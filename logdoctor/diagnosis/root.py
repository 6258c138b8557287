"""Choosing the root: which sighting stopped the build.

The rules, in order: what recovered or was printed by others is dropped; a closing statement that holds or names a sighting
decides; else the earliest sighting that no other explains. Stand-ins lose, wrappers give way to the reason inside them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.diagnosis.outcome import tried_again
from logdoctor.diagnosis.timeline import SAYS
from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from logdoctor.diagnosis.outcome import Ending
    from logdoctor.diagnosis.sightings import Sighting
    from logdoctor.diagnosis.statements import Statement
    from logdoctor.diagnosis.timeline import Step, Timeline

__all__ = ["Choice", "choose_root"]

# A tool may name the outer failure first and its reason a few lines further down.
DETAIL_LINES = 6
REPORT_LINES = 40
LAST_LINES_OF_STEP = 30
LINES_BEFORE_END = 60
WHOLE_SENTENCE = 30
_TRIES_AGAIN = lazy(r"\b(?:[Rr]etr(?:y|ies|ying)|[Tt]rying again|attempt|tries remaining|tries left)\b")
WORDS_AFTER_CODE = 8
_BARE_CODE = lazy(r"^npm (?:ERR!|error) (?:code|errno|syscall|path)\b")
# Commands that scripts call on the way; the numbers of lines are common practice, no source.
HELPERS = frozenset(["curl", "wget", "git", "ssh"])
# Tools whose messages come from inside some other program as often as from a step of the build.
ON_THE_WAY = frozenset(["java", "python", "node", "go", "ruby", "system", "docker", "npm"])
MORE_AFTER_WARNING = 20
MORE_AFTER_SOFT_HELPER = 6
_WARNS = lazy(r"(?i)^\W{0,3}warn(?:ing)?\b|\bWARN(?:ING)?\b|\bwarning: |^##\[warning\]|\bWarning: ")
STAND_IN_ORDER = {"no": 0, "general": 1, "last": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The root's sighting (the one on the root line), what named it, its wrapper, and independent failures."""

    root: Sighting
    named_by: Sighting
    wrapper: Sighting | None = None
    separate: tuple[Sighting, ...] = ()


def choose_root(
    ending: Ending, timeline: Timeline, statements: Sequence[Statement], sightings: Sequence[Sighting]
) -> Choice | None:
    """The root of a log that did not succeed; None when nothing live was seen."""
    live = [s for s in sightings if s.weight != "none" and not s.step.inner and s.line > ending.after]
    statements = [s for s in statements if s.start > ending.after]
    if ending.outcome == "succeeded":
        return None
    if ending.outcome == "aborted":
        ended = [s for s in live if s.failure.outcome == "aborted" and s.weight == "hard"]
        late = [s for s in ended if not s.step.followed] or ended
        return Choice(root=late[0], named_by=late[0]) if late else None
    if ending.outcome == "unknown":
        good = [m.line for m in timeline.of("conclude", "close") if m.mark.outcome in ("succeeded", "passed")]
        worked = max(good, default=0)
        live = [s for s in live if _sure(s) and s.line > worked and not tried_again(s, timeline)]
    live = [s for s in live if not _went_on(s, ending, statements)]
    last_words = _last_words([s for s in statements if not _inside_a_built_image(s, timeline)])
    chosen = _from_statements(last_words, live) or _from_steps(ending, timeline, last_words, live)
    if chosen is None:
        return None
    if chosen.signature.summary:
        chosen = _first_place(chosen, live, last_words)
    lifted = _lift(chosen, live, timeline)
    root = _first_place(lifted, live, last_words)
    return Choice(
        root=root,
        named_by=lifted,
        wrapper=_wrapper_of(lifted, live),
        separate=tuple(_separate(root, last_words, live)),
    )


def _went_on(sighting: Sighting, ending: Ending, statements: Sequence[Statement]) -> bool:
    """Whether the script that ran this command printed so much more before it ended that this did not end it.

    A helper's own error counts no longer than a few lines, a warning not long either where no tool took it up again.
    """
    end = min(ending.line or sighting.step.end, sighting.step.end)
    more = end - sighting.line
    tool = sighting.signature.tool
    if sighting.hit.text.startswith(("##[warning]", "::warning")):
        return True  # the CI server itself calls it a warning
    command = (sighting.step.goal or "").split()[:1]
    own_step = any(word.rpartition("/")[2] in HELPERS for word in command)
    if tool in HELPERS and not own_step and sighting.failure.phase != "test":
        return more >= (MORE_AFTER_WARNING if sighting.weight == "hard" else MORE_AFTER_SOFT_HELPER)
    taken_up = any(
        s.step is sighting.step and s.start > sighting.line and s.tool in (tool, sighting.step.tool) for s in statements
    )
    if tool not in ON_THE_WAY:
        return False
    long_after = MORE_AFTER_WARNING * 2 if sighting.weight == "hard" else MORE_AFTER_WARNING // 2
    return not taken_up and more >= long_after and _WARNS.search(sighting.hit.text) is not None


def _sure(sighting: Sighting) -> bool:
    """What may be a root where the log does not say that the build failed: an error of a tool in a step nothing followed."""
    return (
        sighting.weight == "hard"
        and not sighting.apart
        and not sighting.step.followed
        and sighting.step.closed != "passed"
        and sighting.failure.phase not in ("test", "post")
        and sighting.step.phase != "test"
    )


def _inside_a_built_image(statement: Statement, timeline: Timeline) -> bool:
    """Whether it was said in a step of an image build that then went through."""
    built = [m for m in timeline.of("conclude") if m.mark.tool == "docker" and m.mark.outcome == "succeeded"]
    return (statement.lane or "").startswith("#") and any(m.line > statement.start for m in built)


def _last_words(statements: Sequence[Statement]) -> list[Statement]:
    """The statements of steps that nothing followed; those made while cleaning up only if there is no other."""
    final = [s for s in statements if not s.step.followed and not s.step.inner]
    return [s for s in final if s.step.phase != "post"] or final


def _from_statements(statements: Sequence[Statement], live: Sequence[Sighting]) -> Sighting | None:
    """What the last closing statements themselves hold, when it is specific."""
    for statement in statements:
        held = [s for s in live if statement.holds(s) and not _only_a_status(s) and not _while_reporting(s)]
        chosen = pick(held)
        if chosen is not None and chosen.failure.stand_in == "no":
            return chosen
    return None


def _only_a_status(sighting: Sighting) -> bool:
    """Whether the CI server's own word for the exit status is all it says."""
    return sighting.signature.summary and sighting.signature.tool == "ci"


def _while_reporting(sighting: Sighting) -> bool:
    """Whether a step after the work only finds what the tests should have left."""
    return sighting.step.phase == "post" and sighting.failure.phase == "test"


def _from_steps(
    ending: Ending, timeline: Timeline, statements: Sequence[Statement], live: Sequence[Sighting]
) -> Sighting | None:
    """What stands in the steps that the statements speak of; else in steps that were not left behind; else anywhere."""
    named = [step for statement in statements for step in _named_steps(statement, timeline)]
    groups: list[Callable[[Sighting], bool]] = [
        lambda s: s.step in named and s.step.phase != "post",
        lambda s: not s.step.followed and s.step.phase != "post",
        _in_last_step_with_any(live, ending, timeline),
        lambda s: s.step in named,
        lambda s: ending.outcome == "failed" and not s.step.followed and s.weight == "hard" and not s.apart,
    ]
    stand_in = None
    for belongs in groups:
        inside = [s for s in live if belongs(s)]
        for weight in ("hard", "soft"):
            chosen = pick([s for s in inside if s.weight == weight and not s.apart])
            chosen = chosen or pick([s for s in inside if s.weight == weight])
            if chosen is not None and chosen.failure.stand_in == "no":
                return chosen
            stand_in = _better(stand_in, chosen)
            if stand_in is not None and stand_in.failure.stand_in == "general":
                return stand_in  # an error, if a general one, says more than another tool's warning
    return stand_in


def _in_last_step_with_any(live: Sequence[Sighting], ending: Ending, timeline: Timeline) -> Callable[[Sighting], bool]:
    """What stands in the last step with an error of a tool: where nothing else explains the end, what came behind it was no work.

    A shell that shows a further command went on. Compilers' findings and what tests print are seldom the end of a step either.
    """
    end = (ending.line or 0) if ending.outcome == "failed" else 0
    told = [s for s in live if s.weight == "hard" and not s.apart and s.failure.stand_in == "no"]
    known = [s for s in told if s.failure.phase not in ("compile", "test", "post") and s.step.phase != "test"]
    near = [s for s in known if 0 <= end - s.line <= LINES_BEFORE_END and not _shell_went_on(s, timeline)]
    last = max((s.step.start for s in near), default=0)
    return lambda s: s in near and s.step.start == last


def _shell_went_on(sighting: Sighting, timeline: Timeline) -> bool:
    """Whether it shows a later command that does more than tell about what happened."""
    later = [
        step for step in timeline.after(sighting.step) if step.opened_as == "bash/command" and step.phase != "post"
    ]
    return any(not SAYS.search(step.goal or "") for step in later)


def _better(old: Sighting | None, new: Sighting | None) -> Sighting | None:
    if old is None or new is None:
        return old or new
    return new if STAND_IN_ORDER[new.failure.stand_in] < STAND_IN_ORDER[old.failure.stand_in] else old


def _named_steps(statement: Statement, timeline: Timeline) -> list[Step]:
    """The steps a statement speaks of: by goal and module where it names them, else the one it stands in."""
    if statement.goal is None:
        return [statement.step]
    named = [
        step
        for step in timeline.steps
        if step.goal is not None
        and _same_goal(step.goal, statement.goal)
        and (statement.module is None or step.module in (None, statement.module))
        and step.start <= statement.start
    ]
    return named[-1:] or [statement.step]


def _same_goal(one: str, other: str) -> bool:
    return one == other or one.endswith(other) or other.endswith(one)


def pick(candidates: Sequence[Sighting]) -> Sighting | None:
    """The one that explains: no stand-in beside a specific one, no wrapper beside its reason, then the earliest."""
    if not candidates:
        return None
    rank = min(STAND_IN_ORDER[s.failure.stand_in] for s in candidates)
    kept = [s for s in candidates if STAND_IN_ORDER[s.failure.stand_in] == rank]
    reasons = [s for s in kept if not s.failure.wrapper]
    inner = [s for s in reasons if not any(s.failure.id in w.failure.explains for w in kept if w.failure.wrapper)]
    kept = inner or [s for s in kept if s.failure.wrapper] or kept
    unexplained = [s for s in kept if not any(_explains(x, s) for x in kept)] or kept
    return min([s for s in unexplained if s.weight == "hard"] or unexplained, key=_order)


def _explains(one: Sighting, other: Sighting) -> bool:
    leads = other.failure.id in one.failure.explains and one.failure.id not in other.failure.explains
    both_items = one.signature.items and other.signature.items  # of two errors in one list the first decides
    return leads and one.line <= other.line + (0 if both_items else _detail_lines(other))


def _detail_lines(sighting: Sighting) -> int:
    return REPORT_LINES if sighting.failure.phase == "test" else DETAIL_LINES


def _order(sighting: Sighting) -> tuple[int, bool, bool, bool, int]:
    phase = sighting.step.phase
    fits = phase in sighting.signature.prefers or phase == sighting.failure.phase
    own = sighting.signature.tool == sighting.step.tool
    return (sighting.line, not fits, not own, sighting.signature.summary, -_longest_literal(sighting))


def _longest_literal(sighting: Sighting) -> int:
    return max(map(len, sighting.signature.literals), default=0)


def _still_open(earlier: Sighting, chosen: Sighting, timeline: Timeline) -> bool:
    """Whether nothing but preparation passed between two sightings, so that the first can have led to the second."""
    if earlier.step is chosen.step or not earlier.step.followed:
        return True
    gave_up = earlier.step.end - earlier.line <= LAST_LINES_OF_STEP
    if gave_up and earlier.weight == "hard" and not earlier.apart and not _repaired(earlier, chosen, timeline):
        return True
    between = [
        s.phase for s in timeline.steps if earlier.step.start < s.start < chosen.step.start and s.lane == earlier.lane
    ]
    return {*between, earlier.step.phase} <= {"agent", "checkout", chosen.step.phase}


def _repaired(earlier: Sighting, chosen: Sighting, timeline: Timeline) -> bool:
    """Whether what failed was tried again, or the tool said afterwards that it worked."""
    same = [
        s
        for s in timeline.steps
        if earlier.line < s.start < chosen.line and s.lane == earlier.lane and _same_command(s.goal, earlier.step.goal)
    ]
    tools = {earlier.signature.tool, earlier.step.tool}
    worked = [m for m in timeline.of("conclude") if m.mark.outcome == "succeeded" and m.mark.tool in tools]
    tried_again = [m for m in timeline.of("repair") if 0 < m.line - earlier.line <= DETAIL_LINES]
    return bool(same or tried_again) or any(earlier.line < m.line < chosen.line for m in worked)


def _same_command(one: str | None, other: str | None) -> bool:
    return one is not None and other is not None and one.split()[:2] == other.split()[:2]


def _lift(chosen: Sighting, live: Sequence[Sighting], timeline: Timeline) -> Sighting:
    """An earlier sighting whose failure is known to lead to the chosen one takes its place."""
    seen = {chosen.failure.id}
    while True:
        earlier = [
            s
            for s in live
            if s.line <= chosen.line + (0 if s.signature.items and chosen.signature.items else _detail_lines(chosen))
            and s.failure.id not in seen
            and chosen.failure.id in s.failure.explains
            and s.failure.id not in chosen.failure.explains
            and s.failure.stand_in != "last"
            and _still_open(s, chosen, timeline)
            and _same_or_outer(s.lane, chosen.lane)
        ]
        if not earlier:
            return chosen
        chosen = earlier[-1] if earlier[-1].step is chosen.step else earlier[0]
        seen.add(chosen.failure.id)


def _same_or_outer(lane: str | None, inner: str | None) -> bool:
    """Whether a lane is the other one, or holds it: `linux / #7` is a lane within `linux`."""
    return lane in (inner, None) or (inner or "").startswith(f"{lane} / ")


def _first_place(chosen: Sighting, live: Sequence[Sighting], statements: Sequence[Statement]) -> Sighting:
    """Where the tool first prints this explanation: an error line of the step that failed, a warning only if there is none."""
    same = [s for s in live if s.failure.id == chosen.failure.id and s.lane == chosen.lane and not s.signature.summary]
    about = [s for s in statements if s.holds(chosen) or s.step is chosen.step]
    failed_step = [s for s in same if s.step is chosen.step or any(_speaks_of(statement, s) for statement in about)]
    repeated = [s for s in same if _repeats(s, chosen)]
    if places := _hard_first([s for s in [*failed_step, *repeated] if _same_request(s, chosen)]):
        return _in_words(places[0], same)
    if chosen.signature.summary:
        module = [s for s in same if s.step.module in (None, chosen.step.module)]
        return next(iter(_hard_first(module) or _hard_first(same)), chosen)
    return chosen


def _in_words(place: Sighting, same: Sequence[Sighting]) -> Sighting:
    """Where a tool prints a bare error code first, the line with its words a little further down."""
    if not _BARE_CODE.search(place.hit.text):
        return place
    words = [s for s in same if 0 < s.line - place.line <= WORDS_AFTER_CODE and not _BARE_CODE.search(s.hit.text)]
    return min(words, key=lambda s: s.line, default=place)


def _hard_first(places: Iterable[Sighting]) -> list[Sighting]:
    """Errors before warnings; a notice that the tool tries again already is the explanation."""
    return sorted(places, key=lambda s: (s.weight != "hard" and not _TRIES_AGAIN.search(s.hit.text), s.line))


def _repeats(one: Sighting, other: Sighting) -> bool:
    """Whether a closing statement says again what stood earlier."""
    shorter, longer = sorted((one.hit.text.strip(), other.hit.text.strip()), key=len)
    return (len(shorter) >= WHOLE_SENTENCE and shorter in longer) or (
        "file" in one.hit.groups
        and all(one.hit.groups.get(key) == other.hit.groups.get(key) for key in ("file", "at", "text"))
    )


def _same_request(one: Sighting, other: Sighting) -> bool:
    """Whether two sightings can be about one request: what both name is equal."""
    mine, theirs = one.hit.groups, other.hit.groups
    return all(mine[key] == theirs[key] for key in ("url", "host", "module") if key in mine and key in theirs)


def _speaks_of(statement: Statement, sighting: Sighting) -> bool:
    goal = sighting.step.goal
    return (
        statement.goal is not None
        and goal is not None
        and _same_goal(goal, statement.goal)
        and (statement.module is None or sighting.step.module in (None, statement.module))
    )


def _wrapper_of(chosen: Sighting, live: Iterable[Sighting]) -> Sighting | None:
    near = [
        s
        for s in live
        if s.failure.wrapper
        and s.failure.id != chosen.failure.id
        and s.lane == chosen.lane
        and abs(s.line - chosen.line) <= 12
    ]
    return min(near, key=lambda s: abs(s.line - chosen.line), default=None)


def _separate(root: Sighting, statements: Sequence[Statement], live: Sequence[Sighting]) -> list[Sighting]:
    """What other last statements hold, when it is neither the root nor explained by it."""
    found: list[Sighting] = []
    for statement in statements:
        if statement.refers or statement.holds(root):
            continue
        other = pick([s for s in live if statement.holds(s) and s.line > root.line])
        if other is None or other.failure.stand_in != "no" or other.failure.id in root.failure.explains:
            continue
        elsewhere = other.lane != root.lane or (other.step.module != root.step.module and other.step.module is not None)
        if elsewhere and other.failure.id not in {s.failure.id for s in found}:
            found.append(other)
    return found
