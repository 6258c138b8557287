"""Two runs of a job side by side: how far each got, what became of the failure, where the logs part, what changed."""

from __future__ import annotations

from logdoctor.memory.comparing.comparison import compare, compare_files
from logdoctor.memory.comparing.model import Comparison

__all__ = ["Comparison", "compare", "compare_files"]
