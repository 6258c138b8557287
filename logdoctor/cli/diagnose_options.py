"""The options of ``logdoctor diagnose``."""

from __future__ import annotations

import argparse

from logdoctor.cli.helping import HelpText
from logdoctor.cli.job_options import add_history_options, add_job_options
from logdoctor.cli.witness_options import add_witness_options
from logdoctor.reports.formats import FORMATS

__all__ = ["parser"]

EPILOG = """examples:
  mvn -B deploy 2>&1 | tee build.log; logdoctor diagnose build.log
  logdoctor diagnose --format text --format html=report.html --format sarif=report.sarif build.log
  logdoctor diagnose --settings ci-settings.xml --build-file pom.xml --env-file agent.env build.log"""


def parser(command: str = "logdoctor diagnose") -> argparse.ArgumentParser:
    """The parser of the command line."""
    made = argparse.ArgumentParser(
        prog=command,
        description="Explain failed build logs.",
        epilog=EPILOG,
        formatter_class=HelpText,
        allow_abbrev=False,
    )
    made.add_argument(
        "inputs",
        nargs="*",
        metavar="INPUT",
        help="a log (plain, .gz, .xz or .zst), a folder or archive (.zip, .tar) of one build's step logs, "
        "or - for standard input",
    )
    made.add_argument(
        "--answer", action="append", default=[], metavar="CHECK=yes|no", help="answer a check; may be repeated"
    )
    made.add_argument(
        "--exit-status",
        type=int,
        metavar="N",
        help="how the command ended, where the log itself does not tell (not 0: it failed)",
    )
    made.add_argument("--previous", metavar="LOG", help="an earlier run of the job: tell what changed since then")
    made.add_argument(
        "--jobs", type=int, metavar="N", help="read that many logs at a time (default: one for each core)"
    )
    made.add_argument(
        "--axis", metavar="PATTERN", help="what in the names tells runs of a matrix apart, such as 'jdk(\\d+)'"
    )
    made.add_argument(
        "--project-layer", action="store_true", help="also read the entries in .logdoctor/ of this work tree"
    )
    _add_output(made)
    _add_statuses(made)
    add_witness_options(made)
    add_job_options(made)
    add_history_options(made)
    return made


def _add_output(made: argparse.ArgumentParser) -> None:
    group = made.add_argument_group("output")
    group.add_argument(
        "--format",
        action="append",
        default=[],
        metavar="NAME[=FILE]",
        help=f"what to print (default: text), and where to; may be repeated: {', '.join(FORMATS)}",
    )
    group.add_argument("--output", metavar="FILE", help="write there instead of to standard output")
    group.add_argument("--log-url", metavar="URL", help="address of the log, with {line} where the line's number goes")
    group.add_argument(
        "--annotate", action="store_true", help="also print one line an error (file:line: message), as compilers do"
    )
    group.add_argument("--redact", metavar="KINDS", help="replace names for outsiders: hosts, users, paths (a list)")
    group.add_argument("--secret-patterns", metavar="FILE", help="your own patterns of secrets, one a line")
    group.add_argument("--no-teams", action="store_true", help="do not name the team that gets it")


def _add_statuses(made: argparse.ArgumentParser) -> None:
    group = made.add_argument_group("exit status")
    group.add_argument(
        "--strict", action="store_true", help="exit 3 when a log did not succeed and nothing explains it"
    )
    group.add_argument("--fail-on-secret", action="store_true", help="exit 4 when a log shows a secret")
