"""The history as a diagnosis uses it: nothing raised, nothing held up, what went wrong told as a notice.

Asking and remembering have half of `LIMIT` each, whatever holds the database up: the work is done in a thread that is left
alone when its time is over. What could not go in waits beside the history (see `waiting`).
"""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from logdoctor.memory.history.errors import HistoryBusyError, HistoryError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from logdoctor.memory.history.model import Job, Run, Seen
    from logdoctor.memory.history.place import Place
    from logdoctor.model import Verdict

__all__ = ["LIMIT", "History", "Recalled"]

LIMIT = 0.2
_MOST_WAITING = 50  # so many are taken in by one diagnosis; `logdoctor history` takes in all
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Recalled:
    """What the history says of a verdict: confirmed causes of its failure with their counts, and what was seen before."""

    priors: Mapping[str, float] = field(default_factory=dict)
    seen: Seen | None = None


class History:
    """One history, opened only when it is asked or told something; made for one run of the program.

    After it did not answer once, it is not asked again: many logs in one call wait once, not once each. `notices` are one
    line each, not masked yet.
    """

    def __init__(self, place: Place, *, limit: float = LIMIT, clock: Callable[[], float] = time.time) -> None:
        self.notices: list[str] = []
        self._place = place
        self._half = limit / 2
        self._clock = clock
        self._closed = False
        self._refused = False

    def priors(self, failure: str) -> Mapping[str, float]:
        """How often each cause of a failure was confirmed, by cause; empty where the history can't tell."""
        return self._asked(lambda: self._priors(failure)) or {}

    def recall(self, verdict: Verdict, job: Job, *, days: int = 30) -> Recalled:
        """Both answers for a verdict, in one opening; call it before `remember`, or after: its own run does not count."""
        return self._asked(lambda: self._recalled(verdict, job, days)) or Recalled()

    def remember(self, verdict: Verdict, job: Job) -> Run | None:
        """Keep a verdict; the run as kept, None where there was nothing to keep or no way to keep it.

        It is written beside the history first, which no lock can hold up, and in this thread, so that a busy machine loses
        nothing; only what may have to wait has a time limit.
        """
        from logdoctor.memory.history.recording import run_of

        run = run_of(verdict, job, self._clock())
        if run is None or self._refused:
            return None
        try:
            path = self._written(run)
            if not self._closed:
                _within(self._half, lambda: self._take_in(run, path))
        except HistoryBusyError as error:
            self._closed = True
            self._tell(f"{error.name}: {error.problem}; this verdict waits beside it and goes in next time")
        except HistoryError as error:
            self._closed = self._refused = True
            self._tell(str(error))
            return None
        return run

    def _written(self, run: Run) -> Path:
        from logdoctor.memory.history import waiting

        mend = "name a file that can with --history"
        if self._place.waiting is None:  # a server's history, and no home folder for what waits
            raise HistoryError(self._place.name, "has no folder for what waits to go in", "set XDG_DATA_HOME")
        try:
            return waiting.keep(self._place.waiting, run)
        except OSError as error:
            raise HistoryError(self._place.name, f"can't be written ({error.strerror})", mend) from error

    def _take_in(self, run: Run, path: Path) -> None:
        """From beside the history into it; what a history that can't be used refuses does not go on waiting."""
        from logdoctor.memory.history import waiting
        from logdoctor.memory.history.ledger import Ledger

        try:
            with Ledger.at(self._place, patience=self._half / 2) as ledger:
                ledger.add([run], most_waiting=_MOST_WAITING)
        except HistoryBusyError:
            raise
        except HistoryError:
            waiting.drop([path])
            raise
        waiting.drop([path])

    def _priors(self, failure: str) -> Mapping[str, float]:
        from logdoctor.memory.history.ledger import Ledger

        with Ledger.at(self._place, patience=self._half / 2) as ledger:
            return ledger.priors(failure)

    def _recalled(self, verdict: Verdict, job: Job, days: int) -> Recalled:
        from logdoctor.memory.history.ledger import Ledger
        from logdoctor.memory.history.recording import identity

        now = self._clock()
        with Ledger.at(self._place, patience=self._half / 2) as ledger:
            seen = ledger.seen_before(verdict.fingerprint, now=now, days=days, but=identity(verdict, job, now))
            priors = ledger.priors(str(verdict.root.failure.id)) if verdict.root else {}
            return Recalled(priors=priors, seen=seen)

    def _asked(self, work: Callable[[], T]) -> T | None:
        """What the work gives; None where there is no history yet, or it can't be asked."""
        if self._closed or (self._place.file is not None and not _there(self._place)):
            return None
        try:
            return _within(self._half, work)
        except HistoryBusyError as error:
            self._closed = True
            self._tell(f"{error.name}: {error.problem}; it was not asked")
        except HistoryError as error:
            self._closed = self._refused = True
            self._tell(str(error))
        return None

    def _tell(self, notice: str) -> None:
        if notice not in self.notices:
            self.notices.append(notice)


def _there(place: Place) -> bool:
    try:
        return place.file is not None and place.file.exists()
    except OSError:
        return False


def _within(seconds: float, work: Callable[[], T]) -> T:
    """What the work gives, if it does so in time; the thread is a daemon, so that it holds up no end of the program."""
    done: list[T] = []
    failed: list[BaseException] = []

    def worker() -> None:
        try:
            done.append(work())
        except BaseException as error:  # noqa: BLE001 - carried over to the caller
            failed.append(error)

    thread = threading.Thread(target=worker, name="history", daemon=True)
    thread.start()
    thread.join(seconds)
    if done:
        return done[0]
    if failed and isinstance(failed[0], HistoryError):
        raise failed[0]
    if failed:  # a history never makes a diagnosis fail, whatever is wrong with it
        raise HistoryError(
            "the history", f"can't be used ({type(failed[0]).__name__})", "use --no-history"
        ) from failed[0]
    raise HistoryBusyError("the history", "did not answer in time", "try again")
