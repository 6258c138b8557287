"""Job and day of a run from the names of its file and folders; forms are common practice, no source."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from pathlib import PurePath

__all__ = ["day_in", "job_from_name", "job_in_folder"]

_DAY = re.compile(r"(?<!\d)(?P<year>(?:19|20)\d\d)(?P<mark>[-_.]?)(?P<month>[01]\d)(?P=mark)(?P<day>[0-3]\d)(?!\d{3})")
_EPOCH = re.compile(r"(?<!\d)(?P<seconds>1[0-9]{9})(?:\d{3})?(?!\d)")
_PACKED = re.compile(r"(?:\.(?:log|txt|out|console|gz|xz|zst|zip|tar|tgz))+$", re.IGNORECASE)
_NUMBER = re.compile(
    r"(?:(?:[-_# ]|(?<!\d)\.)(?:(?:build|run|job|no|nr)[-_.# ]?)?#?|^#?)\d+$|^(?:(?:build|run|job)[-_.# ]?)?#?\d+(?:[-_ #]|\.(?!\d))",
    re.IGNORECASE,
)
"""A run's number, at the end or the beginning; the number of a release such as 4.6 stays."""
_HASH = re.compile(r"(?:[-_.]|^)(?=[a-f]*\d)[0-9a-f]{7,40}(?=[-_.]|$)")
_EDGES = " -_.#@"
_GENERIC = frozenset(
    (
        *(
            "log",
            "logs",
            "console",
            "consoletext",
            "consolefull",
            "console-output",
            "output",
            "out",
            "stdout",
            "stderr",
        ),
        *(
            "build",
            "builds",
            "job",
            "jobs",
            "run",
            "runs",
            "raw",
            "archive",
            "archived",
            "failed",
            "failure",
            "success",
        ),
        *("result", "results", "full", "text", "step", "steps", "workspace", "ci", "pipeline", "attempt", ""),
    )
)
_STATES = re.compile(
    r"[-_.](?:failed|failure|success|succeeded|ok|aborted|unstable|console|log|build|run|output)$", re.IGNORECASE
)


def day_in(text: str) -> str:
    """The day that a name holds, as YYYY-MM-DD, or an empty text."""
    for found in _DAY.finditer(text):
        try:
            return date(int(found["year"]), int(found["month"]), int(found["day"])).isoformat()
        except ValueError:
            continue
    epoch = _EPOCH.search(text)
    return datetime.fromtimestamp(int(epoch["seconds"]), UTC).date().isoformat() if epoch else ""


def job_from_name(name: str) -> str:
    """What is left of a file's name without day, time, run number and ending; empty where that is no name of a job."""
    stem = _PACKED.sub("", name)
    bare = _DAY.sub("\0", _EPOCH.sub("\0", stem))
    if "\0" in bare:
        bare = re.sub(r"\0(?:[T_ -]?\d{2}[-_:.h]?\d{2}(?:[-_:.m]?\d{2}s?)?Z?(?![\d.]))?", "", bare)
    bare = _HASH.sub("", bare).strip(_EDGES)
    while (shorter := _STATES.sub("", _NUMBER.sub("", bare)).strip(_EDGES)) != bare:
        bare = shorter
    return "" if bare.lower() in _GENERIC else bare


def job_in_folder(path: str) -> str:
    """The nearest folder whose name can be that of a job."""
    for part in reversed(PurePath(path).parent.parts):
        if part not in ("/", ".", "..") and (job := job_from_name(part)):
            return job
    return ""
