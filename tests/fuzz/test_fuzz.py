"""Every target holds under a few hundred blind changes of its seeds; behind `long`, under coverage-guided ones."""

from __future__ import annotations

import random
import subprocess
import sys
from importlib.util import find_spec
from typing import TYPE_CHECKING

import pytest

from tests.fuzz.targets import TARGETS
from tests.support import ROOT

if TYPE_CHECKING:
    from pathlib import Path

SECONDS = 5
TOKENS = [b"\0", b"\xff", b"\x1b[", b"\n", b"\r", b"[", b"]" * 50, b"{" * 200, b"(" * 200, b"<!DOCTYPE a [<!ENTITY e 'e'>]>", b"&e;", b"${a}", b"${" * 50, b"- ", b"? ", b": ", b"!!set ", b"*a", b"&a ", b"\xed\xa0\x80", b"9" * 5000, b"-1", b"'", b'"', b"\\", b"#", b"%", b"\xe2\x80\xae"]  # fmt: skip


def changed(seed: bytes, rng: random.Random) -> bytes:
    """A seed after a few cuts, copies and insertions."""
    data = bytearray(seed)
    for _ in range(rng.randrange(1, 5)):
        at = rng.randrange(len(data) + 1)
        end = min(len(data), at + rng.randrange(1, 40))
        kind = rng.randrange(4)
        if kind == 0:
            del data[at:end]
        elif kind == 1:
            data[at:at] = rng.choice(TOKENS)
        elif kind == 2 and at < len(data):
            data[at] = rng.randrange(256)
        else:
            data[at:at] = data[at:end] * rng.randrange(1, 4)
    return bytes(data)


@pytest.mark.parametrize("name", sorted(TARGETS))
def test_blind_changes(name: str) -> None:
    target, rng = TARGETS[name], random.Random(name)
    for seed in target.seeds[:60]:
        target.test(seed)
    for _ in range(30 if name.startswith("report") else 60):
        target.test(changed(rng.choice(target.seeds), rng))


@pytest.mark.long
@pytest.mark.skipif(find_spec("atheris") is None, reason="atheris has no wheel for this interpreter and system")
@pytest.mark.parametrize("name", sorted(TARGETS))
def test_guided_changes(name: str, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.fuzz.run", name, "--seconds", str(SECONDS), "--kept", str(tmp_path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=SECONDS * 10 + 60)
    assert done.returncode == 0, done.stderr[-4000:]
