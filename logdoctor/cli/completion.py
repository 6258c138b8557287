"""``logdoctor completion``: the script by which a shell completes the commands and their options."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module
from typing import TYPE_CHECKING, cast

from logdoctor.cli.status import Status

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

__all__ = ["every_parser", "parser_of", "run"]

SHELLS = ("bash", "zsh", "fish")
APART = {"diagnose": "logdoctor.cli.diagnose_options:parser"}
"""Commands whose parser is made outside their module."""
FILES = frozenset(["FILE", "LOG", "INPUT", "OLD", "NEW", "WHERE", "NAME[=FILE]"])
FOLDERS = frozenset(["DIR", "FOLDER"])


def run(arguments: Sequence[str]) -> int:
    """Print the script for one shell; return the exit status."""
    options = _parser().parse_args(arguments)
    import shtab

    sys.stdout.write(shtab.complete(every_parser(), shell=options.shell).rstrip("\n") + "\n")
    return Status.DONE


def parser_of(command: str) -> argparse.ArgumentParser:
    """The parser of one command; its module is loaded."""
    module, _, name = APART.get(command, f"logdoctor.cli.{command}:_parser").partition(":")
    make = cast("Callable[[], argparse.ArgumentParser]", getattr(import_module(module), name))
    return make()


def every_parser() -> argparse.ArgumentParser:
    """One parser of all commands: for completion, not for parsing."""
    from logdoctor.cli.main import COMMANDS

    whole = argparse.ArgumentParser(prog="logdoctor", allow_abbrev=False)
    whole.add_argument("--version", action="version", version="", help="print the version and exit")
    commands = whole.add_subparsers(metavar="COMMAND", dest="command")
    for name, what in COMMANDS.items():
        # run passes on the options of diagnose.
        parents = [parser_of(name), *([parser_of("diagnose")] if name == "run" else [])]
        made = commands.add_parser(name, help=what, parents=parents, add_help=False, conflict_handler="resolve")
        for action in made._actions:  # noqa: SLF001 - argparse tells its options in no other way
            _complete_values(action)
    return whole


def _complete_values(action: argparse.Action) -> None:
    import shtab

    from logdoctor.reports.formats import FORMATS

    if action.choices is not None:
        return
    if action.metavar == "NAME[=FILE]":
        action.choices = FORMATS
    elif action.metavar in FILES:
        action.complete = shtab.FILE  # type: ignore[attr-defined]
    elif action.metavar in FOLDERS:
        action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor completion",
        description="Print the script by which a shell completes logdoctor's commands and options.",
        epilog=(
            "examples:\n"
            "  logdoctor completion bash > ~/.local/share/bash-completion/completions/logdoctor\n"
            "  logdoctor completion zsh > ~/.zfunc/_logdoctor     # a folder that is in $fpath\n"
            "  logdoctor completion fish > ~/.config/fish/completions/logdoctor.fish"
        ),
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("shell", choices=SHELLS, metavar="SHELL", help=f"the shell: {', '.join(SHELLS)}")
    return parser
