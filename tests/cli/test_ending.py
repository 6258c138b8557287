"""How the process ends: beside a thread at work at once, as the interpreter's own end could cut it off within native code."""

from __future__ import annotations

import subprocess
import sys

import pytest

PROGRAM = """
import atexit, sys, threading
from logdoctor.cli import main
atexit.register(print, "ended by the interpreter")
if {busy}:
    threading.Thread(target=threading.Event().wait, daemon=True).start()
sys.argv = ["logdoctor", {argument!r}]
raise SystemExit(main())
"""


@pytest.mark.parametrize("busy", [False, True])
@pytest.mark.parametrize(("argument", "status"), [("--help", 0), ("no-such-command", 2)])
def test_status_and_output_are_whole_with_and_without_a_thread_at_work(
    argument: str, status: int, *, busy: bool
) -> None:
    program = PROGRAM.format(busy=busy, argument=argument)
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == status
    assert ("logdoctor" in done.stdout + done.stderr) is True
    assert ("ended by the interpreter" in done.stdout) is not busy
