"""The command run as people run it: a process of its own, with its peak memory, limits and surroundings."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.support import ROOT

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

__all__ = ["Ran", "environment", "logdoctor", "measured"]

# A small process between: a child's peak counts the memory of the process it was forked from, and pytest is large.
BETWEEN = """
import json, resource, subprocess, sys
done = subprocess.run(sys.argv[2:], stdin=open(sys.argv[1], "rb"), capture_output=True)
peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
print(json.dumps([done.returncode, peak, done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace")]))
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """How a command ended and what it wrote; `peak` is its memory in MiB where it was measured."""

    status: int
    out: str
    err: str
    peak: float = 0.0


def environment(folder: Path, **changes: str | None) -> dict[str, str]:
    """An environment whose home and temporary files lie in one folder, the cache beside it; None takes a variable out."""
    kept = {name: os.environ[name] for name in ("PATH", "LD_LIBRARY_PATH", "SYSTEMROOT") if name in os.environ}
    # No byte code: where a disk is full by decree, it would be cut, and stay so.
    made: dict[str, str | None] = {
        "HOME": str(folder),
        "PYTHONPATH": str(ROOT),
        "TMPDIR": str(folder),
        "LC_ALL": "C.UTF-8",
        "PYTHONDONTWRITEBYTECODE": "1",
        "XDG_CACHE_HOME": str(folder.parent / "cache"),
    }
    return {name: value for name, value in {**kept, **made, **changes}.items() if value is not None}


def logdoctor(
    *arguments: str,
    env: Mapping[str, str],
    stdin: bytes = b"",
    cwd: Path | None = None,
    before: str = "",
    seconds: float = 60,
) -> Ran:
    """Run the command; `before` is Python that is run in its process first."""
    code = f"import sys\n{before}\nfrom logdoctor.cli import main\nsys.exit(main())"
    command = [sys.executable, "-c", code, *arguments]
    done = subprocess.run(
        command, input=stdin, env=dict(env), cwd=cwd, capture_output=True, timeout=seconds, check=False
    )
    return Ran(status=done.returncode, out=done.stdout.decode("utf-8"), err=done.stderr.decode("utf-8"))


def measured(
    arguments: Sequence[str], *, env: Mapping[str, str], stdin: Path | None = None, seconds: float = 120
) -> Ran:
    """Run the command and measure its peak memory."""
    command = [sys.executable, "-c", BETWEEN, str(stdin or os.devnull), sys.executable, "-m", "logdoctor", *arguments]
    done = subprocess.run(command, env=dict(env), capture_output=True, timeout=seconds, check=True)
    status, peak, out, err = json.loads(done.stdout)
    unit = 1 << 20 if sys.platform == "darwin" else 1 << 10  # getrusage counts bytes there, kilobytes elsewhere
    return Ran(status=status, out=out, err=err, peak=peak / unit)
