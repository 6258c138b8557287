"""Ordinary logs stay readable: at most one line in a thousand is changed, and no line that tells what happened."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
import yaml

from logdoctor.intake import clean
from logdoctor.masking import MASK, Masker
from tests.support import FIXTURES, ROOT

LOGS = sorted([*FIXTURES.glob("lab/*.log"), *FIXTURES.glob("logs/*.log"), *(ROOT / "sample_logs").glob("*.log")])
REAL = frozenset(["not-it", "lab-only", "changeit"])
"""The passwords that these logs really show: what stands in the mask's place on a line that is changed."""


@cache
def shown(path: Path) -> tuple[tuple[str, str], ...]:
    """Each line as it is and as it is masked, in order."""
    masker = Masker()
    lines = path.read_bytes().decode("utf-8", "replace").split("\n")
    return tuple((text, masker.mask(text)) for text in (clean(line).text for line in lines))


def told_lines() -> Iterator[tuple[str, int]]:
    """The lines that the fixtures' expectations point at."""
    for path in LOGS:
        expected = path.with_suffix(".yaml")
        line = yaml.safe_load(expected.read_text(encoding="utf-8")).get("line") if expected.is_file() else None
        if isinstance(line, int):
            yield str(path), line


def lost(text: str, masked: str) -> list[str]:
    """What stood in the masks' places, by walking along what is left of the line."""
    gone: list[str] = []
    place = 0
    parts = masked.split(MASK)
    for number, part in enumerate(parts):
        found = text.find(part, place) if part else len(text) if number == len(parts) - 1 else place
        gone += [text[place:found]] if number else []
        place = found + len(part)
    return gone


def test_at_most_one_line_in_a_thousand_is_changed() -> None:
    changed = [(path.name, text) for path in LOGS for text, masked in shown(path) if text != masked]
    total = sum(len(shown(path)) for path in LOGS)
    assert total > 50_000
    assert len(changed) <= total / 1000, "\n".join(f"{name}: {text[:200]}" for name, text in changed)


def test_what_is_masked_there_was_a_password() -> None:
    gone = {
        one: path.name for path in LOGS for text, masked in shown(path) if text != masked for one in lost(text, masked)
    }
    assert set(gone) <= REAL, {one: name for one, name in gone.items() if one not in REAL}


@pytest.mark.parametrize("copies", [1, 2])
def test_no_line_that_tells_the_failure_loses_a_sign(copies: int) -> None:
    """The second time round the masker has learned all that the log shows."""
    pointed = list(told_lines())
    assert len(pointed) > 500
    changed = []
    for path, line in pointed:
        lines = shown(Path(path))
        text, masked = lines[line - 1]
        if copies == 2:
            masker = Masker()
            for one, _ in lines:
                masker.learn(one)
            masked = masker.mask(text)
        if masked != text and not set(lost(text, masked)) <= REAL:
            changed.append((path, line, text, masked))
    assert changed == []
