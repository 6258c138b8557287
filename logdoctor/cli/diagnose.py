"""``logdoctor diagnose``: logs in, verdicts out."""

from __future__ import annotations

import argparse
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from logdoctor.api import standard_diagnoser
from logdoctor.catalogue import load_catalogue
from logdoctor.cli.status import Status
from logdoctor.errors import InputError
from logdoctor.intake import open_log
from logdoctor.masking import mask

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from logdoctor.diagnosis import Diagnoser
    from logdoctor.model import FactValue, Verdict

__all__ = ["run"]

FORMATS = ("text", "json", "jsonl")
MANY_PROBLEMS = 5


def run(arguments: Sequence[str]) -> int:
    """Diagnose each input; return the exit status."""
    options = _parser().parse_args(arguments)
    inputs = options.inputs or ["-"]
    if options.inputs == [] and sys.stdin.isatty():
        return _unusable("no input: name a log, or pipe one in (logdoctor diagnose build.log)")
    if options.format == "json" and len(inputs) > 1:
        return _unusable("--format json takes one input; use --format jsonl for several")
    try:
        asked = _Asked(answers=dict(_answers(options.answer)), witness=_witness(options))
        with _output(options.output) as out:
            return _all(inputs, options, asked, out)
    except (ValueError, InputError) as error:
        return _unusable(str(error))
    except OSError as error:
        if isinstance(error, BrokenPipeError):
            raise
        return _unusable(f"{options.output}: {error.strerror}; name a file that can be written")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What is known besides the log."""

    answers: Mapping[str, bool]
    witness: Callable[[Mapping[str, FactValue]], Mapping[str, FactValue]] | None


def _witness(options: argparse.Namespace) -> Callable[[Mapping[str, FactValue]], Mapping[str, FactValue]] | None:
    """The set-up files that were named, as a witness; None where none was."""
    if not (options.settings or options.build_file or options.toolchains or options.env_file):
        return None
    from logdoctor.setup_files.witness import call_witness

    witness = call_witness(
        settings=_path(options.settings),
        builds=[Path(name) for name in options.build_file],
        toolchains=_path(options.toolchains),
        env_file=_path(options.env_file),
    )
    wrong = [remark for remark in witness.setup().remarks if remark.severity == "error"]
    if wrong:
        _say(f"the set-up files hold {len(wrong)} things that can't work; logdoctor checkup lists them")
    return witness.testify


def _path(name: str | None) -> Path | None:
    return Path(name) if name else None


def _all(inputs: Sequence[str], options: argparse.Namespace, asked: _Asked, out: TextIO) -> int:
    diagnoser = _diagnoser(options)
    status = Status.DONE
    for number, name in enumerate(inputs):
        try:
            verdict = _one(diagnoser, name, asked)
        except InputError as error:
            status = Status.UNUSABLE
            _say(str(error))
            if options.format == "jsonl":
                _write(out, _error_line(name, error))
            continue
        if options.format == "text" and len(inputs) > 1:
            _write(out, ("\n" if number else "") + f"== {mask(name)}")
        _write(out, _rendered(verdict, options.format, colour=_colour(out)))
        for notice in verdict.notices:
            _say(f"{name}: {notice}")
        if options.strict and status == Status.DONE and _unexplained(verdict):
            status = Status.UNEXPLAINED
    return status


def _diagnoser(options: argparse.Namespace) -> Diagnoser:
    catalogue = load_catalogue(project=Path.cwd() if options.project_layer else None)
    for problem in catalogue.problems[:MANY_PROBLEMS]:
        _say(f"left out of the catalogue: {problem}")
    if len(catalogue.problems) > MANY_PROBLEMS:
        _say(f"and {len(catalogue.problems) - MANY_PROBLEMS} more problems; logdoctor catalogue --vet lists them all")
    return standard_diagnoser(catalogue)


def _one(diagnoser: Diagnoser, name: str, asked: _Asked) -> Verdict:
    with open_log(name) as log:
        return diagnoser.diagnose(log, answers=asked.answers, witness=asked.witness)


def _unexplained(verdict: Verdict) -> bool:
    return verdict.outcome != "succeeded" and (verdict.root is None or verdict.root.failure.stand_in == "last")


def _rendered(verdict: Verdict, form: str, *, colour: bool) -> str:
    if form == "text":
        from logdoctor.reports.text import text_report

        return text_report(verdict, colour=colour).rstrip("\n")
    from logdoctor.reports.json_report import json_line, json_object

    return json_object(verdict) if form == "json" else json_line(verdict)


def _error_line(name: str, error: InputError) -> str:
    from logdoctor.reports.json_report import error_line

    return error_line(name, str(error))


def _answers(given: Sequence[str]) -> Iterator[tuple[str, bool]]:
    for answer in given:
        check, _, said = answer.partition("=")
        if said not in ("yes", "no"):
            raise ValueError(f"--answer {answer}: write CHECK=yes or CHECK=no")
        yield check, said == "yes"


def _output(path: str | None) -> TextIO:
    if path is None or path == "-":
        return open(sys.stdout.fileno(), "w", encoding="utf-8", errors="replace", closefd=False)
    return Path(path).open("w", encoding="utf-8", newline="\n")


def _write(out: TextIO, text: str) -> None:
    out.write(text + "\n")
    out.flush()


def _colour(out: TextIO) -> bool:
    return out.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _say(text: str) -> None:
    from logdoctor.intake import printable

    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr)


def _unusable(text: str) -> int:
    _say(text)
    return Status.UNUSABLE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor diagnose",
        description="Explain failed build logs.",
        epilog="example:\n  mvn -B deploy 2>&1 | tee build.log; logdoctor diagnose build.log",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument(
        "inputs",
        nargs="*",
        metavar="INPUT",
        help="a log (plain, .gz, .xz or .zst), a folder or archive (.zip, .tar) of one build's step logs, or - for standard input",
    )
    parser.add_argument("--format", choices=FORMATS, default="text", help="what to print (default: text)")
    parser.add_argument("--output", metavar="FILE", help="write there instead of to standard output")
    parser.add_argument(
        "--answer", action="append", default=[], metavar="CHECK=yes|no", help="answer a check; may be repeated"
    )
    files = parser.add_argument_group("set-up files", "as the agent had them; they help to tell the causes apart")
    files.add_argument("--settings", metavar="FILE", help="Maven's settings file")
    files.add_argument(
        "--build-file",
        action="append",
        default=[],
        metavar="FILE",
        help="a build file (pom.xml, package.json, build.gradle, pyproject.toml, …); may be repeated",
    )
    files.add_argument("--toolchains", metavar="FILE", help="Maven's toolchains file")
    files.add_argument("--env-file", metavar="FILE", help="the output of env, as run on the agent")
    parser.add_argument(
        "--strict", action="store_true", help="exit 3 when a log did not succeed and nothing explains it"
    )
    parser.add_argument(
        "--project-layer", action="store_true", help="also read the entries in .logdoctor/ of this work tree"
    )
    return parser
