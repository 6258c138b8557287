"""A process that remembers runs: ``python -m tests.memory.history.writer FILE NAME COUNT [die-before-commit]``.

Prints each run's id once it is kept. It makes its verdict out of hand, so that fifty start quickly.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from logdoctor.memory.history import History, Job, place_of
from logdoctor.memory.history.store import Store
from logdoctor.model import Source, Verdict

VERDICT = Verdict(
    source=Source(name="build.log", bytes=1, lines=1, encoding="utf-8", cut="none"),
    outcome="failed",
    headline="",
    fingerprint="f00d",
    segments=(),
    root=None,
    others=(),
    others_left_out=0,
    worth_reading=(),
    nearest=(),
    elsewhere=(),
    exposed_secrets=(),
)


def main(file: str, name: str, count: str, *how: str) -> None:
    """Remember runs one after the other."""
    place = place_of(file)
    if place is None:
        raise SystemExit("no place")
    if how == ("die-before-commit",):
        setattr(Store, "rows", _dying(Store.rows))  # noqa: B010 - mypy knows that a method is not to be replaced
    history = History(place)
    for number in range(int(count)):
        run = history.remember(replace(VERDICT, fingerprint=f"f{number}"), Job(job=name, run=str(number)))
        print(run.id if run else "lost", flush=True)
    for notice in history.notices:
        print(notice, file=sys.stderr)


Rows = Callable[[Store, str, Sequence[object]], list[tuple[Any, ...]]]


def _dying(rows: Rows) -> Rows:
    def dying(store: Store, query: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        found = rows(store, query, values)
        if query.startswith("INSERT INTO logdoctor_runs"):
            os.kill(os.getpid(), signal.SIGKILL)
        return found

    return dying


if __name__ == "__main__":
    main(*sys.argv[1:])
