"""Surroundings that do not help: full disks, no home, folders that can't be written, a working folder that is gone."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.hostile.commands import Ran, environment, logdoctor
from tests.support import ROOT

pytestmark = pytest.mark.skipif(os.name != "posix", reason="limits and file modes as POSIX has them")

STEP = b"+ git fetch\nfatal: couldn't find remote ref main\nFinished: FAILURE\n"
LARGE = STEP + b"%0100d berths\n" % 7 * 100_000
FULL = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (1 << 20, 1 << 20))"


def explained(ran: Ran) -> None:
    assert "Traceback" not in ran.err
    assert ran.status == 0, ran.err
    assert "the branch, tag or ref asked for does not exist" in ran.out


def refused(ran: Ran, words: str) -> None:
    assert "Traceback" not in ran.err
    assert ran.status == 2, (ran.status, ran.err)
    assert words in ran.err
    assert len(ran.err.splitlines()) == 1


def test_full_disk_for_the_spool_is_one_clear_line(tmp_path: Path) -> None:
    ran = logdoctor("diagnose", stdin=LARGE, env=environment(tmp_path), before=FULL)
    refused(ran, "can't be kept in the temporary folder")


def test_full_disk_does_not_matter_to_a_file_read_in_place(tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(LARGE)
    explained(logdoctor("diagnose", str(tmp_path / "build.log"), env=environment(tmp_path), before=FULL))


def test_no_temporary_folder(tmp_path: Path) -> None:
    # Whatever TMPDIR says, the standard library also tries /tmp and the working folder; here none of them takes a file.
    none = "import tempfile\ndef no(*_: object) -> str: raise FileNotFoundError(2, 'No usable temporary directory')\ntempfile._get_default_tempdir = no"
    ran = logdoctor("diagnose", stdin=LARGE, env=environment(tmp_path), before=none)
    refused(ran, "can't be kept in the temporary folder")


def test_full_output_is_one_clear_line(tmp_path: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    (tmp_path / "build.log").write_bytes(STEP)
    before = "import os; os.dup2(os.open('/dev/full', os.O_WRONLY), 1)"
    ran = logdoctor("diagnose", str(tmp_path / "build.log"), env=environment(tmp_path), before=before)
    assert "Traceback" not in ran.err
    assert ran.status == 2, (ran.status, ran.err)
    assert "No space left" in ran.err


def test_output_that_nobody_reads(tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    code = "import sys\nfrom logdoctor.cli import main\nsys.exit(main())"
    command = [sys.executable, "-c", code, "diagnose", str(tmp_path / "build.log")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment(tmp_path)) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.close()
        said = child.stderr.read()
        assert child.wait(60) == 0
    assert said == b""


@pytest.mark.parametrize("stream", [0, 1, 2])
def test_closed_streams(stream: int, tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    launched = f"import os, sys; os.close({stream}); os.execv(sys.executable, [sys.executable, '-m', 'logdoctor', *sys.argv[1:]])"
    for arguments in (["diagnose", str(tmp_path / "build.log")], ["diagnose"], ["--help"], ["catalogue", "ref"]):
        command = [sys.executable, "-c", launched, *arguments]
        done = subprocess.run(
            command, env=environment(tmp_path), stdin=subprocess.DEVNULL, capture_output=True, check=False, timeout=60
        )
        assert b"Traceback" not in done.stderr, done.stderr
        assert done.returncode in {0, 2}, (arguments, done)


def test_no_home(tmp_path: Path) -> None:
    # Without HOME the user database is asked; a user that it does not hold is what a container often has.
    (tmp_path / "build.log").write_bytes(STEP)
    before = "import pwd\ndef no(_: int) -> None: raise KeyError\npwd.getpwuid = no"
    env = environment(tmp_path, HOME=None, XDG_CACHE_HOME=None)
    explained(logdoctor("diagnose", str(tmp_path / "build.log"), env=env, before=before))


@pytest.mark.parametrize(
    "home",
    ["/nonexistent/home", *(pytest.param(home, marks=pytest.mark.long) for home in ("/dev/null", "relative"))],
)
def test_home_that_can_not_be_used(home: str, tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    env = environment(tmp_path, HOME=home, XDG_CACHE_HOME=None)
    explained(logdoctor("diagnose", str(tmp_path / "build.log"), env=env, cwd=tmp_path))


def test_cache_that_can_not_be_written(tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    (tmp_path / "cache").write_text("a file where a folder should be")
    env = environment(tmp_path, XDG_CACHE_HOME=str(tmp_path / "cache"), XDG_DATA_HOME=str(tmp_path / "cache"))
    explained(logdoctor("diagnose", str(tmp_path / "build.log"), env=env))


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anywhere")
def test_read_only_cache(tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    (tmp_path / "cache").mkdir(mode=0o500)
    env = environment(tmp_path, XDG_CACHE_HOME=str(tmp_path / "cache"))
    explained(logdoctor("diagnose", str(tmp_path / "build.log"), env=env))


def test_full_disk_for_the_cache(tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    before = FULL.replace("1 << 20", "4096")
    env = environment(tmp_path, XDG_CACHE_HOME=str(tmp_path / "cache"))
    explained(logdoctor("diagnose", str(tmp_path / "build.log"), env=env, before=before))


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", '{"format": "x"}', '{"files": {}}', '{"format": "CURRENT", "files": []}', "\0" * 100, "[" * 100_000],
    ids=["empty", "cut", "list", "null", "other format", "no format", "wrong kind", "zeros", "deep"],
)  # fmt: skip
def test_damaged_cache_is_as_if_there_were_none(text: str, tmp_path: Path) -> None:
    from logdoctor.catalogue.reading import CACHE_FORMAT, read_folder

    folder = tmp_path / "knowledge"
    shutil.copytree(ROOT / "knowledge" / "agent", folder / "agent")
    whole = read_folder(folder, cache_dir=tmp_path)
    (cache,) = tmp_path.glob("knowledge-*.json")
    kept = cache.read_text()
    cache.write_text(text.replace("CURRENT", CACHE_FORMAT))
    assert read_folder(folder, cache_dir=tmp_path).entries == whole.entries
    assert cache.read_text() == kept


@pytest.mark.long
def test_several_processes_build_the_cache_at_once(tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    env = environment(tmp_path, XDG_CACHE_HOME=None)

    def one(_: int) -> Ran:
        return logdoctor("diagnose", str(tmp_path / "build.log"), env=env)

    with ThreadPoolExecutor(4) as pool:
        for ran in pool.map(one, range(4)):
            explained(ran)
    caches = list((tmp_path / ".cache" / "logdoctor").iterdir())
    assert sorted(path.suffix for path in caches) == [".json", ".jsonl"]  # nothing half-written is left
    for line in (line for path in caches for line in path.read_bytes().splitlines()):
        json.loads(line)


def test_working_folder_that_is_gone(tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    (tmp_path / "gone").mkdir()
    before = f"import os; os.rmdir({str(tmp_path / 'gone')!r})"
    explained(
        logdoctor(
            "diagnose", str(tmp_path / "build.log"), env=environment(tmp_path), cwd=tmp_path / "gone", before=before
        )
    )


@pytest.mark.parametrize("variables", [{"LC_ALL": "C"}, {"LC_ALL": "xx_YY.nope"}, {"PYTHONIOENCODING": "ascii"}, {"TERM": "dumb", "COLUMNS": "0"}, {"COLUMNS": "-5"}, {"TZ": "nowhere"}])  # fmt: skip
def test_odd_locales_and_terminals(variables: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes("Fähre 渡船\n".encode() + STEP)
    explained(logdoctor("diagnose", str(tmp_path / "build.log"), env=environment(tmp_path, **variables)))


def test_few_open_files(tmp_path: Path) -> None:
    (tmp_path / "build.log").write_bytes(STEP)
    before = "import resource; resource.setrlimit(resource.RLIMIT_NOFILE, (12, 12))"
    explained(logdoctor("diagnose", *[str(tmp_path / "build.log")] * 8, env=environment(tmp_path), before=before))
