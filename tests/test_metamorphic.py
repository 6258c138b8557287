"""What must not change the verdict: dress, line ends, another log before it; and what must not make one: closing lines cut off.

The ordinary command takes every fortieth fixture and every third succeeded log; the long run takes all.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from logdoctor.model import Verdict
from tests.support import ROOT, verdict_of
from tests.test_replay import NAMES, OPEN, expected, verdict

GREEN = (ROOT / "tests" / "fixtures" / "lab" / "maven-3.9.9-ok-noisy-test.log").read_bytes()
SAMPLE_OF = 40
SAMPLE_OF_SUCCEEDED = 3
CUTS = (1, 2, 4)
# Cut there, these say in a tool's own last words that it failed; what told otherwise stood in the lines cut off.
LAST_WORDS_ARE_BAD = {"maven-3.9.9-ok-fail-never", "git-2.39.5-fine-detached-head"}


def stamped(log: bytes) -> bytes:
    return b"".join(b"2026-03-02T10:11:%02d.%03dZ " % (n // 1000 % 60, n % 1000) + x for n, x in enumerate(lines(log)))


def clocked(log: bytes) -> bytes:
    return b"".join(b"[10:%02d:%02d] " % (n // 60 % 60, n % 60) + line for n, line in enumerate(lines(log)))


def in_a_branch(log: bytes) -> bytes:
    return b"".join(b"[linux-jdk17] " + line for line in lines(log))


def dos(log: bytes) -> bytes:
    return log.replace(b"\r\n", b"\n").replace(b"\n", b"\r\n")


def coloured(log: bytes) -> bytes:
    log = re.sub(rb"(?m)^\[(ERROR|INFO|WARNING)\]", lambda m: b"[\x1b[1;31m" + m[1] + b"\x1b[m]", log)
    return re.sub(
        rb"(?m)^(npm ERR!|npm error|error:|fatal:|ERROR:|FAILED)", lambda m: b"\x1b[31m" + m[1] + b"\x1b[0m", log
    )


def coloured_words(log: bytes) -> bytes:
    return re.sub(rb"(?<=[a-z]) (\w+)", lambda m: b" \x1b[38;5;208m" + m[1] + b"\x1b[39m", log)


def lines(log: bytes) -> list[bytes]:
    return re.findall(rb"[^\n]*\n|[^\n]+$", log)


def told(verdict: Verdict, shift: int = 0) -> tuple[str, str | None, int | None]:
    root = verdict.root
    return verdict.outcome, root and str(root.failure.id), root and root.line - shift


def fixtures() -> list[Any]:
    plain = [p for p in NAMES if b"\x1b" not in p.read_bytes() and p.stem not in OPEN["dress"]]
    return [
        pytest.param(p, id=p.stem, marks=[] if n % SAMPLE_OF == 0 else [pytest.mark.long]) for n, p in enumerate(plain)
    ]


@pytest.mark.parametrize("path", fixtures())
@pytest.mark.parametrize("dress", [stamped, clocked, dos, coloured, coloured_words])
def test_dress_does_not_change_the_verdict(dress: Callable[[bytes], bytes], path: Path) -> None:
    assert told(verdict_of(dress(path.read_bytes()))) == told(verdict(path))


@pytest.mark.parametrize("path", fixtures())
def test_branch_prefix_does_not_change_the_root(path: Path) -> None:
    assert told(verdict_of(in_a_branch(path.read_bytes())))[1:] == told(verdict(path))[1:]


@pytest.mark.parametrize(
    "path",
    [p for p in fixtures() if expected(p.values[0]).get("failure") and expected(p.values[0])["outcome"] == "failed"],
)
def test_succeeded_log_before_it_does_not_change_the_root(path: Path) -> None:
    shift = len(lines(GREEN))
    assert told(verdict_of(GREEN + path.read_bytes()), shift)[1:] == told(verdict(path))[1:]


def succeeded() -> list[Any]:
    found = [p for p in NAMES if expected(p)["outcome"] == "succeeded"]
    return [
        pytest.param(p, id=p.stem, marks=[] if n % SAMPLE_OF_SUCCEEDED == 0 else [pytest.mark.long])
        for n, p in enumerate(found)
    ]


@pytest.mark.parametrize("green", succeeded())
def test_each_succeeded_log_before_a_failed_one_does_not_change_its_root(green: Path) -> None:
    red = ROOT / "tests" / "fixtures" / "lab" / "maven-3.9.9-deploy-403.log"
    before = green.read_bytes().rstrip(b"\n") + b"\n"
    assert told(verdict_of(before + red.read_bytes()), len(lines(before)))[1:] == told(verdict(red))[1:]


@pytest.mark.parametrize("cut", CUTS)
@pytest.mark.parametrize(
    "path", [p for p in succeeded() if p.values[0].stem not in {*LAST_WORDS_ARE_BAD, *OPEN["cut"]}]
)
def test_succeeded_log_without_its_closing_lines_has_no_root(path: Path, cut: int) -> None:
    kept = b"".join(lines(path.read_bytes())[:-cut])
    assert verdict_of(kept).root is None
