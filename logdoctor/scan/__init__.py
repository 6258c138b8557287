"""One fast pass over the log."""

from __future__ import annotations

from logdoctor.scan.result import RuleHits, Scan, Tally
from logdoctor.scan.rulebook import RuleBook
from logdoctor.scan.scanner import scan
from logdoctor.scan.watch import Watch

__all__ = ["RuleBook", "RuleHits", "Scan", "Tally", "Watch", "scan"]
