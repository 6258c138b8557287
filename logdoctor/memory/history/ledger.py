"""The history as a whole: what goes in, what comes out, what is forgotten. Times are seconds since 1970.

Nothing is ever changed in place: a run is added once, a remark on it is added, and of several remarks on a run the latest counts.
"""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import astuple
from typing import TYPE_CHECKING, Any

from logdoctor.memory.history import waiting
from logdoctor.memory.history.model import OTHER, Remark, Run, Seen
from logdoctor.memory.history.schema import REMARK_COLUMNS, RUN_COLUMNS
from logdoctor.memory.history.store import opened

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from logdoctor.memory.history.place import Place
    from logdoctor.memory.history.store import Store

__all__ = ["Ledger"]

DAY = 86400.0
_RUNS = f"SELECT {', '.join(RUN_COLUMNS)} FROM logdoctor_runs"  # noqa: S608 - constants
_REMARKS = f"SELECT {', '.join(REMARK_COLUMNS)} FROM logdoctor_remarks"  # noqa: S608 - constants
_LATEST = (
    "NOT EXISTS (SELECT 1 FROM logdoctor_remarks later WHERE later.run_id = logdoctor_remarks.run_id"
    " AND (later.at > logdoctor_remarks.at OR (later.at = logdoctor_remarks.at AND later.id > logdoctor_remarks.id)))"
)


class Ledger:
    """An open history; `Ledger.at(place)` opens one and closes it again."""

    def __init__(self, store: Store, place: Place) -> None:
        self._store = store
        self._place = place

    @staticmethod
    @contextmanager
    def at(place: Place, *, patience: float = 5.0) -> Iterator[Ledger]:
        """The history at a place; HistoryError where it can't be used."""
        with opened(place, patience=patience) as store:
            yield Ledger(store, place)

    def add(self, entries: Iterable[Run | Remark], *, most_waiting: int = 100_000) -> int:
        """Add entries and what waits; those that are there already count once. How many of the entries were new."""
        given = list(entries)
        held = waiting.kept(self._place.waiting, most_waiting)
        new = 0
        with self._store.transaction(writing=True):
            for entry in given:
                new += self._added(entry)
            for _, run in held:
                if run is not None:
                    self._added(run)
        waiting.drop(path for path, _ in held)
        return new

    def take_in(self) -> None:
        """Take in what waits; nothing is written where nothing does."""
        if waiting.kept(self._place.waiting, 1):
            self.add(())

    def runs(self, *, since: float = 0.0, job: str | None = None) -> list[Run]:
        """The runs since a time, oldest first."""
        query, values = f"{_RUNS} WHERE at >= ?", [since, *([job] if job else [])]
        return [
            Run(**dict(zip(RUN_COLUMNS, row, strict=True)))
            for row in self._read(query + (" AND job = ?" if job else "") + " ORDER BY at, id", values)
        ]

    def last_failed(self, *, job: str | None = None, fingerprint: str | None = None) -> Run | None:
        """The last run that did not succeed, of a job or a fingerprint (of all, where neither is named)."""
        query, values = f"{_RUNS} WHERE outcome <> 'succeeded'", []
        for column, value in (("job", job), ("fingerprint", fingerprint)):
            if value:
                query += f" AND {column} = ?"
                values.append(value)
        found = self._read(f"{query} ORDER BY at DESC, id LIMIT 1", values)
        return Run(**dict(zip(RUN_COLUMNS, found[0], strict=True))) if found else None

    def remarks(self, *, since: float = 0.0, latest: bool = True) -> list[Remark]:
        """The remarks since a time, oldest first; only the one that counts of each run, unless all are asked for."""
        rows = self._read(f"{_REMARKS} WHERE at >= ?{f' AND {_LATEST}' if latest else ''} ORDER BY at, id", [since])
        return [Remark(**dict(zip(REMARK_COLUMNS, row, strict=True))) for row in rows]

    def priors(self, failure: str) -> dict[str, float]:
        """How often each cause of a failure was confirmed; a run whose verdict was called wrong counts no more."""
        rows = self._read(
            "SELECT cause, COUNT(*) FROM logdoctor_remarks WHERE failure = ? AND kind = 'confirmed'"  # noqa: S608 - constants
            f" AND cause IS NOT NULL AND cause <> '{OTHER}' AND {_LATEST} GROUP BY cause ORDER BY cause",
            [failure],
        )
        return {str(cause): float(count) for cause, count in rows}

    def seen_before(self, fingerprint: str, *, now: float, days: int = 30, but: str = "") -> Seen | None:
        """What was seen of a fingerprint in the last days, besides the run `but`; None where nothing was."""
        times, agents, jobs, first, last = self._read(
            "SELECT COUNT(*), COUNT(DISTINCT agent), COUNT(DISTINCT job), MIN(at), MAX(at) FROM logdoctor_runs"
            " WHERE fingerprint = ? AND at >= ? AND id <> ?",
            [fingerprint, now - days * DAY, but],
        )[0]
        if not times:
            return None
        columns = ", ".join(f"logdoctor_remarks.{name}" for name in REMARK_COLUMNS)
        told = self._read(
            f"SELECT {columns} FROM logdoctor_remarks JOIN logdoctor_runs ON logdoctor_runs.id = logdoctor_remarks.run_id"  # noqa: S608
            f" WHERE fingerprint = ? AND {_LATEST} ORDER BY logdoctor_remarks.at, logdoctor_remarks.id",
            [fingerprint],
        )
        remarks = [Remark(**dict(zip(REMARK_COLUMNS, row, strict=True))) for row in told]
        fixes = [remark for remark in remarks if remark.kind == "confirmed"]
        return Seen(
            times=times,
            days=days,
            agents=agents,
            jobs=jobs,
            first_at=first,
            last_at=last,
            called_wrong=sum(remark.kind == "wrong" and remark.at >= now - days * DAY for remark in remarks),
            fixed=fixes[-1] if fixes else None,
        )

    def forget(self, before: float) -> int:
        """Remove runs and remarks from before a time; how many runs went."""
        self.take_in()
        with self._store.transaction(writing=True):
            gone = self._store.rows("SELECT COUNT(*) FROM logdoctor_runs WHERE at < ?", [before])[0][0]
            self._store.rows("DELETE FROM logdoctor_runs WHERE at < ?", [before])
            self._store.rows("DELETE FROM logdoctor_remarks WHERE at < ?", [before])
        return int(gone)

    def _read(self, query: str, values: list[Any]) -> list[tuple[Any, ...]]:
        with self._store.transaction(writing=False):
            return self._store.rows(query, values)

    def _added(self, entry: Run | Remark) -> int:
        table, columns = (
            ("logdoctor_runs", RUN_COLUMNS) if isinstance(entry, Run) else ("logdoctor_remarks", REMARK_COLUMNS)
        )
        if self._store.rows(f"SELECT 1 FROM {table} WHERE id = ?", [entry.id]):  # noqa: S608 - constants
            return 0
        signs = ", ".join("?" * len(columns))
        query = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({signs}) ON CONFLICT (id) DO NOTHING"  # noqa: S608
        self._store.rows(query, astuple(entry))
        return 1
