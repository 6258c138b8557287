"""What the tests of comparing share: texts compared, and logs of a small job that ends as told."""

from __future__ import annotations

from logdoctor.intake import open_log
from logdoctor.memory.comparing import Comparison, compare
from tests.support import ROOT, diagnoser

SAMPLES = ROOT / "sample_logs"


def compared(old: str | bytes, new: str | bytes) -> Comparison:
    """Two logs given as text, compared."""
    one, two = (text.encode() if isinstance(text, str) else text for text in (old, new))
    with open_log(one, name="old.log") as before, open_log(two, name="new.log") as after:
        return compare(before, after, diagnoser())


def sample(name: str) -> str:
    """A sample log as text."""
    return (SAMPLES / f"{name}.log").read_text(encoding="utf-8")


def first(comparison: Comparison) -> tuple[int | None, int | None] | None:
    """The line numbers of the first difference: in the old log, in the new one."""
    found = comparison.first
    return None if found is None else (found.old.line if found.old else None, found.new.line if found.new else None)
