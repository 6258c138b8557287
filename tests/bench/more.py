"""Further rows of the speed table, each made by a function of the bench's folder and options: name and figure.

Peaks of memory are those of a child's own, as long as this process is small: what loads the catalogue comes last.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.support import ROOT, catalogue

FINDING = b"[ERROR] Could not transfer artifact example.brackwater:fares:jar:1.0 from/to releases (https://repo.brackwater.example/r): status code: 403\n"
UNKNOWN = b"[%d] the pilot of harbour %d waves a lantern twice, berth %d\n"
Row = tuple[str, str]


@dataclass(frozen=True)
class Bench:
    """Where logs are made, how often a row is run, and how large its log is."""

    folder: Path
    runs: int
    megabytes: int
    make: Callable[[Path, int, str, int], None]

    def command(self, *arguments: str) -> list[str]:
        """A diagnosis whose report goes nowhere."""
        return [sys.executable, "-m", "logdoctor", "diagnose", "--no-history", "--output", os.devnull, *arguments]

    @property
    def environment(self) -> dict[str, str]:
        """Compiled modules are kept, as an installed program's are."""
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        return {**kept, "PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(self.folder / "data")}

    def spent(self, command: list[str], stdin: list[str] | None = None) -> tuple[float, float, float]:
        """Median seconds by the clock and of CPU, and the highest peak in MB, of a command's own processes."""
        clock, cpu, peak = [], [], 0.0
        for _ in range(self.runs):
            feed = subprocess.Popen(stdin, stdout=subprocess.PIPE) if stdin else None
            begun = time.perf_counter()
            child = subprocess.Popen(
                command,
                env=self.environment,
                stdin=feed.stdout if feed else None,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            _, status, usage = os.wait4(child.pid, 0)
            child.returncode = os.waitstatus_to_exitcode(status)
            if child.returncode < 0 or child.returncode in (2, 70):  # killed, wrong use, internal fault
                sys.exit(f"nothing measured: {' '.join(command)} ended with status {child.returncode}")
            clock.append(time.perf_counter() - begun)
            cpu.append(usage.ru_utime + usage.ru_stime)
            peak = max(peak, usage.ru_maxrss / 1024)
            if feed is not None and feed.stdout is not None:
                feed.stdout.close()
                feed.wait()
        return statistics.median(clock), statistics.median(cpu), peak


def _told(taken: tuple[float, float, float], megabytes: float = 0) -> str:
    clock, cpu, peak = taken
    each = f"  {1000 * cpu / megabytes:6.1f} ms CPU/MB" if megabytes else ""
    return f"{clock:8.2f} s  {cpu:8.2f} s CPU  {peak:5.0f} MB peak{each}"


def start(bench: Bench) -> Iterator[Row]:
    """The interpreter alone, `--help`, and a log of 1 MB."""
    log = bench.folder / "small.log"
    bench.make(log, 1, "plain", 1)
    data = log.read_bytes()
    log.write_bytes(data[: 1 << 20] + data[-400:])
    bare = bench.spent([sys.executable, "-c", "pass"])
    for name, command in (("--help", [sys.executable, "-m", "logdoctor", "--help"]), ("1 MB", bench.command(str(log)))):
        bench.spent(command)  # the first one may write caches
        taken = bench.spent(command)
        yield f"start: {name}", f"{_told(taken)}  {taken[0] / bare[0]:5.1f} times the bare interpreter"
    yield "start: bare interpreter", _told(bare)


def growth(bench: Bench, sizes: tuple[int, ...]) -> Iterator[Row]:
    """Time a MB and memory by size."""
    log = bench.folder / "growth.log"
    for size in sizes:
        bench.make(log, size, "plain", 1)
        yield f"growth: {size} MB", _told(bench.spent(bench.command(str(log))), size)
    log.unlink(missing_ok=True)


def hostile(bench: Bench) -> Iterator[Row]:
    """One endless line, and nothing but findings."""
    log = bench.folder / "hostile.log"
    with log.open("wb") as out:
        for _ in range(bench.megabytes):
            out.write((b"[ERROR] berth taken, quay closed; " * 31_000)[: 1 << 20])
    yield f"one line of {bench.megabytes} MB", _told(bench.spent(bench.command(str(log))), bench.megabytes)
    with log.open("wb") as out:
        for _ in range(100):
            out.write(FINDING * 10_000)
    yield "a million findings", _told(bench.spent(bench.command(str(log))), log.stat().st_size / (1 << 20))
    log.unlink()


def unknown(bench: Bench) -> Iterator[Row]:
    """A failed log that no entry explains, against one of the same size that is explained."""
    log = bench.folder / "unknown.log"
    taken = {}
    for name in ("explained", "unknown"):
        bench.make(log, bench.megabytes, "plain", 1)
        if name == "unknown":
            data = log.stat().st_size
            with log.open("r+b") as out:
                out.seek(data - len(FINDING) * 3)
                out.truncate(out.seek(0, os.SEEK_CUR))
                out.write(
                    b"\n"
                    + b"".join(UNKNOWN % (n, n, n) for n in range(200))
                    + b"ERROR: exit code 3\nFinished: FAILURE\n"
                )
        taken[name] = bench.spent(bench.command(str(log)))
        yield f"{name}, {bench.megabytes} MB", _told(taken[name], bench.megabytes)
    yield "unknown above explained", f"{taken['unknown'][0] - taken['explained'][0]:8.2f} s"
    log.unlink()


def piped(bench: Bench) -> Iterator[Row]:
    """Standard input, against the file itself and `cat` into nothing."""
    log = bench.folder / "piped.log"
    bench.make(log, bench.megabytes, "plain", 1)
    yield "from a file", _told(bench.spent(bench.command(str(log))), bench.megabytes)
    yield "from a pipe", _told(bench.spent(bench.command("-"), ["cat", str(log)]), bench.megabytes)
    log.unlink()


def many(bench: Bench) -> Iterator[Row]:
    """Forty logs of 2 MB, by one process and by all cores."""
    logs = [bench.folder / f"many-{number}.log" for number in range(40)]
    bench.make(logs[0], 2, "plain", 3)
    for log in logs[1:]:
        shutil.copy(logs[0], log)
    for jobs in (1, os.cpu_count() or 1):
        command = bench.command("--jobs", str(jobs), *map(str, logs))
        yield f"40 logs of 2 MB, {jobs} at a time", _told(bench.spent(command))
    for log in logs:
        log.unlink()


def slow_picker(bench: Bench) -> Iterator[Row]:
    """The scan with the pure-Python picker, on a smaller log, and whether it finds the same."""
    from logdoctor.intake import open_log
    from logdoctor.scan import RuleBook, Scan, pickers, scan

    log = bench.folder / "slow.log"
    bench.make(log, 16, "plain", 1)
    found: list[Scan] = []
    for name in ("fast", "pure-Python"):
        book = RuleBook(catalogue().picking())
        if name == "pure-Python":
            vars(book)["_picker"] = pickers.PlainPicker(book._windows)  # noqa: SLF001 - as where the wheel is missing
        begun = time.process_time()
        with open_log(log) as opened:
            found.append(scan(opened, book))
        seconds = time.process_time() - begun
        yield f"{name} picker", f"{log.stat().st_size / (1 << 20) / seconds:8.1f} MB/s"
    yield "the same hits", str(found[0] == found[1])
    log.unlink()


def signatures(bench: Bench) -> Iterator[Row]:
    """The scan with a part of the signatures."""
    from logdoctor.catalogue import Catalogue
    from logdoctor.catalogue.prepared import packed, unpacked
    from logdoctor.intake import open_log
    from logdoctor.scan import RuleBook, scan

    log = bench.folder / "signatures.log"
    bench.make(log, 60, "plain", 1)
    entries = catalogue().entry_data()
    total = sum(len(entry["signatures"]) for entry in entries)
    for wanted in (50, 200, 500, 1000, 2000):
        some = {
            entry["id"]: {**entry, "signatures": entry["signatures"][:: max(1, total // wanted)]} for entry in entries
        }
        reduced = Catalogue(some, (), {})
        count = len(reduced.rules())
        book = RuleBook(unpacked(packed(reduced)).picking)
        taken = []
        for _ in range(bench.runs):
            begun = time.process_time()
            with open_log(log) as opened:
                scan(opened, book)
            taken.append(time.process_time() - begun)
        yield f"{count} signatures, 60 MB", f"{statistics.median(taken):8.2f} s CPU"
    log.unlink()
