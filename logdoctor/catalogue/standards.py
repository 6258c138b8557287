"""Claims that a standard defines, held against the standard.

HTTP statuses: RFC 9110 and the IANA registry, as in ``http.HTTPStatus``. Exit statuses 126, 127 and 128 + signal: POSIX shell
(XCU 2.8.2). Signals and error numbers: POSIX, as in ``signal`` and ``errno``. Class-file versions: JVM Specification, section 4.1.
"""

from __future__ import annotations

import errno
import signal
from http import HTTPStatus
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from logdoctor.model import Failure

__all__ = ["standard_problems"]

FIRST_RELEASE_BY_FORMULA = 5
OFFSET = 44


def standard_problems(failure: Failure) -> Iterator[tuple[str, str]]:
    """Key path and problem of every claim that its standard contradicts."""
    claims = failure.standard
    known: dict[str, tuple[Callable[[object], bool], str]] = {
        "http_status": (lambda value: value in set(HTTPStatus), "is not a registered status"),
        "exit_status": (lambda value: isinstance(value, int) and 0 < value < 256, "is not an exit status"),
        "signal": (lambda value: value in signal.Signals.__members__, "is not a signal"),
        "errno": (lambda value: value in errno.errorcode.values(), "is not an error number"),
    }
    for key, (holds, problem) in known.items():
        yield from (
            (f"$.standard.{key}", f"{value} {problem}") for value in _values(claims.get(key)) if not holds(value)
        )
    versions = claims.get("class_file_version")
    for release, version in versions.items() if isinstance(versions, dict) else ():
        low, high = sorted((int(float(release)), int(version)))
        if low >= FIRST_RELEASE_BY_FORMULA and high != low + OFFSET:
            yield "$.standard.class_file_version", f"version {high} is not that of Java {low}"


def _values(claim: object) -> list[object]:
    return claim if isinstance(claim, list) else [] if claim is None else [claim]
