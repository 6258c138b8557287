"""What an agent without internet needs, in one folder: the wheel, all it depends on, and the catalogue as a file.

``python .build/offline_bundle.py FOLDER`` needs a package index once, on a machine with the agent's system and Python
version; there, ``pip install --no-index --find-links FOLDER logdoctor`` needs none. ``--catalogue-only`` writes just the
catalogue, to be put in the place of the old one.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CATALOGUE = "logdoctor-knowledge.json"


def main() -> int:
    """Fill the folder; return the exit status."""
    parser = argparse.ArgumentParser(
        description=__doc__,
        epilog="example:\n  python .build/offline_bundle.py offline",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("folder", metavar="FOLDER", help="where to put it; it is made")
    parser.add_argument("--catalogue-only", action="store_true", help=f"write only FOLDER/{CATALOGUE}")
    options = parser.parse_args()
    folder = Path(options.folder)
    folder.mkdir(parents=True, exist_ok=True)
    if not options.catalogue_only:
        wheels = [sys.executable, "-m", "pip", "wheel", "--quiet", "--wheel-dir", str(folder), str(ROOT)]
        if status := subprocess.run(wheels, check=False).returncode:  # noqa: S603 - this interpreter's own pip
            return status
    return write_catalogue(folder / CATALOGUE)


def write_catalogue(target: Path) -> int:
    """Pack the checkout's catalogue, beside the old file and then in its place."""
    sys.path.insert(0, str(ROOT))
    from logdoctor.catalogue.apart import packed_apart

    try:
        packed = packed_apart(ROOT / "knowledge")
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2
    fresh = target.with_suffix(".new")
    fresh.write_bytes(packed)
    fresh.replace(target)
    print(f"wrote {target}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
