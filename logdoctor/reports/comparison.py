"""A comparison of two runs as text and as one JSON object; every text of the logs masked."""

from __future__ import annotations

import json
import textwrap
from typing import TYPE_CHECKING, Any

from logdoctor.reports.plain import Gate

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.memory.comparing.model import Comparison, Difference, ItemsChange, Place, SetupChange
    from logdoctor.model import Item, Source, Verdict

__all__ = ["SCHEMA", "comparison_json", "comparison_text", "plain_comparison"]

SCHEMA = "logdoctor-comparison/1"
WIDTH = 80
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"
MANY_ITEMS = 10
MANY_CHANGES = 12
FEW_CHANGES = 5
SHORT_VALUE = 12
SHOWN_VALUES = 4
WORDS = {"agent": "Agent", "tool": "Tools", "revision": "Revision", "plugin": "Build plugins"}
WORDS |= {"dependency": "Resolved dependencies", "download source": "Downloads come from"}


class _Gate:
    """One gate for two logs: what is secret in one is masked in the other's texts too."""

    def __init__(self, comparison: Comparison) -> None:
        self._gates = Gate(comparison.old), Gate(comparison.new)
        places = [comparison.first, *(phase.first for phase in comparison.phases)]
        for difference in places:
            for place in (difference.old, difference.new) if difference else ():
                if place:
                    self.text(place.text)

    def text(self, text: str) -> str:
        for gate in self._gates:
            text = gate.text(text)
        return text


# --- JSON ------------------------------------------------------------------------------------------


def comparison_json(comparison: Comparison) -> str:
    """One indented object."""
    return json.dumps(plain_comparison(comparison), indent=2, ensure_ascii=False)


def plain_comparison(comparison: Comparison) -> dict[str, Any]:
    """The comparison as plain values."""
    gate = _Gate(comparison)
    items = comparison.items
    return {
        "schema": SCHEMA,
        "progress": gate.text(comparison.progress),
        "old": _run(comparison.old, comparison.old_reached, gate),
        "new": _run(comparison.new, comparison.new_reached, gate),
        "further": comparison.further,
        "failure": comparison.failure,
        "old_failure": comparison.old_failure,
        "differs_in": [_change(change, gate) for change in comparison.differs_in],
        "items": {
            "new": [_item(item, gate) for item in items.new],
            "still": [_item(item, gate) for item in items.still],
            "gone": [_item(item, gate) for item in items.gone],
            "not_reached": [_item(item, gate) for item in items.not_reached],
            "old_total": items.old_total,
            "new_total": items.new_total,
            "complete": items.complete,
        },
        "first_difference": _difference(comparison.first, comparison, gate),
        "phases": [
            {
                "phase": phase.phase,
                "old": phase.old_state,
                "new": phase.new_state,
                "lines_only_old": phase.only_old,
                "lines_only_new": phase.only_new,
                "first_difference": _difference(phase.first, comparison, gate),
            }
            for phase in comparison.phases
        ],
        "setup": [_change(change, gate) for change in comparison.setup],
        "notices": [gate.text(notice) for notice in comparison.notices],
    }


def _run(verdict: Verdict, reached: str | None, gate: _Gate) -> dict[str, Any]:
    root = verdict.root
    return {
        "source": gate.text(verdict.source.name),
        "lines": verdict.source.lines,
        "outcome": verdict.outcome,
        "reached": reached,
        "headline": gate.text(verdict.headline),
        "fingerprint": verdict.fingerprint,
        "failure": root.failure.id if root else None,
        "line": root.line if root else None,
    }


def _item(item: Item, gate: _Gate) -> dict[str, Any]:
    return {"text": gate.text(item.text), "file": gate.text(item.file) if item.file else None, "line": item.line}


def _change(change: SetupChange, gate: _Gate) -> dict[str, Any]:
    sides = {
        side: [gate.text(value) for value in values] for side, values in (("old", change.old), ("new", change.new))
    }
    return {"kind": change.kind, "name": gate.text(change.name), **sides}


def _difference(difference: Difference | None, comparison: Comparison, gate: _Gate) -> dict[str, Any] | None:
    if difference is None:
        return None
    old, new = comparison.old.source, comparison.new.source
    sides = {"old": _place(difference.old, old, gate), "new": _place(difference.new, new, gate)}
    return {"phase": difference.phase, **sides}


def _place(place: Place | None, source: Source, gate: _Gate) -> dict[str, Any] | None:
    if place is None:
        return None
    file, line = source.place(place.line)
    where = {"line": line} if file is None else {"file": gate.text(file), "line": line}
    return {**where, "text": gate.text(place.text)}


# --- text ------------------------------------------------------------------------------------------


def comparison_text(comparison: Comparison, *, colour: bool = False, brief: bool = False) -> str:
    """The whole comparison, the progress first; `brief` is what follows a verdict on the new log."""
    gate = _Gate(comparison)
    lines = [_bold(line, colour=colour) for line in _wrapped(gate.text(comparison.progress))]
    if not brief:
        lines += ["", *_runs(comparison, gate), "", *_phases(comparison, colour=colour)]
    lines += _items(comparison.items, gate, colour=colour)
    lines += _first(comparison, gate, colour=colour)
    lines += _setup(comparison, gate, FEW_CHANGES if brief else MANY_CHANGES, colour=colour)
    for notice in comparison.notices:
        lines += ["", *_wrapped(f"Note: {gate.text(notice)}.")]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _runs(comparison: Comparison, gate: _Gate) -> Iterator[str]:
    for side, verdict in (("Old", comparison.old), ("New", comparison.new)):
        yield from _wrapped(f"{side}: {gate.text(verdict.source.name)}: {gate.text(verdict.headline)}", "       ", "  ")


def _phases(comparison: Comparison, *, colour: bool) -> Iterator[str]:
    yield _bold("How far each got", colour=colour)
    yield f"  {'':<10}{'old':<12}{'new':<12}lines only in old, in new"
    for phase in comparison.phases:
        old, new = phase.old_state or "-", phase.new_state or "-"
        yield f"  {phase.phase:<10}{old:<12}{new:<12}{phase.only_old:>7}{phase.only_new:>9}"


def _items(items: ItemsChange, gate: _Gate, *, colour: bool) -> Iterator[str]:
    told = (
        ("New", items.new),
        ("Still failing", items.still),
        ("Gone", items.gone),
        ("Not reached by the new run", items.not_reached),
    )
    if not items.old_total and not items.new_total:
        return
    for title, found in told:
        if found:
            yield ""
            yield _bold(f"{title} ({len(found)})", colour=colour)
            for item in found[:MANY_ITEMS]:
                place = (
                    f"{item.file}:{item.line}: " if item.file and item.line else f"{item.file}: " if item.file else ""
                )
                yield from _wrapped(gate.text(place + item.text), "      ", "  - ")
            if len(found) > MANY_ITEMS:
                yield f"  and {len(found) - MANY_ITEMS} more"


def _first(comparison: Comparison, gate: _Gate, *, colour: bool) -> Iterator[str]:
    yield ""
    if comparison.first is None:
        yield "No line differs but for times, hashes, temporary paths and the like."
        return
    yield _bold(f"The logs part in the phase {comparison.first.phase}", colour=colour)
    yield from _sides(comparison.first, comparison, gate)
    shown = (comparison.first.old, comparison.first.new)
    struck = next((p for p in comparison.phases if p.phase == comparison.new_reached), None)
    if struck and struck.old_state and struck.first and (struck.first.old, struck.first.new) != shown:
        yield _bold(f"and where the new run stopped ({struck.phase}) first at", colour=colour)
        yield from _sides(struck.first, comparison, gate)


def _sides(difference: Difference, comparison: Comparison, gate: _Gate) -> Iterator[str]:
    sides = (("old", difference.old, comparison.old.source), ("new", difference.new, comparison.new.source))
    for side, place, source in sides:
        if place is None:
            yield f"  {side}         | (nothing in its place)"
            continue
        file, number = source.place(place.line)
        if file is not None:
            yield f"  {side} in {gate.text(file)}"
        rows = textwrap.wrap(gate.text(place.text), WIDTH - 16, break_on_hyphens=False) or [""]
        rows = rows if len(rows) <= 4 else [*rows[:3], "[...]"]
        yield f"  {side} {number:>7} | {rows[0]}"
        yield from (f"{'':>13} | {row}" for row in rows[1:])


def _setup(comparison: Comparison, gate: _Gate, many: int, *, colour: bool) -> Iterator[str]:
    yield ""
    if not comparison.setup:
        yield "The set-up that the logs show is the same."
        return
    yield _bold("What differs in the set-up that the logs show", colour=colour)
    for kind, title in WORDS.items():
        changes = [change for change in comparison.setup if change.kind == kind]
        if changes:
            yield f"  {title}"
        for change in changes[:many]:
            yield from _wrapped(_told(change, gate), "        ", "    ")
        if len(changes) > many:
            yield f"    and {len(changes) - many} more"


def _told(change: SetupChange, gate: _Gate) -> str:
    # A revision is known by its first letters.
    clip = SHORT_VALUE if change.name == "revision" else None
    apart = [value for value in change.old if value not in change.new], [v for v in change.new if v not in change.old]
    shown = apart if all(apart) else (change.old, change.new)
    old, new = (_listed([gate.text(value)[:clip] for value in values]) for values in shown)
    name = gate.text(change.name)
    if not change.old:
        return f"{name}: {new} (only in the new log)"
    if not change.new:
        return f"{name}: {old} (only in the old log)"
    return f"{name}: {old} -> {new}"


def _listed(values: Sequence[str]) -> str:
    more = f" and {len(values) - SHOWN_VALUES} more" if len(values) > SHOWN_VALUES else ""
    return ", ".join(values[:SHOWN_VALUES]) + more


def _bold(text: str, *, colour: bool) -> str:
    return f"{BOLD}{text}{PLAIN}" if colour else text


def _wrapped(text: str, indent: str = "", first: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
