"""A large log that lies in a file is shared out: each processor's core goes over a part of it, cut at a line's end.

The parts are put together as if one pass had gone over the whole. A process that comes to nothing costs time only: its part
is then done here.
"""

from __future__ import annotations

import os
import pickle
import signal
import threading
from dataclasses import replace
from typing import TYPE_CHECKING

from logdoctor.catalogue.patterns import any_limited
from logdoctor.scan.result import KEPT_TALLIES, KEPT_WATCHED, RuleHits, Scan

if TYPE_CHECKING:
    from collections.abc import Callable

    from logdoctor.intake import Log

__all__ = ["put_together", "shared_out", "shares"]

LEAST = 24 << 20
"""Bytes of a part: less is done before a second process has begun."""
MOST_PARTS = 4
"""More would need more memory than a build agent can be asked for."""
REACH = 1 << 20

Share = tuple[int, int]


def shares(log: Log) -> list[Share]:
    """First byte and end of each part; one part where the log can't be shared out."""
    size = log.size or 0
    count = min(_cores(), MOST_PARTS, size // LEAST)
    if count < 2 or not log.in_place or not _may_fork():
        return [(0, size)]
    ends = []
    for number in range(1, count):
        begin = size * number // count
        at = log.read_at(begin, REACH).find(b"\n")
        if at < 0:  # a line without an end
            return [(0, size)]
        ends.append(begin + at + 1)
    return list(zip([0, *ends], [*ends, size], strict=True))


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _may_fork() -> bool:
    """Not beside other threads; not where a pattern that takes too long is given up, as each process would do so by itself."""
    return hasattr(os, "fork") and threading.active_count() == 1 and not any_limited()


def shared_out(parts: list[Share], work: Callable[[Share], Scan]) -> Scan:
    """Do all parts at once and put them together."""
    children = [_Child(part, work) for part in parts[1:]]
    try:
        return put_together([work(parts[0]), *(child.result() for child in children)])
    finally:
        for child in children:
            child.end()


class _Child:
    """A process at work on a part."""

    def __init__(self, part: Share, work: Callable[[Share], Scan]) -> None:
        self._part = part
        self._work = work
        self._from, to = os.pipe()
        try:
            self._process = os.fork()
        except OSError:  # no room for a process
            self._process = 0
            os.close(to)
            return
        if not self._process:
            self._be_child(to)
        os.close(to)

    def _be_child(self, to: int) -> None:
        try:
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            with os.fdopen(to, "wb") as out:
                out.write(pickle.dumps(self._work(self._part)))
            os._exit(0)
        finally:
            os._exit(1)

    def result(self) -> Scan:
        """What it found; done here where it came to nothing."""
        with os.fdopen(os.dup(self._from), "rb") as told:
            data = told.read()
        if self._process:
            _, status = os.waitpid(self._process, 0)
            self._process = 0
            if status == 0:
                found: Scan = pickle.loads(data)  # noqa: S301 - from a process of this one's own
                return found
        return self._work(self._part)

    def end(self) -> None:
        """Let go of the pipe, and end the process where it is still at work."""
        os.close(self._from)
        if self._process:
            os.kill(self._process, signal.SIGKILL)
            os.waitpid(self._process, 0)


def put_together(parts: list[Scan]) -> Scan:
    """Results of parts in their order as one."""
    whole = Scan()
    for part in parts:
        before = whole.lines
        for key, hits in part.hits.items():
            kept = whole.hits.setdefault(key, RuleHits())
            missing = hits.count - len(hits.first) - len(hits.last)
            for hit in hits.kept():
                kept.add(replace(hit, line=hit.line + before))
            kept.count += missing
        for tally in part.tallies:
            moved = replace(tally, first=tally.first + before, last=tally.last + before)
            last = whole.tallies[-1] if whole.tallies else None
            if last is not None and last.rule == moved.rule and moved.first - last.last <= 2:
                last.last, last.count = moved.last, last.count + moved.count
            elif len(whole.tallies) < KEPT_TALLIES:
                whole.tallies.append(moved)
        room = KEPT_WATCHED - len(whole.watched)
        whole.watched += [(line + before, kind, text) for line, kind, text in part.watched[: max(0, room)]]
        whole.unusable |= part.unusable
        whole.lines += part.lines
        whole.bytes += part.bytes
    return whole
