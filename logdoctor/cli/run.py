"""``logdoctor run``: a build command passed through unchanged, and diagnosed when it fails."""

from __future__ import annotations

import argparse
import os
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.cli.status import Status

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from logdoctor.cli.examining import Examiner
    from logdoctor.running import Spool
    from logdoctor.running.saving import MaskedCopy

__all__ = ["run"]

BY_INTERRUPT = 130
REPORTS = {"text": "txt", "json": "json", "markdown": "md", "html": "html", "sarif": "sarif", "junit": "xml"}
SPAWN = "posix_spawnp"


def run(arguments: Sequence[str]) -> int:
    """Run the command; its own exit status is returned, whatever becomes of the diagnosis."""
    own, command = _split(arguments)
    options, rest = _parser().parse_known_args(own)
    diagnosing = _diagnose_options(rest)
    if not command:
        _say("no command: write it behind --, as in logdoctor run -- mvn -B verify")
        return Status.UNUSABLE
    if not hasattr(os, SPAWN):
        _say("run works on Linux, macOS and other POSIX systems; here, write the output to a file and diagnose that")
        return Status.UNUSABLE
    return _Wrapped(options, diagnosing).run(command)


class _Wrapped:
    """One command from its start to its diagnosis."""

    def __init__(self, options: argparse.Namespace, diagnosing: argparse.Namespace) -> None:
        self._options = options
        self._diagnosing = diagnosing
        self._examiner: Examiner | None = None

    def run(self, command: Sequence[str]) -> int:
        from logdoctor.running import Child, CommandError, Pump, Spool
        from logdoctor.running.relay import Relay
        from logdoctor.running.streams import open_channels

        relay = Relay()
        channels = open_channels()
        try:
            child = Child(command, channels, mask=sorted(relay.before))
        except CommandError as error:
            _say(str(error))
            return error.status
        for channel in channels:
            os.close(channel.inner)
        spool = Spool(_say, self._options.save_raw)
        copy = self._copy(spool)
        relay.start(child, channels)
        ready = threading.Thread(target=self._prepare, daemon=True)
        ready.start()
        Pump(channels, spool, relay.ended, copy.catch_up if copy else lambda: False).run()
        status = child.status if child.status is not None else Status.FAULT
        self._afterwards(status, spool, copy, ready)
        return status

    def _copy(self, spool: Spool) -> MaskedCopy | None:
        if self._options.save is None:
            return None
        from logdoctor.running.saving import MaskedCopy

        return MaskedCopy(self._options.save, spool, _say)

    def _prepare(self) -> None:
        """While the command runs, so that its failure is explained at once."""
        _guarded(self._make_examiner)

    def _make_examiner(self) -> None:
        from logdoctor.cli.examining import Examiner

        colour = sys.stderr.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
        forms = tuple(REPORTS) if self._options.report_dir else ("text",)
        examiner = Examiner(self._diagnosing, forms, colour=colour)
        _ = examiner.diagnoser.book
        self._examiner = examiner

    def _afterwards(self, status: int, spool: Spool, copy: MaskedCopy | None, ready: threading.Thread) -> None:
        """Whatever goes wrong here is said in one line; the command's status stands."""
        if copy is not None:
            _guarded(copy.finish)
        # Someone who interrupts a build knows why it ended.
        if status not in (0, BY_INTERRUPT) and spool.size:
            ready.join()
            _guarded(lambda: self._diagnose(spool, status))
        _guarded(spool.close)

    def _diagnose(self, spool: Spool, status: int) -> None:
        import io

        from logdoctor.intake import open_log

        if self._examiner is None or spool.descriptor is None:
            return
        with open_log(io.FileIO(os.dup(spool.descriptor)), name="output of the command") as log:
            examined = self._examiner.examine_log(log, status)
        for saying in (*self._examiner.sayings, *examined.notices):
            _say(saying)
        text = "\n" + examined.texts["text"] + "\n"
        sys.stderr.write(text.encode(sys.stderr.encoding or "utf-8", "replace").decode(sys.stderr.encoding or "utf-8"))
        sys.stderr.flush()
        if self._options.report_dir:
            _write_reports(Path(self._options.report_dir), examined.texts)


def _write_reports(folder: Path, texts: Mapping[str, str]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for form, ending in REPORTS.items():
        if form in texts:
            (folder / f"diagnosis.{ending}").write_text(texts[form] + "\n", encoding="utf-8", errors="replace")


def _guarded(work: Callable[[], object]) -> None:
    try:
        work()
    except Exception as fault:  # noqa: BLE001 - the build's own result must stand, whatever goes wrong here
        from logdoctor.errors import LogdoctorError

        what = str(fault) if isinstance(fault, (LogdoctorError, OSError)) else type(fault).__name__
        _guarded_say(f"no diagnosis: {what}")


def _guarded_say(text: str) -> None:
    try:
        _say(text)
    except (OSError, ValueError):
        return  # standard error is gone, too


def _say(text: str) -> None:
    from logdoctor.intake import printable
    from logdoctor.masking import mask

    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr, flush=True)


def _split(arguments: Sequence[str]) -> tuple[list[str], list[str]]:
    """Our own options, and the command behind the first ``--``."""
    words = list(arguments)
    if "--" not in words:
        return words, []
    at = words.index("--")
    return words[:at], words[at + 1 :]


def _diagnose_options(rest: Sequence[str]) -> argparse.Namespace:
    """The other options are those of ``diagnose``; a command without ``--`` before it is not guessed at."""
    from logdoctor.cli.diagnose_options import parser

    options = parser("logdoctor run").parse_args(list(rest))
    if options.inputs:
        parser("logdoctor run").error(f"unexpected {options.inputs[0]}: the command goes behind --")
    return options


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor run",
        usage="logdoctor run [options] -- COMMAND ...",
        description=(
            "Run a build command and diagnose it when it fails. Its output passes through unchanged, and its exit status "
            "is kept (126 and 127 as a shell gives them, 128 + n for a signal). The diagnosis goes to standard error."
        ),
        epilog=(
            "Other options are those of logdoctor diagnose (--settings, --build-file, --log-url, --redact, ...).\n\n"
            "examples:\n  logdoctor run -- mvn -B verify\n"
            "  logdoctor run --save build.log --report-dir reports -- npm ci\n\n"
            "Works on Linux, macOS and other POSIX systems; used and tested on Linux. What the command leaves running in\n"
            "the background is not waited for."
        ),
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--save", metavar="LOG", help="keep the output there, secrets masked")
    parser.add_argument(
        "--save-raw", metavar="LOG", help="keep the output there byte for byte, secrets and all (mode 0600)"
    )
    parser.add_argument("--report-dir", metavar="DIR", help=f"write reports there when it fails: {', '.join(REPORTS)}")
    return parser
