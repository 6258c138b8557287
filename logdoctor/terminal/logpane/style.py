"""The look of the pane, read from its own style sheet so that the widget works in any app."""

from __future__ import annotations

from pathlib import Path

__all__ = ["STYLE"]

STYLE = (Path(__file__).parent.parent / "styles" / "logpane.tcss").read_text(encoding="utf-8")
