"""Everything that leaves the program for one log, as texts by the name of the way out."""

from __future__ import annotations

import html
from contextlib import closing
from pathlib import Path

import pytest

from logdoctor.cli import main
from logdoctor.intake import Log, open_log
from logdoctor.memory.history import History, Job, place_of
from logdoctor.reports.formats import FORMATS, Beside, render
from logdoctor.running.saving import MaskedCopy
from logdoctor.running.spool import Spool
from logdoctor.terminal.logpane.index import LineIndex
from logdoctor.terminal.logpane.texts import LineTexts
from tests.support import diagnoser

__all__ = ["command_exits", "exits", "pane_text", "saved_copy", "wrapped_log"]

AROUND = "[INFO] an ordinary line of a build log"
_ENDS = {
    "refused": (
        "+ git fetch origin",
        "fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'",
        "ERROR: the checkout did not work\nFinished: FAILURE",
    ),
    "unknown": (
        "+ ./sail --all",
        "bad moon rising: giving up",
        "ERROR: script returned exit code 3\nFinished: FAILURE",
    ),
    "deploy": (
        "[INFO] --- deploy:3.1.1:deploy (default-deploy) @ fares ---",
        (
            "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-deploy-plugin:3.1.1:deploy (default-deploy) on project "
            "fares: Failed to deploy artifacts: Could not transfer artifact example.brackwater:fares:jar:1.4 from/to releases "
            "(https://repo.brackwater.example/releases): status code: 403, reason phrase: Forbidden (403) -> [Help 1]"
        ),
        "[INFO] BUILD FAILURE\nFinished: FAILURE",
    ),
}


def wrapped_log(before: list[str], after: list[str], number: int, *, filler: int = 40) -> str:
    """A failed build with these lines right before and right behind the one that tells why."""
    start, telling, end = list(_ENDS.values())[number % len(_ENDS)]
    lines = [*[AROUND] * filler, start, *before, telling, *after, end]
    return "\n".join(lines) + "\n"


def exits(text: str, folder: Path) -> dict[str, str]:
    """The log's verdict in every format, the history's files, the log pane, and the copy that `run` saves."""
    data = text.encode("utf-8", "surrogatepass")
    told: dict[str, str] = {}
    with open_log(data, name="fares.log") as log:
        verdict = diagnoser().diagnose(log)
        for form in FORMATS:
            told[form] = render(form, verdict, Beside(colour=form == "text"), log=log)
        told["notices"] = "\n".join(verdict.notices)
        told["pane"] = pane_text(log, [secret.line for secret in verdict.exposed_secrets])
    place = place_of()
    assert place is not None
    assert place.file is not None
    assert History(place).remember(verdict, Job(job="fares", run=str(len(data))))
    files = [one for one in place.file.parent.rglob("*") if one.is_file()]
    assert files
    told["history"] = "\n".join(one.read_bytes().decode("latin-1") for one in files)
    for one in files:
        one.unlink()
    told["saved"] = saved_copy(data, folder / "saved.log")
    told["html as shown"] = html.unescape(told["html"])
    told["junit as shown"] = html.unescape(told["junit"])
    return told


def pane_text(log: Log, secrets: list[int]) -> str:
    """All lines of a log that was read to its end, as the terminal app shows them, asked for from the last to the first."""
    index = LineIndex(log)
    for _ in index.grow():
        pass
    texts = LineTexts(log, index, secrets)
    lines = [texts.line(number) for number in range(index.lines, 0, -1)]
    return "\n".join(f"{line.prefix}{line.text}" for line in reversed(lines))


def saved_copy(data: bytes, path: Path) -> str:
    """What `run --save` keeps of a command's output."""
    said: list[str] = []
    spool = Spool(said.append)
    with closing(spool):
        copy = MaskedCopy(str(path), spool, said.append)
        for place in range(0, len(data), 50_000):
            spool.keep(data[place : place + 50_000])
            copy.catch_up()
        copy.finish()
    assert said == []
    return path.read_bytes().decode("utf-8", "surrogateescape")


def command_exits(text: str, folder: Path, capfd: pytest.CaptureFixture[str]) -> dict[str, str]:
    """What further commands print for the log."""
    log, other = folder / "logs" / "fares-1.log", folder / "logs" / "fares-2.log"
    log.parent.mkdir()
    log.write_bytes(text.encode("utf-8", "surrogatepass"))
    other.write_text(f"{AROUND}\n[INFO] BUILD SUCCESS\n", encoding="utf-8")
    calls = {
        "survey": ["survey", "--logs", "--format", "json", str(log.parent)],
        "survey as a page": ["survey", "--format", "html", str(log.parent)],
        "compare": ["compare", str(other), str(log)],
        "compare as JSON": ["compare", "--format", "json", str(other), str(log)],
        "draft": ["draft", str(log)],
    }
    told: dict[str, str] = {}
    for name, call in calls.items():
        assert main(call) == 0, name
        out, err = capfd.readouterr()
        told[name] = out + err
    return told
