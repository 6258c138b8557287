"""``logdoctor checkup``: set-up files in, routes and remarks out; no log needed."""

from __future__ import annotations

import argparse
import os
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.cli.status import Status
from logdoctor.errors import InputError
from logdoctor.setup_files import Remark, Setup
from logdoctor.setup_files.environment import Environment, check_environment, read_environment
from logdoctor.setup_files.finding import Found, classify, find, given
from logdoctor.setup_files.work_tree import WorkTree

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from logdoctor.reports.checkup import Checkup, Part

__all__ = ["run"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Inputs:
    """What is to be checked."""

    found: Found
    tree: WorkTree
    environment: Environment | None
    this_machine: bool
    with_scripts: bool

    @property
    def variables(self) -> Mapping[str, str] | None:
        return self.environment.values if self.environment else None


def run(arguments: Sequence[str]) -> int:
    """Check the set-up; return the exit status."""
    options = _parser().parse_args(arguments)
    try:
        checkup = _checkup(_inputs(options))
    except InputError as problem:
        _say(str(problem))
        return Status.UNUSABLE
    _write(checkup, options.format)
    return Status.REMARKS if checkup.counts["error"] else Status.DONE


def _inputs(options: argparse.Namespace) -> _Inputs:
    for path in (options.settings, options.toolchains, *options.build_file):
        if path is not None and not Path(path).is_file():
            raise InputError(str(path), "no such file", "name a set-up file that is there")
    builds = [Path(path) for path in options.build_file]
    for path in builds:
        if classify(path) is None:
            mend = "name a pom.xml, package.json, build.gradle, pyproject.toml or the like"
            raise InputError(str(path), "not a build file known here", mend)
    folder = _folder(options)
    found = _found(folder, builds)
    if options.settings:
        found = replace(found, settings=Path(options.settings))
    if options.toolchains:
        found = replace(found, toolchains=Path(options.toolchains))
    environment = _environment(options)
    if not found.files and found.settings is None and environment is None:
        raise InputError(str(folder), "no set-up file in the usual places", "name one with --build-file or --settings")
    tree = WorkTree.of(folder or builds[0].parent)
    return _Inputs(
        found=found,
        tree=tree,
        environment=environment,
        this_machine=options.this_machine,
        with_scripts=folder is not None,
    )


def _folder(options: argparse.Namespace) -> Path | None:
    """The work tree; None where only single files are to be checked."""
    if options.folder is None and options.build_file:
        return None
    folder = Path(options.folder or ".")
    if not folder.is_dir():
        raise InputError(str(folder), "no such folder", "name the work tree to check")
    return folder


def _found(folder: Path | None, builds: Sequence[Path]) -> Found:
    home = _home()
    named = given(builds, home) if builds else Found()
    if folder is None:
        return named
    found = find(folder, home)
    # A build file that is named stands in the place of those of its kind that were found.
    return Found(
        settings=found.settings or named.settings,
        toolchains=found.toolchains or named.toolchains,
        files={**found.files, **named.files},
    )


def _home() -> Path | None:
    try:
        return Path.home()
    except RuntimeError:
        return None


def _environment(options: argparse.Namespace) -> Environment | None:
    if options.env_file is None:
        return Environment(values=dict(os.environ), lines={}) if options.this_machine else None
    read = read_environment(Path(options.env_file))
    if isinstance(read, Remark):
        problem = (
            read.what.removeprefix(f"The file {options.env_file} ").removeprefix(f"{options.env_file} ").rstrip(".")
        )
        raise InputError(options.env_file, problem, f"{read.mend[0].lower()}{read.mend[1:].rstrip('.')}")
    return read


def _checkup(inputs: _Inputs) -> Checkup:
    from logdoctor.reports.checkup import Checkup, Part

    parts = [part for part in _tools(inputs) if part.files]
    environment = inputs.environment
    if environment is not None:
        setups = [(part.tool, part.setup) for part in parts]
        setup = check_environment(environment, this_machine=inputs.this_machine, setups=setups)
        files = (str(environment.text.path),) if environment.text else ("the environment of this machine",)
        parts.append(Part(tool="environment", files=files, setup=setup))
    if inputs.tree.folder is not None and (setup := _scripts(inputs.tree)) != Setup():
        parts.append(Part(tool="scripts", files=(), setup=setup))
    return Checkup(parts=tuple(parts))


def _scripts(tree: WorkTree) -> Setup:
    from logdoctor.setup_files.scripts import check_scripts

    return check_scripts(tree)


def _tools(inputs: _Inputs) -> Iterator[Part]:
    """The parts of the tools that have files here; each reader is loaded only for its files."""
    from logdoctor.reports.checkup import Part

    found = inputs.found
    settings = [path for path in (found.settings, found.toolchains) if path]
    if found.of("maven") or found.settings:
        files = _names([*settings, *found.of("maven")])
        yield Part(tool="maven", files=files, setup=_maven(inputs))
    if files := _names([*found.of("npmrc"), *found.of("package")]):
        from logdoctor.setup_files.npm import read_npm

        setup = read_npm(found.of("npmrc"), found.of("package"), tree=inputs.tree, environment=inputs.variables)
        yield Part(tool="npm", files=files, setup=setup)
    python = [path for kind in ("pip", "requirements", "pyproject", "pypirc") for path in found.files.get(kind, ())]
    if files := _names(python):
        from logdoctor.setup_files.pip import read_pip

        yield Part(tool="python", files=files, setup=read_pip(found, tree=inputs.tree, environment=inputs.variables))
    if files := _names(found.of("gradle")):
        from logdoctor.setup_files.gradle import read_gradle

        setup = read_gradle(found.of("gradle"), tree=inputs.tree, environment=inputs.variables)
        yield Part(tool="gradle", files=files, setup=setup)


def _maven(inputs: _Inputs) -> Setup:
    from logdoctor.setup_files.maven import read_maven

    found = inputs.found
    return read_maven(found.settings, found.of("maven"), found.toolchains, inputs.variables)


def _names(paths: Sequence[Path]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(str(path) for path in paths))


def _write(checkup: Checkup, form: str) -> None:
    from logdoctor.reports.checkup import checkup_json, checkup_text

    colour = sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    text = checkup_json(checkup) + "\n" if form == "json" else checkup_text(checkup, colour=colour)
    # Whatever the terminal's encoding, names of files must not end the report.
    encoding = sys.stdout.encoding or "utf-8"
    print(text.encode(encoding, "replace").decode(encoding), end="")


def _say(text: str) -> None:
    from logdoctor.intake import printable
    from logdoctor.masking import mask

    print(f"logdoctor: {printable(mask(text))}", file=sys.stderr)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor checkup",
        description="Check set-up files without a log: where each download and upload goes, and what can't work.",
        epilog="examples:\n  logdoctor checkup\n  logdoctor checkup --settings ci-settings.xml --build-file pom.xml --env-file agent.env",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("folder", nargs="?", metavar="FOLDER", help="the work tree to check (default: this folder)")
    parser.add_argument("--settings", metavar="FILE", help="Maven's settings file, instead of the one at home")
    parser.add_argument(
        "--build-file",
        action="append",
        default=[],
        metavar="FILE",
        help="a build file (pom.xml, package.json, build.gradle, pyproject.toml, …); may be repeated",
    )
    parser.add_argument("--toolchains", metavar="FILE", help="Maven's toolchains file, instead of the one at home")
    parser.add_argument("--env-file", metavar="FILE", help="the output of env, as run on the agent")
    parser.add_argument(
        "--this-machine",
        action="store_true",
        help="the environment is this machine's: look on its disk for JAVA_HOME; without --env-file, take it from here",
    )
    parser.add_argument("--format", choices=("text", "json"), default="text", help="what to print (default: text)")
    return parser
