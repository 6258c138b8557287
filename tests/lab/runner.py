"""Runs one command in a temporary world laid out like a build agent's disk.

The world's folders carry the names that the fixtures show (``home/ci/agent/work/fares`` and so on), so that
cutting the world's own path off a log gives paths as an agent would print them.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

__all__ = ["Run", "World", "run", "temporary_world"]

_KEPT = ("PATH", "SSL_CERT_FILE", "SSL_CERT_DIR")


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What one command printed (standard output and error in order) and how it ended."""

    output: str
    status: int
    """Exit status; negative: the signal that ended it, as `subprocess` counts."""
    seconds: float
    timed_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """The folders of one scenario."""

    base: Path

    @property
    def home(self) -> Path:
        """Home folder of the build's account, ``/home/ci`` in the fixtures."""
        return self.base / "home" / "ci"

    @property
    def project(self) -> Path:
        """The build's working directory, ``/home/ci/agent/work/fares`` in the fixtures."""
        return self.home / "agent" / "work" / "fares"

    @property
    def temp(self) -> Path:
        """Temporary folder handed to the command."""
        return self.home / "agent" / "temp"

    def write(self, name: str, text: str | bytes, *, mode: int = 0o644) -> Path:
        """Write a file of the project (an absolute name is taken below the world's base)."""
        target = self.base / name.lstrip("/") if name.startswith("/") else self.project / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(text.encode() if isinstance(text, str) else text)
        target.chmod(mode)
        return target

    def environment(self, extra: Mapping[str, str] | None = None) -> dict[str, str]:
        """A small environment of an agent's account: nothing of the caller's but PATH and trust stores."""
        env = {name: os.environ[name] for name in _KEPT if name in os.environ}
        env |= {"HOME": str(self.home), "USER": "ci", "LOGNAME": "ci", "LANG": "C.UTF-8", "TZ": "UTC"}
        env |= {"TMPDIR": str(self.temp), "CI": "true"}
        return env | dict(extra or {})


@contextlib.contextmanager
def temporary_world() -> Iterator[World]:
    """Make a world and remove it afterwards."""
    base = Path(tempfile.mkdtemp(prefix="lab-"))
    world = World(base=base)
    world.project.mkdir(parents=True)
    world.temp.mkdir(parents=True)
    try:
        yield world
    finally:
        shutil.rmtree(base, ignore_errors=True)


def run(
    command: Sequence[str], world: World, env: Mapping[str, str], *, cwd: Path | None = None, timeout: float = 180
) -> Run:
    """Run a command without standard input; both output streams go through one pipe, so they stay in order."""
    started = time.monotonic()
    process = subprocess.Popen(
        list(command),
        cwd=cwd or world.project,
        env=dict(env),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        start_new_session=True,
    )
    timed_out = False
    try:
        raw, _ = process.communicate(timeout=timeout)
    except subprocess.TimeoutExpired:
        timed_out = True
        os.killpg(process.pid, signal.SIGKILL)
        raw, _ = process.communicate()
    return Run(
        output=raw.decode("utf-8", errors="replace"),
        status=process.returncode,
        seconds=time.monotonic() - started,
        timed_out=timed_out,
    )
