"""Set-up files named on a command line, as a witness of the diagnosis: for all commands that take them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping

    from logdoctor.model import FactValue

    Witness = Callable[[Mapping[str, FactValue]], Mapping[str, FactValue]]

__all__ = ["add_witness_options", "call_witness_of"]


def add_witness_options(made: argparse.ArgumentParser) -> None:
    """The options."""
    group = made.add_argument_group("set-up files", "as the agent had them; they help to tell the causes apart")
    group.add_argument("--settings", metavar="FILE", help="Maven's settings file")
    group.add_argument(
        "--build-file",
        action="append",
        default=[],
        metavar="FILE",
        help="a build file (pom.xml, package.json, build.gradle, pyproject.toml, …); may be repeated",
    )
    group.add_argument("--toolchains", metavar="FILE", help="Maven's toolchains file")
    group.add_argument("--env-file", metavar="FILE", help="the output of env, as run on the agent")


def call_witness_of(options: argparse.Namespace) -> tuple[Witness | None, str | None]:
    """The witness, None where no file was named, and what is to be said of the files.

    Raises InputError where one can't be read.
    """
    if not (options.settings or options.build_file or options.toolchains or options.env_file):
        return None, None
    from logdoctor.setup_files.witness import call_witness

    witness = call_witness(
        settings=_path(options.settings),
        builds=[Path(name) for name in options.build_file],
        toolchains=_path(options.toolchains),
        env_file=_path(options.env_file),
    )
    wrong = [remark for remark in witness.setup().remarks if remark.severity == "error"]
    said = f"the set-up files hold {len(wrong)} things that can't work; logdoctor checkup lists them" if wrong else None
    return witness.testify, said


def _path(name: str | None) -> Path | None:
    return Path(name) if name else None
