"""The way in for programs and for the commands: a log in, a verdict out; a diagnoser that also looks for exposed secrets.

Programs use the names that ``import logdoctor`` offers; nothing here opens a network connection.
"""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING

from logdoctor.diagnosis import Diagnoser
from logdoctor.masking import LITERALS, URL_SECRET, looks_secret
from logdoctor.scan import Watch

if TYPE_CHECKING:
    import os
    from collections.abc import Mapping, Sequence
    from typing import BinaryIO

    from logdoctor.catalogue import Catalogue
    from logdoctor.model import Verdict
    from logdoctor.setup_files.witness import Witness

    Path = str | os.PathLike[str]

__all__ = ["SECRETS", "diagnose", "load_catalogue", "report", "standard_diagnoser"]

SECRETS = Watch(see=looks_secret, literals=LITERALS, pattern=URL_SECRET)
KEPT_READY = 4


def standard_diagnoser(catalogue: Catalogue) -> Diagnoser:
    """A diagnoser over a catalogue that notes where the log shows a secret."""
    return Diagnoser(catalogue, SECRETS)


def diagnose(  # noqa: PLR0913 - all but the log are optional and keyword-only
    source: Path | bytes | BinaryIO,
    *,
    name: str | None = None,
    settings: Path | None = None,
    build_files: Sequence[Path] = (),
    toolchains: Path | None = None,
    env_file: Path | None = None,
    answers: Mapping[str, bool] | None = None,
    exit_status: int | None = None,
    catalogue: Catalogue | None = None,
) -> Verdict:
    """Read one log and explain it.

    Args:
        source: a path (a log, plain, .gz, .xz or .zst; a folder or archive of one build's step logs; `-` is standard
            input), the log's content as bytes, or a file opened in binary mode, which is read to its end and left open.
        name: what the log is called in the verdict; by default its path.
        settings: Maven's settings file, as the agent had it; like the next three it helps to tell the causes apart.
        build_files: build files (pom.xml, package.json, build.gradle, pyproject.toml, ...).
        toolchains: Maven's toolchains file.
        env_file: a file with the output of `env`, as run on the agent.
        answers: answers to checks, by the check's id; True is yes. One that is of no use is told in `Verdict.notices`.
        exit_status: how the command ended, where it is known; with any but 0 the build failed, whatever the log says.
        catalogue: the known failures, from `load_catalogue`; without it the usual ones, loaded once for the process.

    Returns:
        The verdict. Its texts are safe to show: secrets are masked, control characters replaced, each is 2,000
        characters at most. An empty log is outcome "unknown"; a log that nothing explains has root None, or a root
        whose failure is a stand-in, and `worth_reading` names the lines to begin with.

    Raises:
        InputError: the log or one of the set-up files can't be read; its text is one line: what, why, what to do.
        TypeError: the file is opened in text mode.
    """
    from logdoctor.intake import open_log
    from logdoctor.reports.redaction import Redactor

    if isinstance(source, io.TextIOBase):
        raise TypeError("the log is opened in text mode; open it in binary mode, or give its path")
    witness = _witness(settings, build_files, toolchains, env_file)
    diagnoser = _usual() if catalogue is None else _ready(catalogue)
    with open_log(source, name=name) as log:
        verdict = diagnoser.diagnose(
            log, answers=answers, witness=witness.testify if witness else None, exit_status=exit_status
        )
    return Redactor(()).verdict(verdict)  # no names are replaced: every text passes the gate, and that is all


def report(verdict: Verdict, form: str = "text", *, log_url: str | None = None) -> str:
    """A verdict as text in one of `FORMATS`, secrets masked, without a line end at its end.

    `log_url` is the address of the log, with `{line}` where the line's number goes. Raises ValueError for a format that
    is not there.
    """
    from logdoctor.reports.formats import FORMATS, Beside, render

    if form not in FORMATS:
        raise ValueError(f"no format {form!r}; there are {', '.join(FORMATS)}")
    return render(form, verdict, Beside(log_url=log_url))


def load_catalogue(*, project: Path | None = None) -> Catalogue:
    """The known failures: those built in and the user's own, as the commands read them.

    `project` is a work tree whose `.logdoctor/` folder is read as well; name only one that you trust. A wrong entry is
    left out and told in `Catalogue.problems`, and so is a LOGDOCTOR_KNOWLEDGE file that is no use.
    """
    from pathlib import Path as RealPath

    from logdoctor.catalogue import load_catalogue as load

    return load(project=RealPath(project) if project is not None else None)


@lru_cache(maxsize=1)
def _usual() -> Diagnoser:
    return standard_diagnoser(load_catalogue())


@lru_cache(maxsize=KEPT_READY)
def _ready(catalogue: Catalogue) -> Diagnoser:
    """Rules are prepared once for each catalogue."""
    return standard_diagnoser(catalogue)


def _witness(
    settings: Path | None, build_files: Sequence[Path], toolchains: Path | None, env_file: Path | None
) -> Witness | None:
    if not (settings or build_files or toolchains or env_file):
        return None
    from pathlib import Path as RealPath

    from logdoctor.setup_files.witness import call_witness

    one, two, three = (RealPath(path) if path else None for path in (settings, toolchains, env_file))
    return call_witness(settings=one, builds=[RealPath(path) for path in build_files], toolchains=two, env_file=three)
