"""``python -m tests.lab.refresh TOOL [WORD ...]``: regenerates a lab's fixtures, all or those whose name holds a word."""

from __future__ import annotations

import importlib
import sys


def main(arguments: list[str]) -> int:
    if not arguments:
        print("usage: python -m tests.lab.refresh TOOL [WORD ...]", file=sys.stderr)
        return 2
    lab = importlib.import_module(f"tests.lab.{arguments[0]}_lab")
    status: int = lab.refresh(arguments[1:])
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
