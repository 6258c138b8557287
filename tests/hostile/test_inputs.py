"""Inputs that are no ordinary files, have odd names, or change while they are read."""

from __future__ import annotations

import os
import socket
import threading
from typing import TYPE_CHECKING

import pytest

from logdoctor.errors import InputError
from logdoctor.intake import open_log
from logdoctor.reports.text import text_report
from tests.support import diagnoser

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from logdoctor.model import Verdict

STEP = b"+ git fetch\nfatal: couldn't find remote ref main\n"
pytestmark = pytest.mark.skipif(os.name != "posix", reason="links, pipes and devices as POSIX has them")


def verdict_at(path: Path | str) -> Verdict:
    with open_log(path) as log:
        return diagnoser().diagnose(log)


def refusal_of(path: Path | str) -> str:
    with pytest.raises(InputError) as caught:
        verdict_at(path)
    said = str(caught.value)
    assert len(said.splitlines()) == 1
    assert said.isprintable()
    return said


# --- what is no ordinary file ------------------------------------------------------------------------


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/random", "/dev/null", "/dev/full"])
def test_devices_are_refused(device: str) -> None:
    if not os.path.exists(device):  # noqa: PTH110
        pytest.skip(f"no {device} here")
    assert "is a device" in refusal_of(device)


def test_link_to_a_device_is_refused(tmp_path: Path) -> None:
    (tmp_path / "build.log").symlink_to("/dev/zero")
    assert "is a device" in refusal_of(tmp_path / "build.log")


def test_link_to_itself_is_refused(tmp_path: Path) -> None:
    (tmp_path / "build.log").symlink_to(tmp_path / "build.log")
    assert "leads to itself" in refusal_of(tmp_path / "build.log")


def test_link_that_leads_nowhere_is_refused(tmp_path: Path) -> None:
    (tmp_path / "build.log").symlink_to(tmp_path / "gone.log")
    assert "there is no such file" in refusal_of(tmp_path / "build.log")


def test_socket_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)  # the name of a socket may not be long
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind("s.log")
        assert "is a socket" in refusal_of("s.log")


def test_pipe_is_read_to_its_end(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "build.log")
    writer = threading.Thread(target=lambda: (tmp_path / "build.log").write_bytes(STEP))
    writer.start()
    root = verdict_at(tmp_path / "build.log").root
    writer.join()
    assert root is not None


def test_folder_with_links_pipes_and_a_loop(tmp_path: Path) -> None:
    (tmp_path / "1 step.log").write_bytes(STEP)
    (tmp_path / "2 zero.log").symlink_to("/dev/zero")
    (tmp_path / "3 round").symlink_to(tmp_path)
    os.mkfifo(tmp_path / "4 pipe.log")
    source = verdict_at(tmp_path).source
    assert [part.name for part in source.parts] == ["1 step.log"]


def test_folder_deeper_than_any_build(tmp_path: Path) -> None:
    deep = tmp_path
    for _ in range(60):
        deep /= "d"
    deep.mkdir(parents=True)
    (deep / "step.log").write_bytes(b"berth\n")
    (tmp_path / "step.log").write_bytes(STEP)
    assert [part.name for part in verdict_at(tmp_path).source.parts] == ["step.log"]


def test_pipe_that_takes_the_place_of_a_file_does_not_hold_it_up(tmp_path: Path) -> None:
    (tmp_path / "1 step.log").write_bytes(STEP)
    (tmp_path / "2 step.log").write_bytes(b"berth\n")
    with open_log(tmp_path) as log:
        (tmp_path / "2 step.log").unlink()
        os.mkfifo(tmp_path / "2 step.log")
        verdict = diagnoser().diagnose(log)
    assert verdict.root is not None
    assert any("2 step.log can't be read" in notice for notice in verdict.notices)


# --- names -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(b"\x1b[2J\x1b]0;title\x07.log", id="escape codes"),
        pytest.param(b"one\ntwo\r.log", id="line ends"),
        pytest.param("\u202egol.evil\u2066".encode(), id="overrides"),
        pytest.param(b"\xff\xfe\x80.log", id="no text"),
        pytest.param("\ufffe\uffff\ufe0f.log".encode(), id="noncharacters"),
        pytest.param(b"-", id="a dash with a path"),
        pytest.param(b"--help", id="an option"),
    ],
)
def test_odd_names(name: bytes, tmp_path: Path) -> None:
    path = os.fsencode(tmp_path) + b"/" + name
    with open(path, "wb") as file:  # noqa: PTH123 - the name is bytes
        file.write(STEP)
    verdict = verdict_at(os.fsdecode(path))
    assert verdict.root is not None
    assert verdict.source.name.isprintable()
    report = text_report(verdict)
    assert all(line.isprintable() for line in report.replace("\u00a0", " ").split("\n"))
    report.encode("utf-8")


@pytest.mark.parametrize("name", ["", "\0", "a\0b", "x" * 5000, "/" * 5000, "no/such\nfolder", "\x1b[2J"])
def test_names_that_no_file_has(name: str) -> None:
    assert refusal_of(name) or name == ""


# --- files that change -------------------------------------------------------------------------------


def changed_while_read(path: Path, change: Callable[[], object]) -> Verdict:
    """The verdict of a log of which the change is made after its first block."""
    lines = STEP + b"".join(b"%07d berths are free at the quay\n" % n for n in range(200_000))
    path.write_bytes(lines)
    with open_log(path) as log:
        blocks = log.blocks

        def changing(size: int = 1 << 20) -> object:
            stream = blocks(size)
            yield next(stream)
            change()
            yield from stream

        class Changing:
            def __getattr__(self, name: str) -> object:
                return changing if name == "blocks" else getattr(log, name)

        return diagnoser().diagnose(Changing())  # type: ignore[arg-type]


def test_file_that_shrinks(tmp_path: Path) -> None:
    path = tmp_path / "build.log"
    verdict = changed_while_read(path, lambda: os.truncate(path, 1_500_000))
    assert verdict.root is not None
    assert verdict.source.bytes == 1_500_000


def test_file_that_shrinks_to_nothing(tmp_path: Path) -> None:
    path = tmp_path / "build.log"
    verdict = changed_while_read(path, lambda: os.truncate(path, 0))
    assert verdict.source.bytes == 1 << 20
    assert all(segment.end <= max(1, verdict.source.lines) for segment in verdict.segments)


def test_file_that_grows_is_read_as_far_as_it_went(tmp_path: Path) -> None:
    path = tmp_path / "build.log"

    def grow() -> None:
        with path.open("ab") as file:
            file.write(b"more\n" * 1_000_000)

    verdict = changed_while_read(path, grow)
    assert verdict.source.lines == 200_002


def test_file_that_vanishes(tmp_path: Path) -> None:
    path = tmp_path / "build.log"
    verdict = changed_while_read(path, path.unlink)
    assert verdict.root is not None
    assert verdict.source.lines == 200_002


def test_file_that_is_written_anew(tmp_path: Path) -> None:
    path = tmp_path / "build.log"
    verdict = changed_while_read(path, lambda: path.write_bytes(b"\xff" * 7_000_000))
    assert verdict.source.bytes > 1 << 20
