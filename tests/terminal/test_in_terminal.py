"""The real program in a real terminal: tmux holds it, types, and reads the screen."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.support import ROOT
from tests.terminal.pilot import FORBIDDEN

pytestmark = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")

PATIENCE = 30.0


class Terminal:
    """A terminal of its own, on a socket of its own."""

    def __init__(self, folder: Path, size: tuple[int, int] = (80, 24)) -> None:
        self._socket = f"logdoctor-test-{uuid.uuid4().hex[:8]}"
        self._folder = folder
        self._size = size

    def tmux(self, *arguments: str) -> str:
        """Run a command of tmux."""
        done = subprocess.run(
            ["tmux", "-L", self._socket, "-f", os.devnull, *arguments], capture_output=True, text=True, check=True
        )
        return done.stdout

    def start(self, command: str, **environment: str) -> None:
        """Run a shell command; afterwards the screen says how it ended."""
        width, height = map(str, self._size)
        kept = {"PYTHONPATH": str(ROOT), "XDG_CONFIG_HOME": str(self._folder), **environment}
        settings = [part for name, value in kept.items() for part in ("-e", f"{name}={value}")]
        script = f"{command}; echo left with $?; sleep 60"
        self.tmux(
            "new-session", "-d", "-x", width, "-y", height, *settings, "-c", str(self._folder), "sh", "-c", script
        )
        self.tmux("set-option", "-g", "set-clipboard", "on")

    def screen(self) -> str:
        """What a person sees."""
        return self.tmux("capture-pane", "-p")

    def keys(self, *keys: str) -> None:
        """Press keys."""
        self.tmux("send-keys", *keys)

    def paste(self, path: Path) -> None:
        """Paste a file the way terminals do."""
        self.tmux("load-buffer", "-b", "log", str(path))
        self.tmux("paste-buffer", "-p", "-b", "log")

    def wait(self, *words: str) -> str:
        """The screen, as soon as it shows all these words."""
        return self.until(lambda screen: all(word in screen for word in words), " and ".join(words))

    def until(self, holds: Callable[[str], bool], what: str) -> str:
        """The screen, as soon as something holds of it."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            if holds(screen := self.screen()):
                return screen
            time.sleep(0.1)
        raise AssertionError(f"no {what} on the screen:\n{self.screen()}")

    def flags(self) -> str:
        """Whether the other screen is on, whether the mouse is taken, whether the cursor shows."""
        return self.tmux("display-message", "-p", "#{alternate_on} #{mouse_any_flag} #{cursor_flag}").strip()

    def close(self) -> None:
        """End it, and the server that only it uses."""
        subprocess.run(["tmux", "-L", self._socket, "kill-server"], capture_output=True, check=False)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    """A terminal of 80 by 24."""
    made = Terminal(tmp_path)
    yield made
    made.close()


PROGRAM = f"{sys.executable} -m logdoctor"
RESTORED = "0 0 1"


def test_paste_answer_copy_quit(terminal: Terminal) -> None:
    terminal.start(PROGRAM)
    terminal.wait("Paste a log")
    terminal.paste(FORBIDDEN)
    terminal.wait("Stopped on deploy: the repository refused the upload (line 135).", "Causes in order", "Next check")
    terminal.keys("n")
    terminal.wait("You said no", "u Undo")
    terminal.keys("u")
    terminal.until(lambda screen: "You said" not in screen, "answer taken back")
    terminal.keys("n")
    terminal.wait("You said no")
    terminal.keys("s")
    terminal.wait("Text for a ticket")
    terminal.keys("c")
    terminal.wait("clipboard")
    copied = terminal.tmux("show-buffer")
    assert copied.startswith("Stopped on deploy: the repository refused the upload (line 135).")
    assert "Checked" in copied
    terminal.keys("Escape")
    terminal.wait("Causes in order")
    terminal.keys("q")
    terminal.wait("left with 0")
    assert terminal.flags() == RESTORED


def test_a_large_paste_arrives_whole_and_a_larger_one_is_refused(terminal: Terminal, tmp_path: Path) -> None:
    line = "[INFO] Downloaded from public: https://repo.public.example/maven2/org/a/b.jar (3 kB at 9 kB/s)\n"
    log = FORBIDDEN.read_text(encoding="utf-8")
    count = (5_000_000 - len(log)) // len(line)
    large = tmp_path / "large.log"
    large.write_text(line * count + log, encoding="utf-8")
    terminal.start(PROGRAM)
    terminal.wait("Paste a log")
    terminal.paste(large)
    terminal.wait(f"the repository refused the upload (line {count + 135}).")
    large.write_text(line * (5_400_000 // len(line)), encoding="utf-8")
    terminal.keys("Escape")
    terminal.wait("Paste a log")
    terminal.paste(large)
    terminal.wait("That was 5.4 MB", "logdoctor open -")


def test_the_log_from_a_pipe_and_the_keys_from_the_terminal(terminal: Terminal) -> None:
    terminal.start(f"cat {FORBIDDEN} | {PROGRAM} open -")
    terminal.wait("standard input", "Stopped on deploy")
    terminal.keys("l")
    terminal.wait("line 135 of 149")
    terminal.keys("q")
    terminal.wait("left with 0")
    assert terminal.flags() == RESTORED


def test_a_pipe_that_never_ends_can_be_left(terminal: Terminal) -> None:
    terminal.start(f"(echo '[INFO] begun'; sleep 50) | {PROGRAM} open -")
    terminal.wait("Reading the log")
    terminal.keys("q")
    terminal.until(lambda screen: "Reading the log" not in screen, "leaving")
    assert terminal.flags() == RESTORED


@pytest.mark.parametrize(("how", "code"), [("C-c", 130), ("TERM", 143), ("INT", 130)])
def test_the_terminal_is_restored_after_an_interruption(terminal: Terminal, how: str, code: int) -> None:
    terminal.start(f"{PROGRAM} open {FORBIDDEN}")
    terminal.wait("Causes in order")
    if how == "C-c":
        terminal.keys(how)
    else:
        (shell,) = terminal.tmux("list-panes", "-F", "#{pane_pid}").split()
        child = subprocess.run(["pgrep", "-P", shell], capture_output=True, text=True, check=True).stdout.split()[0]
        subprocess.run(["kill", f"-{how}", child], check=True)
    terminal.wait(f"left with {code}")
    assert terminal.flags() == RESTORED


def test_a_fault_is_one_line_and_the_terminal_is_restored(terminal: Terminal, tmp_path: Path) -> None:
    broken = (
        "import logdoctor.diagnosis.verdict as v, logdoctor.cli as c\n"
        "def diagnose(*a, **k): raise RuntimeError('broken')\n"
        "v.Diagnoser.diagnose = diagnose\n"
        f"raise SystemExit(c.main(['open', {str(FORBIDDEN)!r}]))\n"
    )
    (tmp_path / "broken.py").write_text(broken)
    terminal.start(f"{sys.executable} broken.py", TMPDIR=str(tmp_path))
    screen = terminal.wait("left with 70")
    assert "logdoctor: internal fault (RuntimeError)" in screen
    assert "Traceback" not in screen
    assert terminal.flags() == RESTORED


def test_a_missing_file_is_one_line_without_the_app(terminal: Terminal) -> None:
    terminal.start(f"{PROGRAM} open gone.log")
    screen = terminal.wait("left with 2")
    assert "logdoctor: gone.log: there is no such file; check the path" in screen


def test_without_a_terminal_the_help_is_printed() -> None:
    for arguments, code, told in (([], 0, "commands:"), (["open", str(FORBIDDEN)], 2, "needs a terminal")):
        done = subprocess.run(
            [sys.executable, "-m", "logdoctor", *arguments],
            capture_output=True,
            text=True,
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            check=False,
        )
        assert done.returncode == code
        assert told in done.stdout + done.stderr
