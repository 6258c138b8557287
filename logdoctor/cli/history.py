"""``logdoctor history``: what was seen before, where and how often, and what fixed it."""

from __future__ import annotations

import argparse
import re
import sys
import time
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from logdoctor.cli.job_options import add_history_options, place_asked
from logdoctor.cli.status import Status
from logdoctor.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from logdoctor.memory.history import Ledger, Place, Remark, Run
    from logdoctor.model import Failure

__all__ = ["run"]

DAY = 86400.0
_MANY = 5


def run(arguments: Sequence[str]) -> int:
    """Show the history or change it; return the exit status."""
    options = _parser().parse_args(arguments)
    place = place_asked(options)
    if place is None:
        return _unusable("there is no home folder for a history; name a file with --history")
    if (options.note or options.by) and not (options.confirm or options.wrong):
        return _unusable("--note and --by go with --confirm or --wrong")
    try:
        return _done(place, options)
    except InputError as error:
        return _unusable(str(error))
    except OSError as error:
        if isinstance(error, BrokenPipeError):
            raise
        return _unusable(f"{error.filename or 'output'}: {error.strerror}; name a file that can be used")


def _done(place: Place, options: argparse.Namespace) -> int:
    from logdoctor.memory.history.errors import HistoryError
    from logdoctor.memory.history.ledger import Ledger

    if not options.import_from and place.file is not None and not _begun(place):
        return _nothing_yet(place, options)
    with Ledger.at(place) as ledger:
        action = _action(options)
        try:
            ledger.take_in()
        except HistoryError as error:
            if action is not _shown:
                raise
            _say(f"{error}; what waits beside it is not shown")  # it may be there to be read all the same
        return action(ledger, options)


def _nothing_yet(place: Place, options: argparse.Namespace) -> int:
    """A history that is only asked is not made."""
    if options.forget_older is not None:
        return _told("0 runs forgotten")
    if options.confirm or options.wrong or options.export:
        return _unusable(f"{place.name}: there is no history yet; diagnose a log first")
    _say(f"{place.name}: there is no history yet")
    return _show([], [], time.time() - options.days * DAY, options)


def _action(options: argparse.Namespace) -> Callable[[Ledger, argparse.Namespace], int]:
    if options.confirm or options.wrong:
        return _remarked
    if options.forget_older is not None:
        return _forgotten
    if options.export:
        return _exported
    return _imported if options.import_from else _shown


def _begun(place: Place) -> bool:
    return any(path is not None and path.exists() for path in (place.file, place.waiting))


def _shown(ledger: Ledger, options: argparse.Namespace) -> int:
    since = time.time() - options.days * DAY
    runs = ledger.runs(since=since, job=options.job)
    if options.fingerprint:
        jobs = {run.job for run in runs if run.fingerprint == options.fingerprint}
        runs = [
            run
            for run in runs
            if run.fingerprint == options.fingerprint or (run.job in jobs and run.outcome == "succeeded")
        ]
    return _show(runs, ledger.remarks(), since, options)


def _show(runs: Sequence[Run], remarks: Sequence[Remark], since: float, options: argparse.Namespace) -> int:
    from logdoctor.memory.history.summing import summary_of
    from logdoctor.memory.history.telling import summary_json, summary_text

    summary = summary_of(runs, remarks, since=since)
    text = summary_json(summary) if options.format == "json" else summary_text(summary, top=options.top)
    return _print(text.rstrip("\n"))


def _remarked(ledger: Ledger, options: argparse.Namespace) -> int:
    from logdoctor.memory.history.model import Remark
    from logdoctor.memory.history.recording import cleaned

    told = ledger.last_failed(job=options.job, fingerprint=options.fingerprint)
    if told is None:
        return _unusable("no such run is in the history; see logdoctor history, and name one by --fingerprint or --job")
    if options.confirm:
        _check_cause(told, options.confirm)
    now = time.time()
    remark = Remark(
        id=_new_id(),
        run_id=told.id,
        at=now,
        kind="wrong" if options.wrong else "confirmed",
        failure=told.failure,
        cause=options.confirm,
        who=cleaned(options.by or _user()),
        note=cleaned(options.note),
    )
    ledger.add([remark])
    what = "called wrong" if options.wrong else f"confirmed as {options.confirm}"
    where = f" of {told.job}" if told.job else ""
    return _told(f"{told.title or 'the failure not in the catalogue'}{where} ({told.fingerprint}): {what}")


def _check_cause(told: Run, cause: str) -> None:
    """A cause that the failure does not have would never move a share, so it is refused."""
    from logdoctor.memory.history.model import OTHER

    if cause == OTHER:
        return
    failure = _failure(told)
    known = [each.id for each in failure.causes] if failure else []
    if cause not in known:
        of = f"{told.failure}: no cause {cause}" if told.failure else "a failure not in the catalogue has no causes"
        raise InputError("--confirm", of, f"write one of {', '.join([*known, OTHER])}")


def _failure(told: Run) -> Failure | None:
    from logdoctor.catalogue import load_catalogue

    catalogue = load_catalogue()
    return catalogue.failure(told.failure) if told.failure and told.failure in catalogue else None


def _forgotten(ledger: Ledger, options: argparse.Namespace) -> int:
    gone = ledger.forget(time.time() - options.forget_older * DAY)
    return _told(f"{gone} run{'' if gone == 1 else 's'} forgotten")


def _exported(ledger: Ledger, options: argparse.Namespace) -> int:
    from logdoctor.memory.history.exchange import exported

    with ExitStack() as stack:
        out = sys.stdout
        if options.export != "-":
            out = stack.enter_context(Path(options.export).open("w", encoding="utf-8", newline="\n"))
        for line in exported(ledger):
            out.write(f"{line}\n")
        out.flush()
    return Status.DONE


def _imported(ledger: Ledger, options: argparse.Namespace) -> int:
    from logdoctor.memory.history.exchange import imported

    problems: list[str] = []
    name = options.import_from
    with ExitStack() as stack:
        lines = sys.stdin
        if name != "-":
            lines = stack.enter_context(Path(name).open(encoding="utf-8", errors="replace"))
        try:
            new, total = imported(ledger, lines, problems)
        except ValueError as error:
            raise InputError(name, str(error), "give a file that logdoctor history --export wrote") from error
    for problem in problems[:_MANY]:
        _say(f"{name}: {problem}; left out")
    if len(problems) > _MANY:
        _say(f"{name}: and {len(problems) - _MANY} more lines left out")
    _told(f"{total} read, {new} of them new")
    return Status.UNUSABLE if problems else Status.DONE


def _new_id() -> str:
    import uuid

    return uuid.uuid4().hex


def _user() -> str | None:
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return None


def _told(text: str) -> int:
    """A message with texts from the history and the command line."""
    from logdoctor.intake import printable
    from logdoctor.masking import mask

    return _print(printable(mask(text)))


def _print(text: str) -> int:
    encoding = sys.stdout.encoding or "utf-8"
    print(text.encode(encoding, "replace").decode(encoding))
    return Status.DONE


def _say(text: str) -> None:
    from logdoctor.intake import printable
    from logdoctor.masking import mask

    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr)


def _unusable(text: str) -> int:
    _say(text)
    return Status.UNUSABLE


def _days(text: str) -> float:
    match = re.fullmatch(r"(\d{1,5})d?", text)
    if match is None or int(match[1]) < 1:
        _refuse("write a number of days, such as 180d")
    return float(match[1])


def _positive(text: str) -> int:
    if not re.fullmatch(r"\d{1,6}", text) or int(text) < 1:
        _refuse("write a number from 1 on")
    return int(text)


def _refuse(why: str) -> NoReturn:
    raise argparse.ArgumentTypeError(why)


_EPILOG = """\
the history holds, for each diagnosed log: outcome, failure, fingerprint, the line that shows it (masked), host, job, run,
branch, revision, agent and time; no other text of the log. It lies in the user's data folder ($XDG_DATA_HOME/logdoctor,
else ~/.local/share/logdoctor), or where --history or $LOGDOCTOR_HISTORY says; a postgresql:// address is a team's.
confirmed causes move the shares of the next verdict; of several remarks on a run the latest counts.

examples:
  logdoctor history --days 90
  logdoctor history --job fares-deploy --confirm read-right-missing --note "read right granted on the group"
  logdoctor history --forget-older 180d
  logdoctor history --export - | gzip > history.jsonl.gz"""


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor history",
        description=(
            "What recurs, where, how often and since when; what failed and then passed unchanged; what was one incident. "
            "And what fixed it: confirm the cause after a fix."
        ),
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    add_history_options(parser, may_go_without=False)
    parser.add_argument("--job", metavar="JOB", help="only this job")
    parser.add_argument(
        "--fingerprint", metavar="FP", help="only this failure in this wording (a verdict tells its own)"
    )
    parser.add_argument("--days", type=_days, default=90.0, metavar="N", help="look back so many days (default: 90)")
    parser.add_argument(
        "--top", type=_positive, default=15, metavar="N", help="lines of each list as text (default: 15)"
    )
    parser.add_argument("--format", choices=("text", "json"), default="text", help="what to print (default: text)")
    actions = parser.add_argument_group("changing it").add_mutually_exclusive_group()
    actions.add_argument(
        "--confirm", metavar="CAUSE", help="what the last failure (of --job or --fingerprint) was caused by; or: other"
    )
    actions.add_argument("--wrong", action="store_true", help="the verdict on the last failure was wrong")
    actions.add_argument("--forget-older", type=_days, metavar="DAYS", help="remove what is older, such as 180d")
    actions.add_argument("--export", metavar="FILE", help="write all as JSON lines; - is standard output")
    actions.add_argument("--import", dest="import_from", metavar="FILE", help="add JSON lines; - is standard input")
    parser.add_argument("--note", metavar="TEXT", help="with --confirm or --wrong: what was done, in a few words")
    parser.add_argument("--by", metavar="NAME", help="with --confirm or --wrong: who says so (default: the user)")
    return parser
