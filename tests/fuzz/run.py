"""Coverage-guided fuzzing of one target: ``python -m tests.fuzz.run TARGET --seconds N``.

The input that broke a target is kept in the folder named by ``--kept``; it belongs into ``tests/fuzz/test_fuzz.py``.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

__all__ = ["main"]


def main() -> None:
    """Fuzz until the time is over; the process ends with a status other than 0 when a target broke."""
    import atheris  # type: ignore[import-untyped,unused-ignore]

    with atheris.instrument_imports(include=["logdoctor"]):
        from tests.fuzz.targets import TARGETS
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.run")
    parser.add_argument("target", choices=sorted(TARGETS))
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--longest", type=int, default=8192, help="the longest input in bytes")
    parser.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir()))
    options = parser.parse_args()
    target = TARGETS[options.target]
    corpus = Path(tempfile.mkdtemp(prefix="corpus-"))
    for number, seed in enumerate(target.seeds):
        (corpus / str(number)).write_bytes(seed)
    flags = [f"-max_total_time={options.seconds}", f"-max_len={options.longest}", "-timeout=20", "-rss_limit_mb=2048"]
    atheris.Setup([sys.argv[0], *flags, f"-artifact_prefix={options.kept}/{options.target}-", str(corpus)], target.test)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
