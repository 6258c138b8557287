"""Nothing opens a connection: each command runs where every socket but a process's own is an error."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from logdoctor.catalogue import load_catalogue
from logdoctor.catalogue.apart import VARIABLE, packed_apart
from logdoctor.cli import main
from tests.support import ROOT

SAMPLES = ROOT / "sample_logs"
LOG = str(SAMPLES / "fares-deploy-403.log")
OTHER = str(SAMPLES / "berth-deploy-401.log")

GUARD = """
import os, socket, sys

LOCAL = getattr(socket, "AF_UNIX", None)  # the pair by which an event loop wakes itself


def hold(event, given):
    if event == "socket.__new__" and given[1] not in (LOCAL, -1):
        os._exit(99)
    if event.startswith("socket.get") and event != "socket.gethostname":
        os._exit(98)
    if event in ("socket.connect", "socket.bind", "socket.sendto") and not isinstance(given[1], (str, bytes)):
        os._exit(97)


sys.addaudithook(hold)
"""

COMMAND = GUARD + "\nfrom logdoctor.cli import main\nraise SystemExit(main(sys.argv[1:]))\n"

APP = (
    GUARD
    + """
import asyncio
from functools import partial
from logdoctor.catalogue import load_catalogue
from logdoctor.terminal.app import DoctorApp
from logdoctor.terminal.desk import Case, Desk

async def start():
    app = DoctorApp(Desk(load=load_catalogue), [Case(source=sys.argv[1], name="a log")])
    async with app.run_test(size=(80, 24)) as pilot:
        for _ in range(500):
            await pilot.pause(0.02)
            if "VerdictScreen" in type(app.screen).__name__ and app.screen.case.stage == "done":
                print("shown")
                return

asyncio.run(start())
"""
)

LIBRARY = GUARD + "\nimport logdoctor\nprint(logdoctor.diagnose(sys.argv[1]).outcome)\n"

COMMANDS = {
    "diagnose": ["diagnose", LOG],
    "diagnose in every format": [
        *("diagnose", "--format", "html=r.html", "--format", "sarif=r.sarif", "--format", "junit=r.xml"),
        *("--format", "markdown", LOG),
    ],
    "many logs": ["diagnose", "--jobs", "2", "--format", "jsonl", LOG, OTHER],
    "run": ["run", "--", sys.executable, "-c", "print('ERROR: it failed'); raise SystemExit(3)"],
    "checkup": ["checkup", "--build-file", "pom.xml"],
    "catalogue": ["catalogue", "403", "upload"],
    "compare": ["compare", OTHER, LOG],
    "survey": ["survey", LOG, OTHER],
    "history": ["history", "--days", "30"],
    "draft": ["draft", "--id", "setup-gate-jammed", "odd.log"],
    "completion": ["completion", "bash"],
}
WANTED = {"run": 3, "checkup": 1}
POM = """<project><modelVersion>4.0.0</modelVersion><groupId>example.brackwater</groupId><artifactId>fares</artifactId>
<version>1</version><distributionManagement><repository><id>releases</id><url>http://repo.brackwater.example/releases</url>
</repository></distributionManagement></project>
"""


def guarded(program: str, words: list[str], folder: Path, *before: str) -> subprocess.CompletedProcess[str]:
    cache = str(folder.parent / "cache")  # shared, as reading the catalogue anew takes most of the time
    environment = {"HOME": str(folder), "PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "TERM": "xterm"}
    environment["XDG_CACHE_HOME"] = cache
    command = [*before, sys.executable, "-c", program, *words]
    return subprocess.run(
        command, cwd=folder, env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_opens_no_connection(name: str, tmp_path: Path) -> None:
    (tmp_path / "pom.xml").write_text(POM)
    (tmp_path / "odd.log").write_text("+ ./ship\nERROR: the tide gate of pier 4 is jammed\nBUILD FAILURE\n")
    done = guarded(COMMAND, COMMANDS[name], tmp_path)
    assert done.returncode in (0, WANTED.get(name, 0)), done.stderr
    assert "Traceback" not in done.stderr
    if name != "run":
        assert done.stdout


def test_the_app_starts_and_diagnoses_without_a_connection(tmp_path: Path) -> None:
    done = guarded(APP, [LOG], tmp_path)
    assert (done.returncode, done.stdout.strip()) == (0, "shown"), done.stderr


def test_the_library_opens_no_connection(tmp_path: Path) -> None:
    done = guarded(LIBRARY, [LOG], tmp_path)
    assert (done.returncode, done.stdout.strip()) == (0, "failed"), done.stderr


@pytest.mark.parametrize(
    ("program", "status"),
    [
        ("import socket; socket.socket()", 99),
        ("import socket; socket.getaddrinfo('repo.brackwater.example', 443)", 98),
        ("import urllib.request; urllib.request.urlopen('http://127.0.0.1:9/')", 98),
    ],
)
def test_the_guard_would_catch_a_connection(program: str, status: int, tmp_path: Path) -> None:
    assert guarded(GUARD + program, [], tmp_path).returncode == status


def test_a_diagnosis_works_where_there_is_no_network_at_all(tmp_path: Path) -> None:
    unshare = shutil.which("unshare")
    if unshare is None or subprocess.run([unshare, "-rn", "true"], capture_output=True, check=False).returncode:
        pytest.skip("no network namespaces here")
    plain = "import sys\nfrom logdoctor.cli import main\nraise SystemExit(main(sys.argv[1:]))\n"
    done = guarded(plain, ["diagnose", LOG], tmp_path, unshare, "-rn")
    assert done.returncode == 0, done.stderr
    assert "line 135" in done.stdout


def test_the_catalogue_can_be_one_file_beside_the_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    knowledge = tmp_path / "knowledge"
    (knowledge / "deploy").mkdir(parents=True)
    shutil.copy(ROOT / "knowledge" / "facts.yaml", knowledge)
    shutil.copy(ROOT / "knowledge" / "deploy" / "forbidden.yaml", knowledge / "deploy")
    file = tmp_path / "knowledge.json"
    file.write_bytes(packed_apart(knowledge))
    monkeypatch.setenv(VARIABLE, str(file))
    loaded = load_catalogue()
    assert [str(failure.id) for failure in loaded] == ["deploy-forbidden"]
    assert loaded.problems == ()
    assert loaded.failure("deploy-forbidden").layer == "built in"


@pytest.mark.parametrize(
    ("spoil", "why"),
    [
        (lambda raw: raw[:-200], "cut or changed"),
        (lambda raw: raw.replace(b"deploy-forbidden", b"deploy-forgotten"), "cut or changed"),
        (lambda raw: raw.replace(b"logdoctor-knowledge/", b"logdoctor-knowledge/9"), "has the format"),
        (lambda _: b"[]\n", "no knowledge file"),
        (lambda _: b"\x00\xff" * 40, "no knowledge file"),
        (lambda _: b"", "no knowledge file"),
        (None, "no such file"),
    ],
)
def test_a_catalogue_file_that_is_no_use_is_told_and_the_shipped_one_serves(
    spoil: object, why: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "knowledge.json"
    if callable(spoil):
        file.write_bytes(spoil(packed_apart(ROOT / "knowledge")))
    monkeypatch.setenv(VARIABLE, str(file))
    assert main(["diagnose", "--no-history", LOG]) == 0
    told = capfd.readouterr()
    assert "refused the upload" in told.out
    [line] = [line for line in told.err.splitlines() if VARIABLE in line]
    assert why in line
    assert str(file) in line
