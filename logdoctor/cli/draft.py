"""``logdoctor draft``: a new catalogue entry from a log whose failure is unknown."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.cli.status import Status
from logdoctor.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logdoctor.catalogue import Catalogue
    from logdoctor.drafting import Draft
    from logdoctor.model import Source, Verdict

__all__ = ["run"]

MANY_PROBLEMS = 5


def run(arguments: Sequence[str]) -> int:
    """Draft an entry, print or write it, and say what is still to do; return the exit status."""
    options = _parser().parse_args(arguments)
    try:
        place = _place(options.to) if options.to else None
        draft, verdict, catalogue = _drafted(options)
        target = place and _target(place, draft)
    except (InputError, ValueError) as error:
        _say(str(error))
        return Status.UNUSABLE
    if target is None:
        print(draft.yaml, end="")
        _tell(draft, verdict, options, None)
        return Status.DONE
    from logdoctor.drafting import write_new

    try:
        write_new(target, draft.yaml)
    except OSError as error:
        _say(f"{target}: {error.strerror}; name a place that can be written")
        return Status.UNUSABLE
    _tell(draft, verdict, options, target)
    _tell_vetting(draft, catalogue, options.to)
    return Status.DONE


def _drafted(options: argparse.Namespace) -> tuple[Draft, Verdict, Catalogue]:
    from logdoctor.api import standard_diagnoser
    from logdoctor.catalogue import load_catalogue
    from logdoctor.drafting import Wishes, draft_entry
    from logdoctor.intake import open_log

    catalogue = load_catalogue(project=Path.cwd() if options.project_layer or options.to == "project" else None)
    for problem in catalogue.problems[:MANY_PROBLEMS]:
        _say(f"left out of the catalogue: {problem}")
    with open_log(options.input) as log:
        verdict = standard_diagnoser(catalogue).diagnose(log)
        line = _line(options.line, verdict.source) if options.line else None
        wishes = Wishes(entry=options.id, title=options.title, against=tuple(options.against))
        draft = draft_entry(log, verdict, line, catalogue, wishes)
    return draft, verdict, catalogue


def _line(told: str, source: Source) -> int:
    """A line of the whole log: a number, or FILE:NUMBER in a log of several files; ValueError where there is no such line."""
    file, _, number = told.rpartition(":")
    if not number.isdecimal() or int(number) < 1:
        raise ValueError(f"--line {told}: write a number, or FILE:NUMBER for a folder or an archive")
    if not file:
        return int(number)
    for part in source.parts:
        if part.name == file:
            return part.first + int(number)
    raise ValueError(f"--line {told}: there is no file {file} in {source.name}")


def _place(told: str) -> Path:
    """The folder of a layer, or the file that is named; ValueError where there is none."""
    from logdoctor.catalogue.loading import user_folder

    if told == "project":
        return Path.cwd() / ".logdoctor"
    if told != "user":
        return Path(told)
    folder = user_folder()
    if folder is None:
        raise ValueError("--to user: there is no home folder; name a file instead")
    return folder


def _target(place: Path, draft: Draft) -> Path:
    """The file to write; ValueError where one stands there, since what a person wrote is not replaced."""
    from logdoctor.drafting import place_in_layer

    in_layer = not place.suffix or place.is_dir()
    target = place_in_layer(place, draft.id, draft.phase) if in_layer else place
    if target.exists():
        raise ValueError(f"{target}: there is a file already; move it away, or name another one with --to or --id")
    return target


def _tell(draft: Draft, verdict: Verdict, options: argparse.Namespace, target: Path | None) -> None:
    """What was done and what is left, on standard error."""
    if target is not None:
        _say(f"wrote {target}")
    _say(f"drafted from {verdict.source.says(draft.line)}")
    others = [worth for worth in verdict.worth_reading if worth.line != draft.line]
    if not options.line and others:
        _say(f"also worth reading, to draft from with --line: {', '.join(_told(verdict, w.line) for w in others)}")
    if draft.known:
        _say(f"{draft.id} is a known failure: this adds a wording to it, and its causes stay")
    for problem in draft.problems:
        _say(f"to be mended: {problem}")
    if draft.todo:
        _say(f"still to be written: {', '.join(draft.todo)}")


def _told(verdict: Verdict, line: int) -> str:
    """A line as --line takes it."""
    file, number = verdict.source.place(line)
    return str(number) if file is None else f"{file}:{number}"


def _tell_vetting(draft: Draft, catalogue: Catalogue, to: str) -> None:
    """Vet the entry where it now lies, in its layer."""
    if to not in ("user", "project"):
        return
    from logdoctor.catalogue import load_catalogue
    from logdoctor.catalogue.vetting import vet

    known = {str(problem) for problem in catalogue.problems}
    merged = load_catalogue(project=Path.cwd() if to == "project" else None)
    problems = [problem for problem in vet(merged, only=[draft.id]) if str(problem) not in known]
    for problem in problems:
        _say(f"vetting: {problem}")
    if not problems:
        _say("vetting finds nothing else wrong with it")
    if to == "project":
        _say("the project's entries are read with --project-layer")


def _say(text: str) -> None:
    from logdoctor.intake import printable
    from logdoctor.masking import mask

    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor draft",
        description=(
            "Draft a catalogue entry from a log whose failure is unknown. The pattern is made from one line and tried on "
            "ordinary lines, on all known wordings and on the succeeded logs you name; secrets, hosts and accounts do not "
            "get into it. Causes and fixes are for you to write: the draft says where."
        ),
        epilog=(
            "examples:\n  logdoctor draft build.log\n"
            "  logdoctor draft --line 812 --id deploy-berth-taken --against green-logs/ --to user build.log"
        ),
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("input", metavar="INPUT", help="a log as diagnose takes it, or - for standard input")
    parser.add_argument("--line", metavar="N", help="the line that tells the failure (FILE:N in a folder or archive)")
    parser.add_argument("--id", metavar="ID", help="the entry's id; that of a known failure adds a wording to it")
    parser.add_argument("--title", metavar="TEXT", help="the entry's title")
    parser.add_argument(
        "--against",
        action="append",
        default=[],
        metavar="DIR",
        help="succeeded logs that it must not match; may be repeated",
    )
    parser.add_argument("--to", metavar="WHERE", help="write it: user, project (.logdoctor/ here), or a file to make")
    parser.add_argument(
        "--project-layer", action="store_true", help="also read the entries in .logdoctor/ of this work tree"
    )
    return parser
