"""Where the app meets the core: cases (a log with its verdict), the catalogue loaded once, and the hooks of other rooms."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, BinaryIO, Literal, cast

from logdoctor.api import standard_diagnoser
from logdoctor.catalogue import load_catalogue
from logdoctor.catalogue.loading import user_folder
from logdoctor.errors import InputError
from logdoctor.intake import Log, open_log
from logdoctor.reports.plain import Gate
from logdoctor.terminal.answering import Standing
from logdoctor.terminal.watching import PatientPipe, Stopped, WatchedLog

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from logdoctor.catalogue import Catalogue
    from logdoctor.diagnosis import Diagnoser
    from logdoctor.model import FactValue, Verdict

__all__ = ["Case", "Desk", "Recent", "Stage"]

Stage = Literal["waiting", "reading", "done", "refused", "stopped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recent:
    """A verdict of an earlier time, as the start screen lists it; `path` is None where the log can't be opened again."""

    when: str
    name: str
    headline: str
    path: str | None = None


@dataclass(eq=False, kw_only=True)
class Case:
    """One log on the desk. `source` is a path, pasted bytes, or the descriptor of a pipe."""

    source: str | bytes | int
    name: str
    stage: Stage = "waiting"
    log: Log | None = None
    verdict: Verdict | None = None
    standing: Standing | None = None
    problem: str = ""
    done: int = 0
    stop: threading.Event = field(default_factory=threading.Event)
    gate: Gate = field(default_factory=Gate)

    def show(self, text: str) -> str:
        """A text of this case as it may be shown."""
        return self.gate.text(text)

    @property
    def path(self) -> str | None:
        """Where the log can be opened again."""
        return self.source if isinstance(self.source, str) else None

    @property
    def readable(self) -> bool:
        """Whether the lines of the log can be looked at while it is still being read."""
        return self.log is not None and self.log.size is not None


@dataclass(kw_only=True)
class Desk:
    """What all screens share.

    `recent` lists earlier verdicts; new entries go into the `layer` folder; the `witness` (set-up files) is asked in every diagnosis.
    """

    load: Callable[[], Catalogue] = load_catalogue
    recent: Callable[[], Sequence[Recent]] = tuple
    witness: Callable[[Mapping[str, FactValue]], Mapping[str, FactValue]] | None = None
    layer: Callable[[], Path | None] = user_folder
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _diagnoser: Diagnoser | None = None

    @property
    def diagnoser(self) -> Diagnoser:
        """The diagnoser, made when first asked for; call it from a worker."""
        with self._lock:
            if self._diagnoser is None:
                self._diagnoser = standard_diagnoser(self.load())
            return self._diagnoser

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue, loaded when first asked for."""
        return self.diagnoser.catalogue

    def examine(self, case: Case, moved: Callable[[], None], tell: Callable[[int, int | None], None]) -> None:
        """Open and diagnose a case, in a worker; each new stage is told by `moved`."""
        case.stop.clear()
        case.stage, case.problem = "reading", ""
        moved()
        try:
            if case.log is None:
                case.log = _opened(case)
                moved()
            self._diagnose(case, WatchedLog(case.log, tell, case.stop))
        except Stopped:
            case.stage = "stopped"
        except InputError as error:
            case.stage, case.problem = "refused", str(error)
        moved()

    def _diagnose(self, case: Case, log: WatchedLog) -> None:
        diagnoser = self.diagnoser
        if case.stop.is_set():
            raise Stopped
        if case.verdict is not None:  # known from a list: the pass only makes the lines readable
            for _ in log.blocks() if log.size is None else ():
                pass
        else:
            verdict = diagnoser.diagnose(log, witness=self.witness)
            case.gate = Gate(verdict)
            case.standing = Standing(diagnosed=verdict.root) if verdict.root else None
            case.verdict = verdict
        case.stage = "done"


def _opened(case: Case) -> Log:
    if isinstance(case.source, int):
        return open_log(cast("BinaryIO", PatientPipe(case.source, case.stop)), name=case.name)
    return open_log(case.source, name=case.name)
