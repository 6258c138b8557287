"""An interrupt ends every stage with status 130 and no traceback; standard input that never ends gets its verdict first."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from tests.hostile.commands import environment

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")

STEP = b"+ git fetch\nfatal: couldn't find remote ref main\n"
INTERRUPTED = 130
# The parent may ignore the signal, as shells do for what runs in the background; a person's shell does not.
START = "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
RUN = "from logdoctor.cli import main\nsys.exit(main())"
# Says when standard input is waited for, and when something came, so that the test need not guess.
WATCHED = """
import os
from logdoctor.cli import stopping
read = stopping._StoppableStream.read
def watched(self, size=-1):
    os.write(2, b"waiting\\n")
    data = read(self, size)
    os.write(2, b"came\\n")
    return data
stopping._StoppableStream.read = watched
"""


def started(code: str, *arguments: str, env: dict[str, str]) -> subprocess.Popen[bytes]:
    pipe = subprocess.PIPE
    return subprocess.Popen([sys.executable, "-c", code, *arguments], stdin=pipe, stdout=pipe, stderr=pipe, env=env)


def wait_for(said: bytes, child: subprocess.Popen[bytes]) -> None:
    assert child.stderr is not None
    for line in child.stderr:
        if line.strip() == said:
            return
    pytest.fail("it ended before that")


def test_input_that_never_ends_gets_the_verdict_so_far(tmp_path: Path) -> None:
    with started(START + WATCHED + RUN, "diagnose", env=environment(tmp_path)) as child:
        assert child.stdin is not None
        child.stdin.write(STEP)
        child.stdin.flush()
        wait_for(b"came", child)
        wait_for(b"waiting", child)
        time.sleep(0.1)
        child.send_signal(signal.SIGINT)
        out, err = (stream.read().decode() for stream in (child.stdout, child.stderr) if stream)
        assert child.wait(30) == INTERRUPTED
    assert "the branch, tag or ref asked for does not exist" in out
    assert "could not be read to its end" in err
    assert "Traceback" not in err


def test_input_that_floods_gets_the_verdict_so_far(tmp_path: Path) -> None:
    flood = f"""
import os
try:
    os.write(1, {STEP!r})
    while True: os.write(1, b'berths are free\\n' * 4096)
except BrokenPipeError: pass
"""
    with subprocess.Popen([sys.executable, "-c", flood], stdout=subprocess.PIPE) as source:
        command = [sys.executable, "-c", START + WATCHED + RUN, "diagnose"]
        pipe = subprocess.PIPE
        with subprocess.Popen(
            command, stdin=source.stdout, stdout=pipe, stderr=pipe, env=environment(tmp_path)
        ) as child:
            assert source.stdout is not None
            source.stdout.close()
            for _ in range(20):
                wait_for(b"came", child)
            child.send_signal(signal.SIGINT)
            out, err = child.communicate(timeout=60)
        source.wait(30)
    assert child.returncode == INTERRUPTED
    assert b"the branch, tag or ref asked for does not exist" in out
    assert b"Traceback" not in err


def test_interrupt_before_anything_came(tmp_path: Path) -> None:
    with started(START + WATCHED + RUN, "diagnose", env=environment(tmp_path)) as child:
        wait_for(b"waiting", child)
        time.sleep(0.1)
        child.send_signal(signal.SIGINT)
        out, err = child.communicate(timeout=30)
    assert (child.returncode, out, err) == (INTERRUPTED, b"", b"")


STAGES = [
    "logdoctor.catalogue.loading.stamp_of",
    "logdoctor.diagnosis.verdict.scan",
    "logdoctor.diagnosis.verdict.build_timeline",
    "logdoctor.diagnosis.verdict.choose_root",
    "logdoctor.diagnosis.verdict.nearest_failures",
    "logdoctor.cli.examining.open_log",
    "logdoctor.cli.examining.render",
    "logdoctor.cli.diagnose._Outlet.write",
]


@pytest.mark.parametrize("stage", STAGES)
def test_interrupt_in_every_stage(stage: str, tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(b"+ ./sail\nthe tide is out\nERROR: exit code 3\nFinished: FAILURE\n")
    module, _, name = stage.rpartition(".")
    owner, _, inner = module.rpartition(".")
    place = (
        f"importlib.import_module({module!r})"
        if not inner.startswith("_")
        else f"importlib.import_module({owner!r}).{inner}"
    )
    code = (
        f"{START}import importlib, os\nplace = {place}\n"
        f"def stop(*_: object, **__: object) -> None:\n os.kill(os.getpid(), signal.SIGINT)\n while True: pass\n"
        f"setattr(place, {name!r}, stop)\n{RUN}"
    )
    # A cache of its own would make the first stage pass by where the knowledge is packed.
    with started(code, "diagnose", str(tmp_path / "build.log"), env=environment(tmp_path)) as child:
        out, err = child.communicate(timeout=60)
    assert (child.returncode, out, err) == (INTERRUPTED, b"", b"")
