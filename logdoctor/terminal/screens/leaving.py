"""Going back, the same way from every screen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from textual.screen import Screen

__all__ = ["go_back"]

BOTTOM = 2  # Textual's own empty screen, and the first of ours


def go_back(screen: Screen[Any]) -> None:
    """To the screen before; the first one stays, and says how to leave."""
    if len(screen.app.screen_stack) > BOTTOM:
        screen.app.pop_screen()
    else:
        screen.notify("This is the first screen; q quits, Ctrl+P lists all commands.")
