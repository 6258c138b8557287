"""Bytes to lines: sources, packed files, encodings, escape codes, prefixes, time stamps and lanes."""

from __future__ import annotations

from logdoctor.intake.escapes import pieces, printable, strip_escapes
from logdoctor.intake.lines import LineReader
from logdoctor.intake.log import Log
from logdoctor.intake.prefixes import Cleaned, clean
from logdoctor.intake.sources import open_log
from logdoctor.intake.stamps import Stamp

__all__ = [
    "Cleaned",
    "LineReader",
    "Log",
    "Stamp",
    "clean",
    "open_log",
    "pieces",
    "printable",
    "strip_escapes",
]
