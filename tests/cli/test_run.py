"""The wrapper against the bare command: the same bytes, the same status, whatever happens."""

from __future__ import annotations

import fcntl
import json
import os
import pty
import resource
import signal
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest

from tests.support import ROOT

WRAPPER = [sys.executable, "-m", "logdoctor", "run"]
FAILING = "echo \"fatal: Authentication failed for 'https://git.brackwater.example/fares.git/'\"; exit 128"
NEEDS_POSIX = pytest.mark.skipif(not hasattr(os, "posix_spawnp"), reason="run works on POSIX systems")
pytestmark = NEEDS_POSIX


def environment(path: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(path / "data")}


def wrapped(
    path: Path, *words: str, options: tuple[str, ...] = (), **more: object
) -> subprocess.CompletedProcess[bytes]:
    more.setdefault("stdin", subprocess.DEVNULL)
    return subprocess.run(  # type: ignore[call-overload,no-any-return]
        [*WRAPPER, *options, "--", *words],
        stdout=more.pop("stdout", subprocess.PIPE),
        stderr=more.pop("stderr", subprocess.PIPE),
        cwd=path,
        env=environment(path),
        timeout=60,
        check=False,
        **more,
    )


def told(done: subprocess.CompletedProcess[bytes]) -> int:
    """The status as a shell tells it."""
    return done.returncode if done.returncode >= 0 else 128 - done.returncode


SCRIPTS = [
    "exit 0",
    "exit 1",
    "exit 42",
    "exit 255",
    "kill -TERM $$",
    "kill -KILL $$",
    "kill -SEGV $$",
    "kill -PIPE $$",
    "kill -HUP $$; sleep 1",
    "trap 'exit 7' TERM; kill -TERM $$; exit 1",
    "printf 'no end'; exit 3",
    r"printf '\000\001\377\033[31mred\033[0m\r\n'; exit 2",
    "echo out; echo err >&2; echo out again; exit 5",
    "cat; exit 4",
    "printf '%s\\n' \"$0\" \"$1\" 'a b' ''; exit 9",
    "exec 1>&-; echo gone; exit 6",
    "(exit 3)",
    "nosuchcommand-at-all",
    "head -c 300000 /dev/zero; exit 1",
    "i=0; while [ $i -lt 300 ]; do echo line $i; echo err $i >&2; i=$((i+1)); done; exit 8",
]


@pytest.mark.parametrize("script", SCRIPTS)
def test_output_and_status_are_those_of_the_bare_command(script: str, tmp_path: Path) -> None:
    words = ["sh", "-c", script, "zero", "one"]
    bare = subprocess.run(words, input=b"typed\n", capture_output=True, check=False)
    ours = wrapped(tmp_path, *words, input=b"typed\n", stdin=None)
    assert (ours.stdout, told(ours)) == (bare.stdout, told(bare))
    assert ours.stderr.startswith(bare.stderr)
    if told(bare) == 0:
        assert ours.stderr == bare.stderr


@pytest.mark.long
@pytest.mark.parametrize("number", range(180))
def test_many_odd_exits(number: int, tmp_path: Path) -> None:
    end = f"exit {number}" if number % 3 else f"kill -{1 + number % 15} $$; exit {number}"
    if f"kill -{1 + number % 15} " in end and 1 + number % 15 in (signal.SIGCHLD, signal.SIGINT):
        end = f"exit {number}"
    script = f"echo {number}; printf 'e{number}' >&2; {end}"
    test_output_and_status_are_those_of_the_bare_command(script, tmp_path)


@pytest.mark.parametrize(
    ("make", "status"),
    [("missing", 127), ("folder", 126), ("plain file", 126), ("script without a shell", 5)],
)
def test_what_can_t_be_started_has_the_status_of_a_shell(make: str, status: int, tmp_path: Path) -> None:
    path = tmp_path / "it"
    if make == "folder":
        path.mkdir()
    elif make != "missing":
        path.write_text("exit 5\n")
        path.chmod(0o755 if make.startswith("script") else 0o644)
    done = wrapped(tmp_path, str(path))
    assert told(done) == status
    assert done.stdout == b""


def test_failure_is_diagnosed_on_standard_error(tmp_path: Path) -> None:
    done = wrapped(tmp_path, "sh", "-c", FAILING)
    assert told(done) == 128
    assert b"the code host did not accept the credential (line 1)" in done.stderr
    assert b"Stopped" not in done.stdout


def test_failure_that_the_log_does_not_tell_is_one_all_the_same(tmp_path: Path) -> None:
    done = wrapped(tmp_path, "sh", "-c", "echo the plates do not fit; exit 3")
    assert b"stopped by something not in the catalogue" in done.stderr


def test_success_says_nothing(tmp_path: Path) -> None:
    done = wrapped(tmp_path, "sh", "-c", "echo 'ERROR: only a word'")
    assert (done.stdout, done.stderr, told(done)) == (b"ERROR: only a word\n", b"", 0)


def test_reports_and_saved_logs(tmp_path: Path) -> None:
    secret = "Tr0ub4dor-and-3"
    script = f"echo 'curl -u deploy:{secret} https://repo.brackwater.example/x'; {FAILING}"
    options = ("--save", "masked.log", "--save-raw", "raw.log", "--report-dir", "reports")
    done = wrapped(tmp_path, "sh", "-c", script, options=options)
    assert (tmp_path / "raw.log").read_bytes() == done.stdout
    assert (tmp_path / "raw.log").stat().st_mode & 0o777 == 0o600
    masked = (tmp_path / "masked.log").read_text()
    assert secret not in masked
    assert masked.splitlines()[1:] == done.stdout.decode().splitlines()[1:]
    reports = {p.suffix: p.read_text() for p in (tmp_path / "reports").iterdir()}
    assert {".txt", ".json", ".md", ".html", ".sarif", ".xml"} == reports.keys()
    assert json.loads(reports[".json"])["root"]["failure"] == "checkout-auth-failed"
    assert not [name for name, text in reports.items() if secret in text]


def test_masked_copy_holds_all_lines_of_a_long_output(tmp_path: Path) -> None:
    script = 'i=0; while [ $i -lt 4000 ]; do echo "line $i of many, each a little longer than the one before"; i=$((i+1)); done; printf end'
    done = wrapped(tmp_path, "sh", "-c", script, options=("--save", "masked.log"))
    assert (tmp_path / "masked.log").read_bytes() == done.stdout


@pytest.mark.parametrize("option", ["--save", "--save-raw", "--report-dir"])
def test_file_that_can_t_be_written_stops_nothing(option: str, tmp_path: Path) -> None:
    for script, status in (("exit 0", 0), (FAILING, 128)):
        done = wrapped(tmp_path, "sh", "-c", script, options=(option, "/proc/no/such/place"))
        assert told(done) == status


def limit_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))


@pytest.mark.parametrize("status", [0, 3])
def test_full_disk_stops_nothing(status: int, tmp_path: Path) -> None:
    script = f"head -c 200000 /dev/zero | tr '\\0' a; exit {status}"
    done = wrapped(tmp_path, "sh", "-c", script, preexec_fn=limit_files)
    assert (len(done.stdout), told(done)) == (200000, status)


def test_reader_that_goes_away_ends_the_command_as_without_us(tmp_path: Path) -> None:
    ours = subprocess.Popen(
        [*WRAPPER, "--", "sh", "-c", "yes; echo after >&2"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(tmp_path),
    )
    assert ours.stdout is not None
    ours.stdout.read(1000)
    ours.stdout.close()
    assert ours.wait(timeout=30) == 0
    ours.stderr.close()  # type: ignore[union-attr]


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129), (signal.SIGINT, 130)])
def test_signal_reaches_the_command(number: int, status: int, tmp_path: Path) -> None:
    ours = subprocess.Popen(
        [
            *WRAPPER,
            "--",
            "sh",
            "-c",
            f"trap 'echo caught; exit {status}' TERM HUP INT; echo ready; while :; do sleep 0.05; done",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment(tmp_path),
    )
    assert ours.stdout is not None
    assert ours.stdout.readline() == b"ready\n"
    ours.send_signal(number)
    rest = ours.stdout.read()
    assert (rest, ours.wait(timeout=30)) == (b"caught\n", status)
    ours.stdout.close()


def test_what_is_left_running_is_not_waited_for(tmp_path: Path) -> None:
    begun = time.monotonic()
    done = wrapped(tmp_path, "sh", "-c", "sleep 30 & echo done")
    assert (done.stdout, told(done)) == (b"done\n", 0)
    assert time.monotonic() - begun < 20


def test_order_of_one_stream_is_kept_and_nothing_is_held_back(tmp_path: Path) -> None:
    ours = subprocess.Popen(
        [*WRAPPER, "--", "sh", "-c", "printf 'wait'; read answer; echo \" $answer\""],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=environment(tmp_path),
    )
    assert ours.stdout is not None
    assert ours.stdin is not None
    assert ours.stdout.read(4) == b"wait"  # before the line has ended
    ours.stdin.write(b"go\n")
    ours.stdin.close()
    assert ours.stdout.read() == b" go\n"
    ours.wait(timeout=30)
    ours.stdout.close()


@pytest.mark.parametrize("words", [(), ("--",), ("mvn",), ("mvn", "--", "true")])
def test_command_goes_behind_two_dashes(words: tuple[str, ...], tmp_path: Path) -> None:
    done = subprocess.run([*WRAPPER, *words], capture_output=True, env=environment(tmp_path), check=False)
    assert done.returncode == 2
    assert b"--" in done.stderr


def in_terminal(path: Path, *words: str, size: tuple[int, int] = (30, 100)) -> tuple[bytes, int]:
    """The wrapper in a pseudo-terminal of its own: what it showed, and its status."""
    child, master = pty.fork()
    if child == 0:
        os.chdir(path)
        os.execve(sys.executable, [*WRAPPER, "--", *words], environment(path))
    fcntl.ioctl(master, termios.TIOCSWINSZ, struct.pack("HHHH", *size, 0, 0))
    shown = b""
    while True:
        try:
            data = os.read(master, 4096)
        except OSError:
            break
        if not data:
            break
        shown += data
    os.close(master)
    return shown, os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def test_in_a_terminal_the_command_has_one_too(tmp_path: Path) -> None:
    shown, status = in_terminal(tmp_path, "sh", "-c", "test -t 1 && test -t 2 && test -t 0 && echo yes; exit 0")
    assert (shown, status) == (b"yes\r\n", 0)


def test_size_of_the_terminal_is_handed_on(tmp_path: Path) -> None:
    shown, _ = in_terminal(tmp_path, "sh", "-c", "sleep 0.5; stty size <&1", size=(33, 111))
    assert shown == b"33 111\r\n"


def test_interrupt_key_reaches_the_command_once(tmp_path: Path) -> None:
    script = "n=0; trap 'n=$((n+1))' INT; echo ready; i=0; while [ $i -lt 12 ]; do sleep 0.1; i=$((i+1)); done; echo got $n; exit 0"
    child, master = pty.fork()
    if child == 0:
        os.chdir(tmp_path)
        os.execve(sys.executable, [*WRAPPER, "--", "sh", "-c", script], environment(tmp_path))
    shown = b""
    while b"ready" not in shown:
        shown += os.read(master, 4096)
    os.write(master, b"\x03")
    while True:
        try:
            data = os.read(master, 4096)
        except OSError:
            break
        if not data:
            break
        shown += data
    os.close(master)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert b"got 1\r\n" in shown
