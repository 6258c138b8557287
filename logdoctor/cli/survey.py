"""``logdoctor survey``: folders of past logs in, tables out."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.cli.status import Status
from logdoctor.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from logdoctor.memory.survey import Row, Survey

__all__ = ["run"]

FORMATS = ("text", "json", "csv", "html")
TOLD_EVERY = 500


def run(arguments: Sequence[str]) -> int:
    """Survey the folders; return the exit status."""
    options = _parser().parse_args(arguments)
    if options.logs and options.format in ("text", "html"):
        return _unusable("--logs goes with --format json or csv")
    try:
        survey = _surveyed(options)
    except InputError as error:
        return _unusable(str(error))
    if not survey.logs:
        return _unusable(f"{', '.join(options.folders)}: no logs there; see --help for what counts as one")
    return _write(survey, options)


def _surveyed(options: argparse.Namespace) -> Survey:
    from logdoctor.api import standard_diagnoser
    from logdoctor.catalogue import load_catalogue
    from logdoctor.memory.survey import logs_below, rows_of, survey_of

    project = Path.cwd() if options.project_layer else None
    catalogue = load_catalogue(project=project)
    for problem in catalogue.problems:
        _say(f"left out of the catalogue: {problem}")
    rows = rows_of(
        logs_below(options.folders),
        standard_diagnoser(catalogue),
        job_from=options.job_from,
        project=project,
        jobs=options.processes,
    )
    return survey_of(_told(rows), keep_rows=options.logs)


def _told(rows: Iterable[Row]) -> Iterator[Row]:
    """A line for each log that can't be read, and how far it is for a person who waits."""
    waits = sys.stderr.isatty()
    for number, row in enumerate(rows, start=1):
        if row.error:
            _say(f"{row.name}: {row.error}")
        if waits and number % TOLD_EVERY == 0:
            _say(f"{number} logs so far")
        yield row


def _write(survey: Survey, options: argparse.Namespace) -> int:
    status = Status.UNUSABLE if survey.unread_total else Status.DONE
    if options.output in (None, "-"):
        colour = sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
        with open(sys.stdout.fileno(), "w", encoding="utf-8", errors="replace", newline="", closefd=False) as out:
            out.write(_rendered(survey, options, colour=colour))
        return status
    try:
        Path(options.output).write_text(_rendered(survey, options, colour=False), encoding="utf-8", newline="")
    except OSError as error:
        return _unusable(f"{options.output}: {error.strerror}; name a file that can be written")
    return status


def _rendered(survey: Survey, options: argparse.Namespace, *, colour: bool) -> str:
    if options.format == "html":
        from logdoctor.reports.survey_html import survey_html

        return survey_html(survey)
    from logdoctor.reports.survey_text import survey_csv, survey_json, survey_text

    if options.format == "json":
        return survey_json(survey, logs=options.logs) + "\n"
    if options.format == "csv":
        return survey_csv(survey, logs=options.logs)
    return survey_text(survey, top=options.top, colour=colour)


def _say(text: str) -> None:
    from logdoctor.intake import printable
    from logdoctor.masking import mask

    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr)


def _unusable(text: str) -> int:
    _say(text)
    return Status.UNUSABLE


def _positive(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError("write a number from 1 on")
    return number


_EPILOG = """\
what counts as a log: files that end in .log, .txt, .out, .console, .gz, .xz or .zst, or that have no ending; a .zip
  or .tar of step logs is one log; a file that is named on the command line counts whatever it is called
the job of a log: its file's name without day, time and run number (fares-deploy-118.log is fares-deploy); where
  nothing is left (118.log, console.log), the nearest folder with a name of its own; else the workspace in the log
the day of a log: a day in its file's name (2024-06-12, 20240612), in a folder's, the first dated line in the log,
  a line such as "Finished at: 2024-06-12", or the file's own date (for the weeks only where no log tells a day)
the agent: as the log tells it
lost time: from the first to the last time stamp of a failed log, else as its build tool tells it at the end

examples:
  logdoctor survey old-logs
  logdoctor survey --format html --output survey.html old-logs"""


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor survey",
        description=(
            "Turn folders of past logs into tables: which failures, how often and at what cost in time, by job, agent and "
            "week, and the failures that no entry explains, grouped by wording. A log that can't be read is one line on "
            "standard error, the others still come, and the exit status is 2."
        ),
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("folders", nargs="+", metavar="DIR", help="a folder of past logs (or a log)")
    parser.add_argument("--format", choices=FORMATS, default="text", help="what to print (default: text)")
    parser.add_argument("--output", metavar="FILE", help="write there instead of to standard output")
    parser.add_argument("--logs", action="store_true", help="with json or csv: list each log as well (csv: instead)")
    parser.add_argument(
        "--top", type=_positive, default=15, metavar="N", help="lines of each table as text (default: 15)"
    )
    parser.add_argument(
        "--job-from", choices=("auto", "name", "folder", "log"), default="auto", help="where a log's job is taken from"
    )
    parser.add_argument(
        "--processes", type=_positive, metavar="N", help="processes to use (default: one for each core)"
    )
    parser.add_argument(
        "--project-layer", action="store_true", help="also read the entries in .logdoctor/ of this work tree"
    )
    return parser
