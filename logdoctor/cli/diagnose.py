"""``logdoctor diagnose``: logs in, verdicts out."""

from __future__ import annotations

import os
import sys
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from logdoctor.cli.diagnose_options import parser
from logdoctor.cli.status import Status
from logdoctor.errors import InputError
from logdoctor.masking import mask
from logdoctor.reports.formats import FORMATS, SINGLE, WHOLE

if TYPE_CHECKING:
    import argparse
    import re
    from collections.abc import Iterable, Iterator, Sequence

    from logdoctor.cli.examining import Examined
    from logdoctor.model import Verdict
    from logdoctor.reports.formats import Beside
    from logdoctor.reports.matrix import Run

__all__ = ["run"]

MANY_LOGS = 2


def run(arguments: Sequence[str]) -> int:
    """Diagnose each input; return the exit status."""
    options = parser().parse_args(arguments)
    inputs = options.inputs or ["-"]
    if options.inputs == [] and sys.stdin and sys.stdin.isatty():
        return _unusable("no input: name a log, or pipe one in (logdoctor diagnose build.log)")
    try:
        places = _places(options, len(inputs))
        axis = _axis(options.axis)
        with ExitStack() as held:
            outlets = [_Outlet(form, held.enter_context(_opened(place)), place) for form, place in places]
            return _Call(options, inputs, outlets, axis).status()
    except (ValueError, InputError) as error:
        return _unusable(str(error))


@dataclass(slots=True)
class _Outlet:
    """One format and where it goes."""

    form: str
    out: TextIO
    place: str | None
    verdicts: list[Verdict] = field(default_factory=list)

    def write(self, text: str) -> None:
        self.out.write(text + "\n")
        self.out.flush()


class _Call:
    """One call of the command: what is known of its logs so far."""

    def __init__(
        self,
        options: argparse.Namespace,
        inputs: Sequence[str],
        outlets: Sequence[_Outlet],
        axis: re.Pattern[str] | None,
    ) -> None:
        self._options = options
        self._inputs = inputs
        self._outlets = outlets
        self._axis = axis
        self._beside: Beside | None = None
        self._runs: list[Run] = []
        self._statuses: set[Status] = set()

    def status(self) -> int:
        """Examine all inputs, write all outlets, and say how it went."""
        for number, examined in enumerate(self._examined()):
            self._take(examined, number)
        self._finish()
        order = (Status.INTERRUPTED, Status.UNUSABLE, Status.SECRET, Status.UNEXPLAINED)
        return next((status for status in order if status in self._statuses), Status.DONE)

    def _examined(self) -> Iterator[Examined]:
        from logdoctor.cli import examining

        forms = tuple(dict.fromkeys(outlet.form for outlet in self._outlets))
        colour = any(_colour(outlet) for outlet in self._outlets if outlet.form == "text")
        first = examining.prepare(self._options, forms, colour)
        self._beside = first.beside
        for saying in first.sayings:
            _say(saying)
        if len(self._inputs) < MANY_LOGS:
            yield from map(first.examine, self._inputs)
            return
        yield from self._with_progress(self._crew(forms, colour=colour))

    def _crew(self, forms: tuple[str, ...], *, colour: bool) -> Iterator[Examined]:
        from logdoctor.cli import examining
        from logdoctor.crew import Crew, cores

        crew = Crew(
            begin=examining.prepare,
            arguments=(self._options, forms, colour),
            work=examining.examine,
            died=examining.died,
        )
        return crew.results(self._inputs, self._options.jobs or cores())

    def _with_progress(self, results: Iterable[Examined]) -> Iterator[Examined]:
        """A count on the terminal while the reports go elsewhere."""
        shown = sys.stderr.isatty() and not sys.stdout.isatty()
        for number, examined in enumerate(results, start=1):
            if shown:
                end = "\n" if number == len(self._inputs) else ""
                print(f"\rlogdoctor: {number} of {len(self._inputs)} logs", end=end, file=sys.stderr, flush=True)
            yield examined

    def _take(self, examined: Examined, number: int) -> None:
        name = examined.name
        if examined.error is not None:
            self._statuses.add(Status.UNUSABLE)
            _say(str(examined.error))
        for outlet in self._outlets:
            self._write(outlet, examined, number)
        for notice in examined.notices:
            _say(f"{name}: {notice}")
        if examined.run is not None:
            self._runs.append(examined.run)
        if examined.interrupted:
            self._statuses.add(Status.INTERRUPTED)
        if self._options.strict and examined.unexplained:
            self._statuses.add(Status.UNEXPLAINED)
        if self._options.fail_on_secret and examined.secret:
            self._statuses.add(Status.SECRET)

    def _write(self, outlet: _Outlet, examined: Examined, number: int) -> None:
        if examined.error is not None:
            if outlet.form == "jsonl":
                from logdoctor.reports.json_report import error_line

                outlet.write(error_line(examined.name, str(examined.error)))
            return
        if outlet.form in WHOLE:
            if examined.verdict is not None:
                outlet.verdicts.append(examined.verdict)
            return
        if outlet.form == "text" and len(self._inputs) > 1:
            outlet.write(("\n" if number else "") + f"== {self._shown(examined.name)}")
        outlet.write(examined.texts[outlet.form])
        if outlet.place is None and examined.annotations:
            outlet.write("\n".join(examined.annotations))

    def _shown(self, name: str) -> str:
        from logdoctor.intake import printable

        return printable(mask(name))

    def _finish(self) -> None:
        for outlet in self._outlets:
            if outlet.form in WHOLE:
                from logdoctor.reports.formats import render_all

                outlet.write(render_all(outlet.verdicts, self._beside))
            elif outlet.form == "text" and len(self._runs) >= MANY_LOGS:
                from logdoctor.reports.matrix import matrix_text

                outlet.write("\n== all\n" + matrix_text(self._runs, self._axis))


def _places(options: argparse.Namespace, inputs: int) -> list[tuple[str, str | None]]:
    """The formats and where each goes; ValueError where that can't be."""
    places: list[tuple[str, str | None]] = []
    for told in options.format or ["text"]:
        form, _, place = told.partition("=")
        if form not in FORMATS:
            raise ValueError(f"--format {told}: there are {', '.join(FORMATS)}")
        if form in SINGLE and inputs > 1:
            instead = "use --format jsonl for several" if form == "json" else "call it once for each"
            raise ValueError(f"--format {form} takes one input; {instead}")
        places.append((form, place or options.output))
    shared = [place for _, place in places]
    if len(set(shared)) < len(shared):
        raise ValueError("two formats would go to one place; write --format NAME=FILE for all but one of them")
    return [(form, None if place == "-" else place) for form, place in places]


def _axis(told: str | None) -> re.Pattern[str] | None:
    import re

    try:
        return re.compile(told) if told else None
    except re.error as error:
        raise ValueError(f"--axis {told}: no valid pattern ({error})") from error


def _opened(place: str | None) -> TextIO:
    if place is None:
        return open(sys.stdout.fileno(), "w", encoding="utf-8", errors="replace", closefd=False)
    try:
        return Path(place).open("w", encoding="utf-8", errors="replace", newline="\n")
    except OSError as error:
        raise InputError(place, error.strerror or "can't be written", "name a file that can be written") from error


def _colour(outlet: _Outlet) -> bool:
    return outlet.out.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _say(text: str) -> None:
    from logdoctor.intake import printable

    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr)


def _unusable(text: str) -> int:
    _say(text)
    return Status.UNUSABLE
