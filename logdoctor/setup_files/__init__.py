"""Settings, build and environment files as witnesses: where each download and upload really goes, and what can't work.

Nothing is run and nothing is asked over a network; what a file does not show is reported as incomplete, not guessed.
"""

from __future__ import annotations

from logdoctor.setup_files.values import BUILT_IN, Place, Remark, Route, Setup, SetupFact, joined

__all__ = ["BUILT_IN", "Place", "Remark", "Route", "Setup", "SetupFact", "joined"]
