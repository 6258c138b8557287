"""What a diagnosis costs, against a search for the same literals: `python -m tests.bench.speed [--megabytes 300] [--runs 5] [--starts]`.

A log of real line shapes is generated (downloads, test output, stack traces; plain, stamped, coloured; with 1 or 10,000
findings). Each figure is the median of the runs, on the same file in the same call; ratios come first, as machines are noisy.
`--starts` measures the cold start and the peak memory by size instead, each in a process of its own.
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


def spent(command: list[str], environment: dict[str, str], runs: int) -> tuple[float, float, float]:
    """Median seconds by the clock and of CPU, and the highest peak in MB, of a command's own processes."""
    clock, cpu, peak = [], [], 0.0
    for _ in range(runs):
        begun = time.perf_counter()
        child = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        refuse_fault(child.returncode, command)
        clock.append(time.perf_counter() - begun)
        cpu.append(usage.ru_utime + usage.ru_stime)
        peak = max(peak, usage.ru_maxrss / 1024)
    return statistics.median(clock), statistics.median(cpu), peak


def starts(runs: int, sizes: tuple[int, ...]) -> None:
    """Print what `--help` and logs of these sizes (MB) cost."""
    print(f"{'command':<28}{'seconds':>10}{'CPU':>8}{'CPU/MB':>10}{'peak MB':>10}")
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "build.log"
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(Path(folder) / "data")}
        ours = [sys.executable, "-m", "logdoctor"]
        diagnose = [*ours, "diagnose", "--no-history", "--output", os.devnull, str(log)]
        rows = [("--help", [*ours, "--help"], 0)] + [(f"diagnose, {size} MB", diagnose, size) for size in sizes]
        for name, command, size in rows:
            if size:
                made_log(log, size, "plain", 1)
            spent(command, environment, 1)  # the first one may write caches
            clock, cpu, peak = spent(command, environment, runs)
            each = f"{cpu / size:.4f}" if size else ""
            print(f"{name:<28}{clock:>10.2f}{cpu:>8.2f}{each:>10}{peak:>10.0f}", flush=True)


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megabytes", type=int, default=300)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--starts", action="store_true", help="cold start and peak memory by size")
    parser.add_argument("--sizes", type=int, nargs="+", default=[1, 100, 1024], help="MB, for --starts")
    options = parser.parse_args()
    if options.starts:
        starts(options.runs, tuple(options.sizes))
        return
    literals = sorted({literal for rule in catalogue().rules() for literal in rule.literals})
    print(f"{options.megabytes} MB, median of {options.runs}, {len(literals)} literals")
    print(f"{'log':<22}{'what':<24}{'ratio':>8}{'seconds':>10}{'MB/s':>8}")
    with tempfile.TemporaryDirectory() as folder:
        patterns = Path(folder) / "literals"
        patterns.write_text("\n".join(literals) + "\n")
        for dress, findings in (("plain", 1), ("plain", 10_000), ("stamped", 1), ("coloured", 1)):
            log = Path(folder) / "build.log"
            made_log(log, options.megabytes, dress, findings)
            first: float | None = None
            for name, work in contenders(log, patterns):
                seconds = timed(work, options.runs)
                first = first or seconds
                rate = options.megabytes / seconds
                print(f"{dress}, {findings:<12}{name:<24}{seconds / first:>8.2f}{seconds:>10.2f}{rate:>8.0f}")
            loop = plain_loop(log, literals, options.megabytes)
            print(f"{dress}, {findings:<12}{'plain loop (from a part)':<24}{loop / (first or 1):>8.1f}{loop:>10.1f}")
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"peak memory of a child: {peak:.0f} MB")


if __name__ == "__main__":
    main()
