"""A log as the same job prints it another time: other times, hashes, durations, rates, numbers, order of downloads."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

_TURNS: tuple[tuple[str, Callable[[random.Random, re.Match[str]], str]], ...] = (
    (
        r"\b([01]\d|2[0-3]):[0-5]\d:[0-5]\d\b",
        lambda r, _: f"{r.randint(0, 23):02}:{r.randint(0, 59):02}:{r.randint(0, 59):02}",
    ),
    (r"\b20\d\d-[01]\d-[0-3]\d\b", lambda r, _: f"2031-{r.randint(1, 12):02}-{r.randint(1, 28):02}"),
    (
        r"\(\d+(?:\.\d+)? [kM]?B at \d+(?:\.\d+)? [kM]?B/s\)",
        lambda r, _: f"({r.randint(1, 900)} kB at {r.randint(1, 900)} kB/s)",
    ),
    (r"Time elapsed: \d+\.\d+ s\b", lambda r, _: f"Time elapsed: {r.randint(0, 90)}.{r.randint(0, 999):03} s"),
    (r"\[ *\d+\.\d+ s\]", lambda r, _: f"[{r.randint(0, 99):>3}.{r.randint(0, 999):03} s]"),
    (r"\b[0-9a-f]{40}\b", lambda r, _: f"{r.getrandbits(160):040x}"),
    (r"\bin (\d+)(m?s)\b", lambda r, m: f"in {r.randint(1, 99)}{m[2]}"),
    (r"/tmp/[\w.-]+", lambda r, _: f"/tmp/tmp.{r.getrandbits(40):010x}"),
    (r"@tmp/durable-\w+", lambda r, _: f"@tmp/durable-{r.getrandbits(32):08x}"),
)
_DOWNLOAD = re.compile(r"\bDownload(?:ed|ing) from ")


def rerun(text: str, seed: int) -> str:
    """The log of another run of the same job in which nothing changed."""
    chance = random.Random(seed)
    for pattern, turn in _TURNS:
        text = re.sub(pattern, lambda match, turn=turn: turn(chance, match), text)  # type: ignore[misc]
    return "\n".join(_shuffled(text.split("\n"), chance))


def _shuffled(lines: list[str], chance: random.Random) -> list[str]:
    """Runs of downloads in another order."""
    result: list[str] = []
    run: list[str] = []
    for line in lines:
        if _DOWNLOAD.search(line):
            run.append(line)
            continue
        chance.shuffle(run)
        result += [*run, line]
        run = []
    return result + run
