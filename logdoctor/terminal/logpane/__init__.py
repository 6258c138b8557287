"""The log pane: a log of any size to look through, with findings marked, folds, search and copying."""

from __future__ import annotations

from logdoctor.terminal.logpane.marks import LogMark
from logdoctor.terminal.logpane.pane import LogPane

__all__ = ["LogMark", "LogPane"]
