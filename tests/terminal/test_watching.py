from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import pytest

from logdoctor.intake import open_log
from logdoctor.terminal.watching import PatientPipe, Stopped, WatchedLog
from tests.support import diagnoser
from tests.terminal.pilot import FORBIDDEN


def test_a_watched_log_is_diagnosed_as_the_log_itself() -> None:
    told: list[tuple[int, int | None]] = []
    with open_log(FORBIDDEN, name="x") as log:
        watched = diagnoser().diagnose(WatchedLog(log, lambda *so_far: told.append(so_far), threading.Event()))
        assert watched == diagnoser().diagnose(log)
    size = FORBIDDEN.stat().st_size
    assert told[-1] == (size, size)


def test_a_pass_ends_when_it_is_told_to(tmp_path: Path) -> None:
    path = tmp_path / "large.log"
    path.write_bytes(b"line\n" * 1_000_000)
    stop = threading.Event()
    with open_log(path) as log, pytest.raises(Stopped):
        for _ in WatchedLog(log, lambda *_: stop.set(), stop).blocks(1024):
            pass


def test_a_pipe_without_a_writer_at_work_can_be_left() -> None:
    reading, writing = os.pipe()
    stop = threading.Event()
    threading.Timer(0.2, stop.set).start()
    begun = time.monotonic()
    with pytest.raises(Stopped):
        PatientPipe(reading, stop).read(10)
    assert time.monotonic() - begun < 5
    os.close(writing)
    os.close(reading)


def test_a_pipe_gives_what_was_written_and_then_nothing() -> None:
    reading, writing = os.pipe()
    os.write(writing, b"a line\n")
    os.close(writing)
    pipe = PatientPipe(reading, threading.Event())
    assert (pipe.read(100), pipe.read(100)) == (b"a line\n", b"")
    pipe.close()
