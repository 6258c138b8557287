"""An internal fault: one line for the person, a report file for whoever mends it."""

from __future__ import annotations

import platform
import sys
import tempfile
import traceback

__all__ = ["report_fault"]


def report_fault(fault: BaseException) -> None:
    """Write the report (masked, without any line of the log) and name it on standard error."""
    from logdoctor.masking import mask

    kind = type(fault).__name__
    try:
        frames = "".join(traceback.format_tb(fault.__traceback__))
        with tempfile.NamedTemporaryFile(
            "w", prefix="logdoctor-fault-", suffix=".txt", delete=False, encoding="utf-8"
        ) as out:
            out.write(f"Python {platform.python_version()} on {platform.platform()}\n\n{mask(frames)}{kind}\n")
        where = f"; a report is in {out.name}"
    except OSError:
        where = ""
    print(f"logdoctor: internal fault ({kind}){where}", file=sys.stderr)
