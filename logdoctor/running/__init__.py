"""Running a build command: its output passed through byte for byte, kept for the diagnosis, its exit status told."""

from __future__ import annotations

from logdoctor.running.child import Child, CommandError
from logdoctor.running.pump import Pump
from logdoctor.running.spool import Spool

__all__ = ["Child", "CommandError", "Pump", "Spool"]
