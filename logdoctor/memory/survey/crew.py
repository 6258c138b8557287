"""Many logs over all cores: rows in the order of the logs, few in flight, and a process that dies costs one log."""

from __future__ import annotations

import os
from collections import deque
from concurrent.futures.process import BrokenProcessPool, ProcessPoolExecutor
from itertools import islice
from multiprocessing import get_context
from typing import TYPE_CHECKING

from logdoctor.memory.survey.model import Row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from concurrent.futures import Future
    from pathlib import Path

    from logdoctor.diagnosis import Diagnoser
    from logdoctor.memory.survey.reading import JobFrom

__all__ = ["rows_of"]

Work = tuple[str, str]
CHUNK = 8
AHEAD = 4
"""Chunks in flight for each process."""
FEW = 12
"""So few logs are read sooner by this process alone."""

_diagnoser: Diagnoser | None = None
_job_from: JobFrom = "auto"


def rows_of(
    logs: Iterable[Work],
    diagnoser: Diagnoser,
    *,
    job_from: JobFrom = "auto",
    project: Path | None = None,
    jobs: int | None = None,
) -> Iterator[Row]:
    """The rows of all logs, in order; `project` is the layer that the diagnoser was made with."""
    from logdoctor.memory.survey.reading import read_row

    waiting = iter(logs)
    first = list(islice(waiting, FEW))
    many = jobs or os.cpu_count() or 1
    if len(first) < FEW or many < 2:
        for path, root in _joined(first, waiting):
            yield read_row(path, root, diagnoser, job_from)
        return
    yield from _Crew(many, job_from, project).rows(_joined(first, waiting))


def _joined(first: Iterable[Work], rest: Iterator[Work]) -> Iterator[Work]:
    yield from first
    yield from rest


def _begin(job_from: JobFrom, project: Path | None) -> None:
    """What each process does first: its own catalogue; an interruption is the parent's to answer."""
    import signal

    from logdoctor.api import standard_diagnoser
    from logdoctor.catalogue import load_catalogue

    global _diagnoser, _job_from
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _diagnoser, _job_from = standard_diagnoser(load_catalogue(project=project)), job_from


def _read(works: tuple[Work, ...]) -> list[Row]:
    from logdoctor.memory.survey.reading import read_row

    if _diagnoser is None:
        raise RuntimeError("the process was not prepared")
    return [read_row(path, root, _diagnoser, _job_from) for path, root in works]


class _Crew:
    def __init__(
        self, many: int, job_from: JobFrom, project: Path | None, read: Callable[..., list[Row]] = _read
    ) -> None:
        self._many = many
        self._arguments = (job_from, project)
        self._read = read
        self._pool = self._new_pool()
        self._flying: deque[tuple[tuple[Work, ...], Future[list[Row]]]] = deque()

    def rows(self, logs: Iterator[Work]) -> Iterator[Row]:
        try:
            while True:
                while len(self._flying) < self._many * AHEAD and (chunk := tuple(islice(logs, CHUNK))):
                    self._send(chunk)
                if not self._flying:
                    return
                chunk, future = self._flying.popleft()
                try:
                    yield from future.result()
                except BrokenProcessPool:
                    yield from self._one_by_one(chunk)
        finally:
            self._pool.shutdown(wait=True, cancel_futures=True)

    def _new_pool(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            self._many, mp_context=get_context("spawn"), initializer=_begin, initargs=self._arguments
        )

    def _send(self, chunk: tuple[Work, ...]) -> None:
        try:
            future = self._pool.submit(self._read, chunk)
        except BrokenProcessPool:
            self._pool.shutdown(wait=False)
            self._pool = self._new_pool()
            future = self._pool.submit(self._read, chunk)
        self._flying.append((chunk, future))

    def _one_by_one(self, chunk: tuple[Work, ...]) -> Iterator[Row]:
        """A process died over one of these: each gets a pool that may die over it alone; what was in flight goes again."""
        from logdoctor.memory.survey.reading import shown_name

        self._pool.shutdown(wait=False, cancel_futures=True)
        for work in chunk:
            alone = ProcessPoolExecutor(
                1, mp_context=get_context("spawn"), initializer=_begin, initargs=self._arguments
            )
            with alone:
                try:
                    yield from alone.submit(self._read, (work,)).result()
                except BrokenProcessPool:
                    yield Row(
                        name=shown_name(*work),
                        error="the process that read it died (out of memory?); diagnose it alone",
                    )
        self._pool = self._new_pool()
        again = [waiting for waiting, _ in self._flying]
        self._flying.clear()
        for waiting in again:
            self._send(waiting)
