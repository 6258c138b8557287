"""Where a log comes in: the paste box and the path line."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from textual.content import Content
from textual.suggester import Suggester
from textual.widgets import Input, Static

if TYPE_CHECKING:
    from textual import events

__all__ = ["PasteBox", "PathInput", "PathSuggester"]


class PasteBox(Static, can_focus=True):
    """Shows where to paste; the paste itself goes on to the app, and is read at once."""

    def on_mount(self) -> None:
        """Say what the box is for."""
        self.border_title = "Paste a log"
        self.update(
            Content(
                "Paste the console log here with your terminal's paste key: it is read at once and stays on this machine.\n"
                "Up to 5 MB; a longer one: open its file below, or  some-command 2>&1 | logdoctor open -"
            )
        )


class PathSuggester(Suggester):
    """Completes the path of a file as it is typed."""

    def __init__(self) -> None:
        super().__init__(use_cache=False, case_sensitive=True)

    async def get_suggestion(self, value: str) -> str | None:
        """The first name that begins like the typed one."""
        return completed(value)


def completed(value: str) -> str | None:
    """The path with the rest of the first name that begins so; None where there is none."""
    folder, _, begun = value.rpartition("/")
    place = Path(folder + "/" if "/" in value else ".").expanduser()
    if not begun:
        return None
    try:
        with os.scandir(place) as entries:
            names = sorted(e.name + ("/" if e.is_dir() else "") for e in entries if e.name.startswith(begun))
    except OSError:
        return None
    return value[: len(value) - len(begun)] + names[0] if names else None


class PathInput(Input):
    """The path of a log; a paste of several lines is no path and goes on to the app."""

    def _on_paste(self, event: events.Paste) -> None:
        if "\n" in event.text.strip():
            event.prevent_default()
            return
        super()._on_paste(event)
