"""What a diagnosis costs, against a search for the same literals: `python -m tests.bench.speed [--megabytes 300] [--runs 5]`.

A log of real line shapes is generated (downloads, test output, stack traces; plain, stamped, coloured; with 1 or 10,000
findings). Each figure is the median of the runs, on the same file in the same call; ratios come first, as machines are noisy.
`--parts` chooses what is measured (see `tests/bench/more.py`); `--sizes` are those of the part `growth`.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.bench.more import Bench, Row, growth, hostile, many, piped, signatures, slow_picker, start, unknown
from tests.support import ROOT, catalogue

FINDING = b"[ERROR] Could not transfer artifact example.brackwater:fares:jar:1.0 from/to releases (https://repo.brackwater.example/r): status code: 403\n"
FRAME = "\tat example.brackwater.{0}.{1}.run({1}.java:{2})\n"
DOWNLOAD = (
    "[INFO] Downloaded from central: https://repo.brackwater.example/m/{0}/{1}/{2}/{1}-{2}.jar ({2} kB at 1.2 MB/s)\n"
)
TEST = "[INFO] Tests run: {2}, Failures: 0, Errors: 0, Skipped: 0, Time elapsed: 0.{2} s -- in example.brackwater.{0}.{1}Test\n"
DEBUG = "2026-03-02 10:11:12 DEBUG {0}.{1} - asked for berth {2}, got an answer in {2} ms\n"
WORDS = ("fares", "berth", "harbour", "tide", "crossing", "ledger", "zone", "ticket", "crew", "rota")


def made_log(path: Path, megabytes: int, dress: str, findings: int) -> None:
    """Write a log of that size; the same for the same arguments."""
    pick = random.Random(7)
    shapes = (DOWNLOAD, DOWNLOAD, TEST, FRAME, FRAME, FRAME, DEBUG, DEBUG)
    rows = [
        pick.choice(shapes).format(pick.choice(WORDS), pick.choice(WORDS).title(), pick.randrange(1, 999)).encode()
        for _ in range(20_000)
    ]
    if dress == "stamped":
        rows = [b"2026-03-02T10:11:%02d.123Z %s" % (n % 60, row) for n, row in enumerate(rows)]
    elif dress == "coloured":
        rows = [re.sub(rb"\[(INFO)\]", b"[\x1b[1;34m\\1\x1b[m]", row) for row in rows]
    block = b"".join(rows)
    size, count = megabytes << 20, 0
    step = max(1, (size // len(block)) // max(1, findings))
    with path.open("wb") as out:
        number = 0
        while out.tell() < size:
            out.write(block)
            number += 1
            for _ in range(max(1, findings // max(1, size // len(block))) if number % step == 0 else 0):
                if count < findings:
                    out.write(FINDING)
                    count += 1
        out.write(
            b"[INFO] BUILD FAILURE\n" + FINDING.replace(b"[ERROR]", b"[ERROR] Failed to execute goal x:y:1:deploy (d):")
        )


def timed(work: Callable[[], object], runs: int) -> float:
    """Seconds of the median run."""
    taken = []
    for _ in range(runs):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)


def contenders(log: Path, patterns: Path) -> Iterator[tuple[str, Callable[[], object]]]:
    """What is measured on the same file."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(log.parent / "data")}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed program's modules are compiled
    ours = [sys.executable, "-m", "logdoctor", "diagnose", "--no-history", "--output", os.devnull, str(log)]
    yield (
        "logdoctor diagnose",
        lambda: refuse_fault(subprocess.run(ours, env=environment, check=False).returncode, ours),
    )
    if rg := shutil.which("rg"):
        yield (
            "rg -F -f literals",
            lambda: subprocess.run([rg, "-cF", "-f", patterns, log], capture_output=True, check=False),
        )
    yield (
        "grep -F -f literals",
        lambda: subprocess.run(["grep", "-cF", "-f", patterns, log], capture_output=True, check=False),
    )
    yield "wc -l", lambda: subprocess.run(["wc", "-l", log], capture_output=True, check=False)


def plain_loop(log: Path, literals: list[str], megabytes: int) -> float:
    """Seconds for the whole file by a plain loop over lines, from a part of it."""
    part, spent = 256 << 10, time.perf_counter()
    with log.open("rb") as file:
        for raw in file.read(part).splitlines():
            line = raw.decode()
            for literal in literals:
                if literal in line:
                    break
    return (time.perf_counter() - spent) * (megabytes << 20) / part


def refuse_fault(status: int, command: list[str]) -> None:
    """A run that ended before its work was done must not count as a fast one."""
    if status < 0 or status in (2, 70):  # killed, wrong use, internal fault
        sys.exit(f"nothing measured: {' '.join(command)} ended with status {status}")


PARTS: dict[str, Callable[[Bench], Iterator[Row]]] = {
    "start": start,
    "hostile": hostile,
    "unknown": unknown,
    "piped": piped,
    "many": many,
    "slow-picker": slow_picker,
    "signatures": signatures,
}


ALL = ["growth", *PARTS, "ratios"]


def main() -> None:
    """Measure and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megabytes", type=int, default=300)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--parts", nargs="+", choices=ALL, default=ALL)
    parser.add_argument("--sizes", type=int, nargs="+", default=[1, 10, 100, 1024], help="MB, for growth")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), options.runs, options.megabytes, made_log)
        for part in options.parts:
            if part == "ratios":
                ratios(Path(folder), options.megabytes, options.runs)
                continue
            rows = growth(bench, tuple(options.sizes)) if part == "growth" else PARTS[part](bench)
            for name, figure in rows:
                print(f"{name:<30}{figure}", flush=True)


def ratios(folder: Path, megabytes: int, runs: int) -> None:
    """Print the table of ratios."""
    literals = sorted({literal for rule in catalogue().rules() for literal in rule.literals})
    print(f"{megabytes} MB, median of {runs}, {len(literals)} literals")
    print(f"{'log':<22}{'what':<24}{'ratio':>8}{'seconds':>10}{'MB/s':>8}")
    patterns = folder / "literals"
    patterns.write_text("\n".join(literals) + "\n")
    for dress, findings in (("plain", 1), ("plain", 10_000), ("stamped", 1), ("coloured", 1)):
        log = folder / "build.log"
        made_log(log, megabytes, dress, findings)
        first: float | None = None
        for name, work in contenders(log, patterns):
            seconds = timed(work, runs)
            first = first or seconds
            rate = megabytes / seconds
            print(f"{dress}, {findings:<12}{name:<24}{seconds / first:>8.2f}{seconds:>10.2f}{rate:>8.0f}", flush=True)
        loop = plain_loop(log, literals, megabytes)
        print(f"{dress}, {findings:<12}{'plain loop (from a part)':<24}{loop / (first or 1):>8.1f}{loop:>10.1f}")
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"peak memory of a child: {peak:.0f} MB")


if __name__ == "__main__":
    main()
