"""Pairs of log and set-up files whose true cause is known, with the true answer to every check of the entry.

Written by people who had not seen the clues. On those without a number in their name the clues were improved afterwards, so that the
counts guard and do not measure.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import yaml

from logdoctor.intake import open_log
from logdoctor.model import Finding
from logdoctor.setup_files.witness import Witness, call_witness
from tests.support import diagnoser

PAIRS = sorted(p for p in (Path(__file__).parent / "pairs").iterdir() if (p / "case.yaml").is_file())
FIRST, AFTER_TWO = 0.8, 0.95
"""The true cause first from log and files alone, and after two answers."""


def witness_of(folder: Path, files: dict[str, Any]) -> Witness | None:
    if not files:
        return None
    builds = files.get("build") or []
    one = {key: folder / files[key] if files.get(key) else None for key in ("settings", "toolchains", "env")}
    return call_witness(
        settings=one["settings"],
        builds=[folder / name for name in ([builds] if isinstance(builds, str) else builds)],
        toolchains=one["toolchains"],
        env_file=one["env"],
    )


def root_of(folder: Path, case: dict[str, Any], answers: dict[str, bool]) -> Finding | None:
    witness = witness_of(folder, case.get("files") or {})
    with open_log(str(folder / "build.log")) as log:
        return diagnoser().diagnose(log, answers=answers, witness=witness.testify if witness else None).root


@cache
def counts() -> tuple[int, int, int]:
    """Pairs whose root is right; of these, the true cause first at once, and after two answers to the checks proposed."""
    roots = first = after = 0
    for folder in PAIRS:
        case = yaml.safe_load((folder / "case.yaml").read_text())
        root = root_of(folder, case, {})
        if root is None or root.failure.id != case["failure"]:
            continue
        right = {case["cause"], *(case.get("also") or [])}
        roots += 1
        first += root.causes[0].cause.id in right
        truth = {check: said in (True, "yes") for check, said in (case.get("answers") or {}).items()}
        answers: dict[str, bool] = {}
        for _ in range(2):
            asked = [n.check.id for n in root.next_checks if n.check.id in truth and n.check.id not in answers]
            if asked:
                answers[asked[0]] = truth[asked[0]]
                root = root_of(folder, case, answers) or root
        after += root.causes[0].cause.id in right
    return roots, first, after


def test_the_root_is_right() -> None:
    assert counts()[0] >= 0.9 * len(PAIRS) > 50


def test_the_true_cause_is_first_from_log_and_files_alone() -> None:
    roots, first, _ = counts()
    assert first >= FIRST * roots


def test_the_true_cause_is_first_after_two_answers() -> None:
    roots, _, after = counts()
    assert after >= AFTER_TWO * roots
