"""``logdoctor open``, and ``logdoctor`` alone: the terminal app on logs or on its start screen."""

from __future__ import annotations

import argparse
import os
import stat
import sys
import time
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.cli.faults import report_fault
from logdoctor.cli.status import Status
from logdoctor.cli.witness_options import add_witness_options, call_witness_of
from logdoctor.errors import InputError
from logdoctor.intake import open_log, printable
from logdoctor.masking import mask

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logdoctor.cli.witness_options import Witness
    from logdoctor.terminal.desk import Case, Recent

__all__ = ["recent_verdicts", "run", "start"]

TERMINAL = "/dev/tty"
RECENT_DAYS = 30
MOST_RECENT = 12
PATIENCE = 0.2


def run(arguments: Sequence[str]) -> int:
    """Open the app on the inputs; return the exit status."""
    options = _parser().parse_args(arguments)
    inputs = list(dict.fromkeys(options.inputs or ([] if sys.stdin.isatty() else ["-"])))
    project = Path.cwd() if options.project_layer else None
    if not sys.stderr.isatty():
        return _unusable("the app needs a terminal to draw on; logdoctor diagnose prints its verdict anywhere")
    if len(inputs) == 1 and inputs[0] != "-":
        try:
            open_log(inputs[0]).close()
        except InputError as error:
            return _unusable(str(error))
    try:
        pipe = _keys_from_terminal() if "-" in inputs or not sys.stdin.isatty() else None
    except OSError as error:
        return _unusable(f"there is no terminal to take keys from ({error.strerror}); use logdoctor diagnose instead")
    try:
        witness, _ = call_witness_of(options)
    except InputError as error:
        return _unusable(str(error))
    return _show(inputs, pipe, project, witness)


def start() -> int:
    """Open the app on its start screen."""
    return _show((), None, None, None)


def _show(inputs: Sequence[str], pipe: int | None, project: Path | None, witness: Witness | None) -> int:
    from functools import partial

    from logdoctor.catalogue import load_catalogue
    from logdoctor.terminal.app import DoctorApp
    from logdoctor.terminal.desk import Desk

    with ExitStack() as stack:
        if pipe is not None:
            stack.callback(os.close, pipe)
        app = DoctorApp(
            Desk(load=partial(load_catalogue, project=project), recent=recent_verdicts, witness=witness),
            [_case(name, pipe) for name in inputs],
        )
        app.run()
        if app.fault is not None:
            report_fault(app.fault)
            return Status.FAULT
        return app.return_code or Status.DONE


def recent_verdicts() -> list[Recent]:
    """What the history kept last, the newest first; nothing where there is none or it can't be asked."""
    from datetime import UTC, datetime

    from logdoctor.memory.history.errors import HistoryError
    from logdoctor.memory.history.ledger import Ledger
    from logdoctor.memory.history.place import place_of
    from logdoctor.terminal.desk import Recent

    place = place_of(None)
    if place is None or place.file is None or not place.file.is_file():
        return []
    try:
        with Ledger.at(place, patience=PATIENCE) as ledger:
            runs = ledger.runs(since=time.time() - RECENT_DAYS * 86400)
    except HistoryError:
        return []
    newest = sorted(runs, key=lambda run: -run.at)[:MOST_RECENT]
    return [
        Recent(
            when=datetime.fromtimestamp(run.at, UTC).astimezone().strftime("%Y-%m-%d %H:%M"),
            name=run.job or run.agent or run.outcome,
            headline=run.title or f"The build {run.outcome}",
        )
        for run in newest
    ]


def _case(name: str, pipe: int | None) -> Case:
    from logdoctor.terminal.desk import Case

    if name != "-" or pipe is None:
        return Case(source=name, name=mask(printable(name)))
    if stat.S_ISREG(os.fstat(pipe).st_mode):
        return Case(source=f"/dev/fd/{pipe}", name="standard input")
    return Case(source=pipe, name="standard input")


def _keys_from_terminal() -> int:
    """Keep what is piped in under another descriptor, and put the terminal in its place."""
    keys = os.open(TERMINAL, os.O_RDONLY)
    pipe = os.dup(0)
    os.dup2(keys, 0)
    os.close(keys)
    return pipe


def _unusable(text: str) -> int:
    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr)
    return Status.UNUSABLE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor open",
        description="Look at failed build logs in the terminal app.",
        epilog="examples:\n  logdoctor open build.log\n  mvn -B deploy 2>&1 | logdoctor open -",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument(
        "inputs",
        nargs="*",
        metavar="INPUT",
        help="a log as diagnose takes it, or - for standard input; several make a list; none: the start screen",
    )
    parser.add_argument(
        "--project-layer", action="store_true", help="also read the entries in .logdoctor/ of this work tree"
    )
    add_witness_options(parser)
    return parser
