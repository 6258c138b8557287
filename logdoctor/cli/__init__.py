"""The command line: one module a command, imported only when its command runs."""

from __future__ import annotations

from logdoctor.cli.main import main

__all__ = ["main"]
