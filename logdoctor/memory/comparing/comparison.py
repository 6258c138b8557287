"""Two logs in, one comparison out; two large files are read by two processes."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.intake import open_log
from logdoctor.memory.comparing.blocks import texts_at
from logdoctor.memory.comparing.differences import Apart, anchor, first_of, part
from logdoctor.memory.comparing.items import items_change
from logdoctor.memory.comparing.model import Comparison, Difference, PhaseChange, Place
from logdoctor.memory.comparing.progress import progress_of, reached, sentence
from logdoctor.memory.comparing.setup_seen import setup_changes
from logdoctor.memory.comparing.sketch import Sketch, careful_fingerprints, sketch_of
from logdoctor.model import PHASES

if TYPE_CHECKING:
    from array import array
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from logdoctor.diagnosis import Diagnoser
    from logdoctor.intake import Log
    from logdoctor.memory.comparing.differences import Reread
    from logdoctor.model import Phase, State, Verdict

__all__ = ["compare", "compare_files"]

LARGE = 8 << 20
"""Two files that are larger together are worth a second process."""


@dataclass(frozen=True, slots=True)
class _Run:
    log: Log
    verdict: Verdict
    sketch: Sketch


def compare(
    old: Log,
    new: Log,
    diagnoser: Diagnoser,
    *,
    old_verdict: Verdict | None = None,
    new_verdict: Verdict | None = None,
) -> Comparison:
    """Compare two open logs; a verdict that is there already is not made again."""
    runs = (
        _Run(old, old_verdict or diagnoser.diagnose(old), sketch_of(old)),
        _Run(new, new_verdict or diagnoser.diagnose(new), sketch_of(new)),
    )
    return _compared(*runs, _here(*runs))


def compare_files(old: str, new: str, diagnoser: Diagnoser, *, project: Path | None = None) -> Comparison:
    """Compare two inputs by name; `project` is the layer the diagnoser was made with, for a second process."""
    from concurrent.futures.process import BrokenProcessPool

    with open_log(old) as one, open_log(new) as two:
        if _worth_two(old, new):
            try:
                return _by_two((one, two), old, diagnoser, project)
            except BrokenProcessPool:  # the system ended it; one process takes longer, and less memory
                pass
        return compare(one, two, diagnoser)


def _by_two(logs: tuple[Log, Log], old: str, diagnoser: Diagnoser, project: Path | None) -> Comparison:
    """A second process reads the old log while this one reads the new."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        other = pool.submit(_read, old, project)
        new_run = _Run(logs[1], diagnoser.diagnose(logs[1]), sketch_of(logs[1]))
        old_run = _Run(logs[0], *other.result())

        def reread(wanted: tuple[bytearray, bytearray]) -> tuple[array[int], array[int]]:
            again = pool.submit(_read_again, old, wanted[0], old_run.sketch.setup.names())
            mine = careful_fingerprints(logs[1], wanted[1], new_run.sketch.setup.names())
            return again.result(), mine

        return _compared(old_run, new_run, reread)


def _worth_two(*names: str) -> bool:
    try:
        sizes = [os.path.getsize(name) for name in names if os.path.isfile(name)]  # noqa: PTH113, PTH202 - quick
    except OSError:
        return False
    return len(sizes) == len(names) and sum(sizes) > LARGE and (os.cpu_count() or 1) > 1


def _read(name: str, project: Path | None) -> tuple[Verdict, Sketch]:
    """What the second process does."""
    from logdoctor.api import standard_diagnoser
    from logdoctor.catalogue import load_catalogue

    with open_log(name) as log:
        return standard_diagnoser(load_catalogue(project=project)).diagnose(log), sketch_of(log)


def _read_again(name: str, wanted: bytearray, names: Mapping[bytes, bytes]) -> array[int]:
    with open_log(name) as log:
        return careful_fingerprints(log, wanted, names)


def _here(old: _Run, new: _Run) -> Reread:
    def reread(wanted: tuple[bytearray, bytearray]) -> tuple[array[int], array[int]]:
        before, after = (
            careful_fingerprints(run.log, flags, run.sketch.setup.names())
            for run, flags in zip((old, new), wanted, strict=True)
        )
        return before, after

    return reread


def _compared(old: _Run, new: _Run, reread: Reread) -> Comparison:
    apart = part((old.sketch, new.sketch), reread)
    progress = progress_of(old.verdict, new.verdict)
    items = items_change(old.verdict, new.verdict, progress.old_failure)
    first, phases = _differences(old, new, apart)
    return Comparison(
        old=old.verdict,
        new=new.verdict,
        old_reached=reached(old.verdict),
        new_reached=reached(new.verdict),
        further=progress.further,
        failure=progress.failure,
        old_failure=progress.old_failure,
        differs_in=progress.differs_in,
        progress=sentence(old.verdict, new.verdict, progress, items),
        items=items,
        first=first,
        phases=phases,
        setup=setup_changes(old.sketch.setup, new.sketch.setup),
        notices=_notices(old.verdict, new.verdict, apart, complete=items.complete),
    )


def _notices(old: Verdict, new: Verdict, apart: Apart, *, complete: bool) -> tuple[str, ...]:
    notices = [f"old log: {text}" for text in old.notices] + [f"new log: {text}" for text in new.notices]
    if apart.capped:
        notices.append("very many lines differ in their numbers; beyond the first ones such lines count as the same")
    if not complete:
        notices.append("a log has more failing items than are listed, so not all of them could be compared")
    for name, verdict in (("old", old), ("new", new)):
        if verdict.source.cut != "none":
            notices.append(
                f"the {name} log is cut at its {verdict.source.cut}; what is missing there can't be compared"
            )
    return tuple(notices)


# --- where they part -------------------------------------------------------------------------------


def _differences(old: _Run, new: _Run, apart: Apart) -> tuple[Difference | None, tuple[PhaseChange, ...]]:
    spans = [_spans(run.verdict) for run in (old, new)]
    places: list[tuple[Phase, int | None, int | None]] = []
    for phase in PHASES:
        found = _paired(old, new, apart, (spans[0].get(phase, []), spans[1].get(phase, [])))
        if spans[0].get(phase) or spans[1].get(phase):
            places.append((phase, *found))
    whole = _paired(old, new, apart, ([(1, len(apart.old))], [(1, len(apart.new))]))
    texts = _texts(old, new, [*(place[1:] for place in places), whole])
    phases = tuple(
        _phase_change((old, new), apart, spans, place[0], _difference(place[1:], place[0], texts)) for place in places
    )
    return _difference(whole, _phase_at(old, new, whole), texts), phases


def _spans(verdict: Verdict) -> dict[Phase, list[tuple[int, int]]]:
    """The stretches of each phase, joined where lanes overlap."""
    found: dict[Phase, list[tuple[int, int]]] = {}
    for segment in sorted(verdict.segments, key=lambda s: s.start):
        spans = found.setdefault(segment.phase, [])
        if spans and segment.start <= spans[-1][1] + 1:
            spans[-1] = spans[-1][0], max(spans[-1][1], segment.end)
        else:
            spans.append((segment.start, segment.end))
    return found


def _paired(
    old: _Run, new: _Run, apart: Apart, spans: tuple[Sequence[tuple[int, int]], Sequence[tuple[int, int]]]
) -> tuple[int | None, int | None]:
    """The first difference in the stretches as line indexes: both, where a line took another's place."""
    gone, come = first_of(apart.old, spans[0]), first_of(apart.new, spans[1])
    if gone is None and come is None:
        return None, None
    before = None if gone is None else anchor(apart.old, gone, old.sketch.exact, new.sketch.exact)
    after = None if come is None else anchor(apart.new, come, new.sketch.exact, old.sketch.exact)
    if gone is not None and come is not None:
        # Where each stands in the new log: behind the line that both logs hold.
        mine, theirs = -1 if before is None else before, come
        if before is not None and mine >= theirs:
            gone = None
        elif after is not None and after > gone:
            come = None
    return gone, come


def _texts(
    old: _Run, new: _Run, places: Sequence[tuple[int | None, int | None]]
) -> tuple[dict[int, str], dict[int, str]]:
    before = [place[0] + 1 for place in places if place[0] is not None]
    after = [place[1] + 1 for place in places if place[1] is not None]
    return texts_at(old.log, before), texts_at(new.log, after)


def _difference(
    place: tuple[int | None, int | None], phase: Phase, texts: tuple[dict[int, str], dict[int, str]]
) -> Difference | None:
    if place == (None, None):
        return None
    sides = [
        None if index is None else Place(line=index + 1, text=text.get(index + 1, ""))
        for index, text in zip(place, texts, strict=True)
    ]
    return Difference(old=sides[0], new=sides[1], phase=phase)


def _phase_at(old: _Run, new: _Run, place: tuple[int | None, int | None]) -> Phase:
    """The phase of a difference: the new log's, else the old one's."""
    for run, index in ((new, place[1]), (old, place[0])):
        if index is not None:
            holding = [s for s in run.verdict.segments if s.start <= index + 1 <= s.end]
            if holding:
                return max(holding, key=lambda s: s.start).phase
    return "agent"


def _phase_change(
    runs: tuple[_Run, _Run],
    apart: Apart,
    spans: Sequence[dict[Phase, list[tuple[int, int]]]],
    phase: Phase,
    first: Difference | None,
) -> PhaseChange:
    return PhaseChange(
        phase=phase,
        old_state=_state(runs[0].verdict, phase),
        new_state=_state(runs[1].verdict, phase),
        only_old=sum(apart.old.count(1, start - 1, end) for start, end in spans[0].get(phase, ())),
        only_new=sum(apart.new.count(1, start - 1, end) for start, end in spans[1].get(phase, ())),
        first=first,
    )


def _state(verdict: Verdict, phase: Phase) -> State | None:
    states = [s.state for s in verdict.segments if s.phase == phase]
    return next((state for state in ("failed", "unfinished", "passed") if state in states), None)
