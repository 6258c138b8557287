"""What several tests share: the built-in catalogue, loaded once, and verdicts of texts."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.api import standard_diagnoser
from logdoctor.catalogue import Catalogue, load_catalogue
from logdoctor.intake import open_log

if TYPE_CHECKING:
    from logdoctor.diagnosis import Diagnoser
    from logdoctor.model import Verdict

TESTS = Path(__file__).parent
ROOT = TESTS.parent
FIXTURES = TESTS / "fixtures"


@cache
def catalogue() -> Catalogue:
    """The built-in catalogue alone, whatever the machine's user has."""
    return load_catalogue(user=TESTS / "no-such-folder", built_in=ROOT / "knowledge")


@cache
def diagnoser() -> Diagnoser:
    """One diagnoser for all tests."""
    return standard_diagnoser(catalogue())


def verdict_of(text: str | bytes) -> Verdict:
    """The verdict of a log given as text."""
    data = text.encode() if isinstance(text, str) else text
    with open_log(data, name="test.log") as log:
        return diagnoser().diagnose(log)


def root_of(text: str | bytes) -> tuple[str, int] | None:
    """Failure id and line of the root, or None."""
    root = verdict_of(text).root
    return (str(root.failure.id), root.line) if root else None
