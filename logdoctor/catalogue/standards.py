"""Claims that a standard defines, held against the standard.

HTTP statuses: RFC 9110 and the IANA registry, as in ``http.HTTPStatus``. Exit statuses 126, 127 and 128 + signal: POSIX shell
(XCU 2.8.2). Signals and error numbers: POSIX, as in ``signal`` and ``errno``. Class-file versions: JVM Specification, section 4.1.
"""

from __future__ import annotations

import errno
import signal
from collections.abc import Iterator
from http import HTTPStatus

from logdoctor.model import Failure

__all__ = ["standard_problems"]

FIRST_RELEASE_BY_FORMULA = 5
OFFSET = 44


def standard_problems(failure: Failure) -> Iterator[tuple[str, str]]:
    """Key path and problem of every claim that its standard contradicts."""
    claims = failure.standard
    for status in _numbers(claims.get("http_status")):
        if status not in set(HTTPStatus):
            yield "$.standard.http_status", f"{status} is not a registered status"
    for status in _numbers(claims.get("exit_status")):
        if not 0 < status < 256:
            yield "$.standard.exit_status", f"{status} is not an exit status"
    for name in _texts(claims.get("signal")):
        if name not in signal.Signals.__members__:
            yield "$.standard.signal", f"{name} is not a signal"
    for name in _texts(claims.get("errno")):
        if name not in errno.errorcode.values():
            yield "$.standard.errno", f"{name} is not an error number"
    versions = claims.get("class_file_version")
    for release, version in versions.items() if isinstance(versions, dict) else ():
        low, high = sorted((int(float(release)), int(version)))
        if low >= FIRST_RELEASE_BY_FORMULA and high != low + OFFSET:
            yield "$.standard.class_file_version", f"version {high} is not that of Java {low}"


def _numbers(value: object) -> list[int]:
    values = value if isinstance(value, list) else [value]
    return [v for v in values if isinstance(v, int)]


def _texts(value: object) -> list[str]:
    values = value if isinstance(value, list) else [value]
    return [v for v in values if isinstance(v, str)]
