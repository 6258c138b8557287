"""The parser of the command line and the outermost error boundary."""

from __future__ import annotations

import argparse
import errno
import gc
import importlib
import os
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

from logdoctor.cli.helping import HelpText
from logdoctor.cli.status import Status

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["main"]

NO_ROOM = frozenset([errno.ENOSPC, errno.EDQUOT, errno.EFBIG])
HIGHEST_STREAM = 2
COMMANDS = {
    "diagnose": "explain failed logs: files, archives or standard input",
    "run": "run a build command, pass its output through, and diagnose it when it fails",
    "open": "look at logs in the terminal app; logdoctor alone opens its start screen",
    "checkup": "check set-up files without a log: where downloads and uploads go, and what can't work",
    "compare": "tell what changed between two runs of a job",
    "survey": "turn a folder of past logs into tables: what fails, where, how often, and what it costs",
    "history": "what was seen before, where and how often; confirm what fixed it",
    "draft": "turn the log of an unknown failure into a new catalogue entry",
    "catalogue": "list, search, show and check the known failures",
    "completion": "print the script by which bash, zsh or fish completes the commands",
}


# The catalogue is many small objects that stay: looking through them again and again took an eighth of a short run.
OBJECTS_BETWEEN_COLLECTIONS = 50_000


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; without `argv`, as the program, the process is to end next."""
    status = _status_of(list(sys.argv[1:] if argv is None else argv))
    if argv is None:
        _make_ready_to_end(status)
    return status


def _status_of(arguments: list[str]) -> int:
    _occupy_closed_streams()
    try:
        return _run(arguments)
    except KeyboardInterrupt:
        return Status.INTERRUPTED
    except BrokenPipeError:
        _forget_stdout()
        return Status.DONE
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else Status.UNUSABLE
    except Exception as fault:  # noqa: BLE001 - the outermost boundary
        if isinstance(fault, OSError) and fault.errno in NO_ROOM:
            _forget_stdout()
            print(f"logdoctor: the output can't be written ({fault.strerror}); make room for it", file=sys.stderr)
            return Status.UNUSABLE
        from logdoctor.cli.faults import report_fault  # it imports a lot

        report_fault(fault)
        return Status.FAULT


def _make_ready_to_end(status: int) -> None:
    """Ends at once beside a thread at work: cut off within native code as the interpreter ends, it can take the process down."""
    gc.freeze()  # the interpreter need not look through all objects once more
    threading = sys.modules.get("threading")
    if threading is None or threading.active_count() == 1:
        return
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):
            stream.flush()
    os._exit(status)


def _run(arguments: list[str]) -> int:
    if not arguments and all(stream and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)):
        return int(importlib.import_module("logdoctor.cli.open").start())
    if not arguments or arguments[0] not in COMMANDS:
        _parser().parse_args(arguments or ["--help"])
        return Status.DONE
    gc.set_threshold(OBJECTS_BETWEEN_COLLECTIONS, 20, 20)
    module = importlib.import_module(f"logdoctor.cli.{arguments[0]}")
    status = int(module.run(arguments[1:]))
    sys.stdout.flush()
    return status


def _parser() -> argparse.ArgumentParser:
    listing = "\n".join(f"  {name:<12}{what}" for name, what in COMMANDS.items())
    parser = argparse.ArgumentParser(
        prog="logdoctor",
        description="Reads the log of a failed build and says what stopped it, why, and what to change.",
        epilog=f"commands:\n{listing}\n\nexample:\n  logdoctor diagnose build.log\n\n'logdoctor COMMAND --help' tells more.",
        formatter_class=HelpText,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="print the version and exit")
    parser.add_argument("command", metavar="COMMAND", choices=sorted(COMMANDS))
    return parser


class _Version(argparse.Action):
    """Looks the version up only when it is asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print(f"logdoctor {version('logdoctor')}")
        parser.exit()


def _occupy_closed_streams() -> None:
    """What is opened later must not become a standard stream that the caller has closed."""
    if sys.stdin is None or sys.stdout is None or sys.stderr is None:
        while (descriptor := os.open(os.devnull, os.O_RDWR)) <= HIGHEST_STREAM:
            pass
        os.close(descriptor)
        sys.stdout = sys.stdout or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123 - for the whole run
        sys.stderr = sys.stderr or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123 - for the whole run


def _forget_stdout() -> None:
    """Keep the interpreter from complaining about the closed pipe when it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
