"""The options that several commands share: which job a log is of, and where the history lies.

What no option tells is taken from the environment, by the names that the user's configuration file gives:
`~/.config/logdoctor/config.toml` (or below XDG_CONFIG_HOME) with a table such as

    [job]
    job = "JOB_NAME"
    run = ["RUN_ID", "BUILD_NUMBER"]
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping

    from logdoctor.memory.history import History, Job, Place

__all__ = ["add_history_options", "add_job_options", "history_of", "job_of", "place_asked"]

KEYS = ("job", "run", "branch", "commit", "agent")
_HELP = {
    "job": "the job's name",
    "run": "the run's number or id; the same run counts once",
    "branch": "the branch that was built",
    "commit": "the revision that was built",
    "agent": "the agent's name (else as the log tells it)",
}


def add_job_options(parser: argparse.ArgumentParser) -> None:
    """``--job --run --branch --commit --agent``."""
    group = parser.add_argument_group(
        "job",
        "whose log it is, for the history; the table [job] of ~/.config/logdoctor/config.toml may name the environment "
        'variables that tell it, such as run = "RUN_ID"',
    )
    for key in KEYS:
        group.add_argument(f"--{key}", metavar=key.upper(), help=_HELP[key])


def add_history_options(parser: argparse.ArgumentParser, *, may_go_without: bool = True) -> None:
    """``--history FILE`` and ``--no-history``."""
    parser.add_argument(
        "--history",
        metavar="FILE",
        help="the history's file, or a postgresql:// address (default: $LOGDOCTOR_HISTORY, else in the user's data folder)",
    )
    if may_go_without:
        parser.add_argument("--no-history", action="store_true", help="neither ask the history nor add to it")


def place_asked(options: argparse.Namespace) -> Place | None:
    """Where the history lies; None where it is not wanted or has no place."""
    if getattr(options, "no_history", False):
        return None
    from logdoctor.memory.history.place import place_of

    return place_of(options.history)


def history_of(options: argparse.Namespace) -> History | None:
    """The history for a diagnosis; nothing is opened yet."""
    place = place_asked(options)
    if place is None:
        return None
    from logdoctor.memory.history.keeping import History

    return History(place)


def job_of(options: argparse.Namespace, say: Callable[[str], None], environ: Mapping[str, str] | None = None) -> Job:
    """The job's identity from the options, else from the environment; `say` gets one line where the file is no use."""
    from logdoctor.memory.history.model import Job

    environ = os.environ if environ is None else environ
    given = {key: getattr(options, key, None) or None for key in KEYS}
    if not all(given.values()):
        for key, names in _names(environ, say).items():
            given[key] = given[key] or next((environ[name] for name in names if environ.get(name)), None)
    return Job(**given)


def _names(environ: Mapping[str, str], say: Callable[[str], None]) -> dict[str, list[str]]:
    file = _config_file(environ)
    try:
        if file is None or not file.is_file():
            return {}
        import tomllib

        with file.open("rb") as read:
            table = tomllib.load(read).get("job", {})
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no TOML"
        say(f"{file}: not used, {why}")
        return {}
    if not isinstance(table, dict):
        say(f"{file}: not used, job is no table")
        return {}
    for key in table:
        if key not in KEYS:
            say(f"{file}: unknown key job.{key}; known are {', '.join(KEYS)}")
    return {key: _listed(table[key]) for key in KEYS if key in table}


def _listed(value: object) -> list[str]:
    return [name for name in (value if isinstance(value, list) else [value]) if isinstance(name, str)]


def _config_file(environ: Mapping[str, str]) -> Path | None:
    if base := environ.get("XDG_CONFIG_HOME"):
        return Path(base) / "logdoctor" / "config.toml"
    home = environ.get("HOME")
    return Path(home) / ".config" / "logdoctor" / "config.toml" if home else None
