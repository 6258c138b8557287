"""Verdicts and runs of our own scenario that several tests use."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from logdoctor.memory.history.model import Run
from tests.support import verdict_of

if TYPE_CHECKING:
    from logdoctor.model import Verdict

NOON = 1_790_000_000.0
DAY = 86400.0
FORBIDDEN = (
    "[INFO] --- maven-deploy-plugin:3.1.1:deploy (default-deploy) @ fares ---\n"
    "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-deploy-plugin:3.1.1:deploy (default-deploy) on project "
    "fares: Failed to deploy artifacts: Could not transfer artifact example.brackwater:fares:jar:1.4 from/to releases "
    "(https://repo.brackwater.example/releases): status code: 403, reason phrase: Forbidden (403) -> [Help 1]\n"
    "[INFO] BUILD FAILURE\n"
)
REFUSED = (
    "+ git clone https://git.brackwater.example/fares.git\n"
    "fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\n"
)
GREEN = "[INFO] BUILD SUCCESS\n"


@cache
def verdict(text: str = REFUSED) -> Verdict:
    """The verdict of a log, made once."""
    return verdict_of(text)


def a_run(number: int, **changed: object) -> Run:
    """A failed run, an hour after the one before it."""
    told: dict[str, object] = {
        "id": f"run{number}",
        "at": NOON + number * 3600,
        "outcome": "failed",
        "fingerprint": "f00d",
        "failure": "deploy-forbidden",
        "title": "The repository refused the upload",
        "evidence": "status code: 403",
        "host": "repo.brackwater.example",
        "job": "fares",
        **changed,
    }
    return Run(**told)  # type: ignore[arg-type]
