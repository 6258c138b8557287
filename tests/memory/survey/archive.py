"""An archive with known counts: which sample ran when, for which job."""

from __future__ import annotations

from pathlib import Path

from tests.support import ROOT

SAMPLES = ROOT / "sample_logs"

# job, day, run, sample
RUNS = (
    ("fares", "2024-06-03", 1, "fares-deploy-403"),
    ("fares", "2024-06-04", 2, "fares-deploy-403"),
    ("fares", "2024-06-11", 3, "fares-deploy-403"),
    ("fares", "2024-06-12", 4, "fares-test-failing"),
    ("fares", "2024-06-12", 5, "fares-ok-parallel"),
    ("berth", "2024-06-12", 1, "berth-ok-warnings"),
    ("berth", "2024-06-13", 2, "fares-deploy-403"),
    ("crossings", "2024-06-13", 9, "crossings-time-limit"),
    ("crossings", "2024-06-14", 10, "fares-test-failing"),
)
FAILED = {"deploy-forbidden": 4, "test-failed": 2, "agent-build-timed-out": 1}


def make_archive(folder: Path) -> Path:
    """One folder a job, one file a run, and one file that is no log."""
    for job, day, run, sample in RUNS:
        place = folder / job / f"{day}-{run}.log"
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes((SAMPLES / f"{sample}.log").read_bytes())
    (folder / "fares" / "2024-06-14-6.log").write_bytes(bytes(range(256)) * 40)
    return folder
