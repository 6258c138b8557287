"""``logdoctor compare``: two logs of a job in, what changed between the runs out."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.cli.status import Status
from logdoctor.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logdoctor.memory.comparing import Comparison

__all__ = ["run"]


def run(arguments: Sequence[str]) -> int:
    """Compare two logs; return the exit status."""
    options = _parser().parse_args(arguments)
    if options.old == options.new == "-":
        _say("only one of the two logs can come from standard input; name the other one")
        return Status.UNUSABLE
    try:
        comparison = _compared(options)
    except InputError as error:
        _say(str(error))
        return Status.UNUSABLE
    return _write(comparison, options)


def _compared(options: argparse.Namespace) -> Comparison:
    from logdoctor.api import standard_diagnoser
    from logdoctor.catalogue import load_catalogue
    from logdoctor.memory.comparing import compare_files

    project = Path.cwd() if options.project_layer else None
    catalogue = load_catalogue(project=project)
    for problem in catalogue.problems:
        _say(f"left out of the catalogue: {problem}")
    return compare_files(options.old, options.new, standard_diagnoser(catalogue), project=project)


def _write(comparison: Comparison, options: argparse.Namespace) -> int:
    from logdoctor.reports.comparison import comparison_json, comparison_text

    to_screen = options.output in (None, "-")
    colour = to_screen and sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    text = (
        comparison_json(comparison) + "\n" if options.format == "json" else comparison_text(comparison, colour=colour)
    )
    if not to_screen:
        try:
            Path(options.output).write_text(text, encoding="utf-8", newline="\n")
        except OSError as error:
            _say(f"{options.output}: {error.strerror}; name a file that can be written")
            return Status.UNUSABLE
        return Status.DONE
    encoding = sys.stdout.encoding or "utf-8"
    print(text.encode(encoding, "replace").decode(encoding), end="")
    return Status.DONE


def _say(text: str) -> None:
    from logdoctor.intake import printable
    from logdoctor.masking import mask

    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor compare",
        description=(
            "What changed between two runs of a job: how far each got, what became of the failure, where the two logs part "
            "(times, hashes, durations, temporary paths and the order of downloads do not count), and what differs in the "
            "set-up they show. With the last green run as OLD it answers what changed since it last worked."
        ),
        epilog="example:\n  logdoctor compare build-117.log build-118.log",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("old", metavar="OLD", help="the log of the earlier run (plain, .gz, .xz or .zst), or -")
    parser.add_argument("new", metavar="NEW", help="the log of the later run")
    parser.add_argument("--format", choices=("text", "json"), default="text", help="what to print (default: text)")
    parser.add_argument("--output", metavar="FILE", help="write there instead of to standard output")
    parser.add_argument(
        "--project-layer", action="store_true", help="also read the entries in .logdoctor/ of this work tree"
    )
    return parser
