"""One log to one row: the verdict in short, and when, where and for how long it ran."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Literal

from logdoctor.diagnosis.wording import normalized
from logdoctor.errors import InputError
from logdoctor.intake import LineReader, clean, open_log, printable
from logdoctor.masking import Masker
from logdoctor.memory.comparing.blocks import line_blocks
from logdoctor.memory.comparing.setup_seen import SetupSeen
from logdoctor.memory.survey.model import Row, TimeFrom
from logdoctor.memory.survey.naming import day_in, job_from_name, job_in_folder

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.diagnosis import Diagnoser
    from logdoctor.intake import Cleaned, Log
    from logdoctor.model import Verdict

__all__ = ["JobFrom", "read_row", "shown_name"]

JobFrom = Literal["auto", "name", "folder", "log"]
EDGE_LINES = 200
LONGEST_RUN = 14 * 86_400.0
DAY = 86_400.0
LONGEST_NAME = 120
LONGEST_TEXT = 500
ENOUGH_LETTERS = 8

_TOLD_DAY = re.compile(r"\b(?:Finished at|Started at|Finished on|Date)\b:? (?P<when>\d{4}-\d\d-\d\d)")
_SAYS_FAILED = "says that something failed"
# What many failed logs say whatever the failure.
_EVERYWHERE = re.compile(
    r"BUILD FAIL|[Bb]uild failed with|\bexit(?:ed)?(?: with)?(?: non-zero)? (?:code|status|value)|\bJob failed|\bFinished: |script returned"
    r"|[Cc]leaning up|Get more help|For more information|\bHelp \d|--stacktrace|-e switch|Uploading artifacts|\[Pipeline\]|What went wrong|[Rr]e-run|non-zero|command finished with error|\bexited \(?\d|See above",
)
# How long the run took, as the tool that ran last tells it.
_TOLD_TIME = (
    re.compile(
        r"\bTotal time: +(?:(?P<hours>\d+):(?=\d\d:\d\d (?:h|hour)))?(?P<minutes>\d+):(?P<seconds>\d\d(?:\.\d+)?)(?: (?P<unit>min|h)\w*)?"
    ),
    re.compile(r"\bTotal time: +(?:(?P<hours>\d+) hours? )?(?:(?P<minutes>\d+) min\w* )?(?P<seconds>\d+(?:\.\d+)?) ?s"),
    re.compile(
        r"\b(?:BUILD \w+ in|Done in|Finished in|Duration:?|Job (?:succeeded|finished) in|in total) +(?:(?P<hours>\d+) ?h\w* ?)?"
        r"(?:(?P<minutes>\d+) ?m(?:in\w*)? ?)?(?:(?P<seconds>\d+(?:\.\d+)?) ?s)?"
    ),
)


class _Gate:
    """What every text of a row passes: a row is what leaves the room."""

    def __init__(self, verdict: Verdict | None = None) -> None:
        self._masker = Masker()
        if verdict is not None:
            self._masker.learn_apart(verdict.log_texts)

    def text(self, text: str) -> str:
        """Masked, printable and not longer than a screen takes."""
        return printable(self._masker.mask(text))[:LONGEST_TEXT]


def shown_name(path: str, root: str) -> str:
    """What a log is called in a survey: its path below the folder, safe to show."""
    try:
        name = str(PurePath(path).relative_to(root)) if path != root else PurePath(path).name
    except ValueError:
        name = path
    return _Gate().text(name)


def read_row(path: str, root: str, diagnoser: Diagnoser, job_from: JobFrom) -> Row:
    """The row of one log; whatever goes wrong with it becomes the row's error."""
    shown = shown_name(path, root)
    try:
        with open_log(path) as log:
            return _row(path, root, log, diagnoser.diagnose(log), job_from)
    except InputError as error:
        return Row(name=shown, error=_Gate().text(f"{error.problem}; {error.mend}"))
    except Exception as fault:  # noqa: BLE001 - one bad log is one line, and the others still come
        return Row(name=shown, error=f"internal fault ({type(fault).__name__})")


def _row(path: str, root: str, log: Log, verdict: Verdict, job_from: JobFrom) -> Row:
    gate = _Gate(verdict)
    head, tail = _edges(log)
    seen = SetupSeen()
    seen.look(next(line_blocks(log), b""))
    day, time_from = _day(path, root, head, tail)
    unknown = verdict.outcome != "succeeded" and (verdict.root is None or verdict.root.failure.stand_in == "last")
    worth = _telling(verdict, gate) if unknown else []
    return Row(
        name=shown_name(path, root),
        job=gate.text(_job(path, root, seen, job_from))[:LONGEST_NAME],
        agent=gate.text(next(iter(seen.values.get(("agent", "agent"), ())), ""))[:LONGEST_NAME],
        day=day,
        time_from=time_from,
        seconds=_duration(head, tail),
        outcome=verdict.outcome,
        failure=str(verdict.root.failure.id) if verdict.root and not unknown else "",
        title=verdict.root.failure.title if verdict.root and not unknown else "",
        phase=verdict.root.struck_in if verdict.root else "",
        line=verdict.root.line if verdict.root else 0,
        unknown=unknown and verdict.outcome != "unknown",
        # Masked before it is normalized: a number taken out of a token would hide what it is from the gate.
        wordings=tuple(normalized(text) for text in worth),
        examples=tuple(worth),
    )


def _telling(verdict: Verdict, gate: _Gate) -> list[str]:
    """The lines worth reading that say something of their own; failing these, the first one."""
    own = [w for w in verdict.worth_reading if w.why == _SAYS_FAILED and not _EVERYWHERE.search(w.text)]
    chosen = [w for w in own if sum(map(str.isalpha, w.text)) >= ENOUGH_LETTERS] or verdict.worth_reading[:1]
    return [gate.text(w.text.strip()) for w in chosen]


def _edges(log: Log) -> tuple[list[Cleaned], list[Cleaned]]:
    """The first and the last lines, cleaned, with their stamps."""
    reader = LineReader(log)
    size = log.size
    if not size:
        return [], []
    head = [reader.line_at(0), *reader.after(0, EDGE_LINES)]
    tail = [*reader.before(size - 1, EDGE_LINES), reader.line_at(size - 1)]
    head_lines, tail_lines = ([clean(reader.text(*place)) for place in places] for places in (head, tail))
    return head_lines, tail_lines


def _job(path: str, root: str, seen: SetupSeen, job_from: JobFrom) -> str:
    below = _below(path, root)
    workspace = next(iter(seen.workspaces), "").replace("\\", "/").rstrip("/")
    ways = {
        "name": job_from_name(PurePath(path).name),
        "folder": job_in_folder(below) or job_in_folder(root + "/x"),
        "log": re.sub(r"@\d+$", "", workspace.rpartition("/")[2]),
    }
    if job_from != "auto":
        return ways[job_from]
    return ways["name"] or job_in_folder(below) or ways["log"] or ways["folder"]


def _below(path: str, root: str) -> str:
    try:
        return str(PurePath(path).relative_to(root))
    except ValueError:
        return path


def _day(path: str, root: str, head: Sequence[Cleaned], tail: Sequence[Cleaned]) -> tuple[str, TimeFrom]:
    if day := day_in(PurePath(path).name):
        return day, "file name"
    for part in reversed(PurePath(_below(path, root)).parent.parts):
        if day := day_in(part):
            return day, "folder"
    for line in (*head, *tail):
        if line.stamp is not None and line.stamp.kind == "date":
            with suppress(ValueError, OverflowError, OSError):  # a year that no calendar here has
                return datetime.fromtimestamp(line.stamp.seconds, UTC).date().isoformat(), "log"
    for line in (*tail, *head):
        if (told := _TOLD_DAY.search(line.text)) and (day := day_in(told["when"])):
            return day, "log"
    try:
        return datetime.fromtimestamp(Path(path).stat().st_mtime, UTC).date().isoformat(), "file date"
    except OSError:
        return "", "nowhere"


def _duration(head: Sequence[Cleaned], tail: Sequence[Cleaned]) -> float | None:
    """From the first stamp to the last one of the same clock, else as the tools tell it in the last lines."""
    first = next((line.stamp for line in head if line.stamp is not None), None)
    if first is not None:
        kind = first.kind
        last = next((ln.stamp for ln in reversed(tail) if ln.stamp is not None and ln.stamp.kind == kind), None)
        if last is not None:
            passed = last.seconds - first.seconds
            if passed < 0 and kind == "clock":
                passed += DAY
            if 0 < passed <= LONGEST_RUN:
                return round(passed, 1)
    told = [found for line in tail for found in _told_times(line.text)]
    return max(told, default=None)


def _told_times(text: str) -> Iterator[float]:
    for pattern in _TOLD_TIME:
        if found := pattern.search(text):
            parts = found.groupdict()
            if not any(parts.get(key) for key in ("hours", "minutes", "seconds")):
                continue
            hours, minutes, seconds = (float(parts.get(key) or 0) for key in ("hours", "minutes", "seconds"))
            if parts.get("unit") == "h" and not parts.get("hours"):
                hours, minutes, seconds = minutes, seconds, 0.0
            yield hours * 3600 + minutes * 60 + seconds
            return
