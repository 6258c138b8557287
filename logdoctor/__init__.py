"""Reads the console log of a failed build and says what stopped it, why, and what to change.

For programs: `logdoctor.diagnose(log)` gives a `Verdict`, `logdoctor.report(verdict, "markdown")` its text. Every name
below is loaded when it is first used, so that ``import logdoctor`` costs next to nothing. Line numbers are 1-based and
count as ``grep -n`` counts, `seconds` are seconds, a `share` is a part of 1. Wrong input raises `InputError`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from logdoctor.api import diagnose, load_catalogue, report
    from logdoctor.catalogue import Catalogue, Problem
    from logdoctor.errors import InputError, LogdoctorError
    from logdoctor.model import (
        PHASES,
        Cause,
        Check,
        Elsewhere,
        Evidence,
        ExposedSecret,
        Failure,
        Finding,
        Item,
        Nearest,
        NextCheck,
        Part,
        RankedCause,
        Segment,
        Source,
        SpokenClue,
        Verdict,
        WorthReading,
    )
    from logdoctor.reports.formats import FORMATS

    __version__: str

__all__ = [
    "FORMATS",
    "PHASES",
    "Catalogue",
    "Cause",
    "Check",
    "Elsewhere",
    "Evidence",
    "ExposedSecret",
    "Failure",
    "Finding",
    "InputError",
    "Item",
    "LogdoctorError",
    "Nearest",
    "NextCheck",
    "Part",
    "Problem",
    "RankedCause",
    "Segment",
    "Source",
    "SpokenClue",
    "Verdict",
    "WorthReading",
    "__version__",
    "diagnose",
    "load_catalogue",
    "report",
]

_ELSEWHERE = {
    "diagnose": "logdoctor.api",
    "load_catalogue": "logdoctor.api",
    "report": "logdoctor.api",
    "Catalogue": "logdoctor.catalogue",
    "Problem": "logdoctor.catalogue",
    "InputError": "logdoctor.errors",
    "LogdoctorError": "logdoctor.errors",
    "FORMATS": "logdoctor.reports.formats",
}
"""Where a public name is made; all others are values of the model."""


if not TYPE_CHECKING:  # a checker takes the names above; one that is not there is its error, too

    def __getattr__(name: str) -> object:
        if name not in __all__:
            raise AttributeError(f"module 'logdoctor' has no attribute {name!r}")
        if name == "__version__":
            from importlib.metadata import PackageNotFoundError, version

            try:
                found: object = version("logdoctor")
            except PackageNotFoundError:  # a source tree that is not installed
                found = "0+unknown"
        else:
            from importlib import import_module

            found = getattr(import_module(_ELSEWHERE.get(name, "logdoctor.model")), name)
        globals()[name] = found  # the next use asks no more
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
