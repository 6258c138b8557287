"""Work over all cores: results in the order of the items, few in flight, and a process that dies costs one item."""

from __future__ import annotations

import os
from collections import deque
from concurrent.futures.process import BrokenProcessPool, ProcessPoolExecutor
from dataclasses import dataclass
from itertools import chain, islice
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from concurrent.futures import Future

__all__ = ["FEW", "Crew", "cores"]

Item = TypeVar("Item")
Result = TypeVar("Result")
CHUNK = 8
AHEAD = 4
"""Chunks in flight for each process."""
FEW = 12
"""So few items are done sooner by this process alone."""


def cores() -> int:
    """How many processes can run at a time."""
    count = getattr(os, "process_cpu_count", os.cpu_count)()
    return int(count or 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew(Generic[Item, Result]):
    """What each process does: `begin` once with the arguments, `work` for each item, both functions of a module.

    A few items are done by the calling process, which is taken to be prepared.

    `died` makes the result of an item whose process ended while it was at work.
    """

    begin: Callable[..., object]
    arguments: tuple[Any, ...]
    work: Callable[[Item], Result]
    died: Callable[[Item], Result]

    def results(self, items: Iterable[Item], many: int) -> Iterator[Result]:
        """All results, in order; a few items are done here."""
        waiting = iter(items)
        first = list(islice(waiting, FEW))
        together = chain(first, waiting)
        if len(first) < FEW or many < 2:
            yield from map(self.work, together)
        else:
            yield from _Shift(self, many).results(together)


def _begin(begin: Callable[..., object], arguments: tuple[Any, ...]) -> None:
    """An interruption is the parent's to answer."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    begin(*arguments)


def _work(work: Callable[[Item], Result], items: tuple[Item, ...]) -> list[Result]:
    return [work(item) for item in items]


class _Shift(Generic[Item, Result]):
    """One pool and what is in flight in it."""

    def __init__(self, crew: Crew[Item, Result], many: int) -> None:
        self._crew = crew
        self._many = many
        self._pool = self._new_pool(many)
        self._flying: deque[tuple[tuple[Item, ...], Future[list[Result]]]] = deque()

    def results(self, items: Iterator[Item]) -> Iterator[Result]:
        try:
            while True:
                while len(self._flying) < self._many * AHEAD and (chunk := tuple(islice(items, CHUNK))):
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

    def _new_pool(self, many: int) -> ProcessPoolExecutor:
        begin = (self._crew.begin, self._crew.arguments)
        return ProcessPoolExecutor(many, mp_context=get_context("spawn"), initializer=_begin, initargs=begin)

    def _send(self, chunk: tuple[Item, ...]) -> None:
        try:
            future = self._pool.submit(_work, self._crew.work, chunk)
        except BrokenProcessPool:
            self._pool.shutdown(wait=False)
            self._pool = self._new_pool(self._many)
            future = self._pool.submit(_work, self._crew.work, chunk)
        self._flying.append((chunk, future))

    def _one_by_one(self, chunk: tuple[Item, ...]) -> Iterator[Result]:
        """A process died over one of these: each gets a pool that may die over it alone; what was in flight goes again."""
        self._pool.shutdown(wait=False, cancel_futures=True)
        for item in chunk:
            with self._new_pool(1) as alone:
                try:
                    yield from alone.submit(_work, self._crew.work, (item,)).result()
                except BrokenProcessPool:
                    yield self._crew.died(item)
        self._pool = self._new_pool(self._many)
        again = [waiting for waiting, _ in self._flying]
        self._flying.clear()
        for waiting in again:
            self._send(waiting)
