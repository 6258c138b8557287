"""The files of one folder, newest first, to open one or to go to another folder."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.content import Content
from textual.message import Message

from logdoctor.intake import printable
from logdoctor.masking import mask
from logdoctor.terminal.widgets.prose import Para
from logdoctor.terminal.widgets.rows import Row, Rows

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["Entry", "FolderRows", "entries_of"]

MANY = 500
TELLING = (".log", ".txt", ".out", ".gz", ".xz", ".zst")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A file or folder as it is listed."""

    name: str
    folder: bool
    size: int
    changed: float


class FolderRows(Rows):
    """Ids are `row-N`; row 0 leads to the folder above."""

    class FileChosen(Message):
        """A file is to be opened."""

        def __init__(self, path: str) -> None:
            super().__init__()
            self.path = path

    def __init__(self, folder: Path, *, id: str | None = None) -> None:  # noqa: A002 - as all widgets name it
        super().__init__(id=id)
        self.folder = folder
        self._entries: list[Entry] = []

    def on_mount(self) -> None:
        """List the folder."""
        self.show_folder(self.folder)

    def show_folder(self, folder: Path) -> None:
        """List another folder; one that can't be read is told and nothing changes."""
        try:
            found, left_out = entries_of(folder)
        except OSError as error:
            self.notify(printable(f"{folder}: {error.strerror}"), severity="error", markup=False)
            return
        self.folder, self._entries = folder, found
        self.border_title = f"Files in {mask(printable(str(folder.resolve())))}".replace("[", "\\[")
        self.fill([("row-0", [Para("../")]), *self._rows()])
        if left_out:
            self.notify(f"{left_out} more are not listed; type the path instead.")
        self.highlighted = 1 if found else 0

    def _rows(self) -> Iterator[Row]:
        for number, entry in enumerate(self._entries, start=1):
            name = mask(printable(entry.name)) + ("/" if entry.folder else "")
            about = "" if entry.folder else f"  {_size(entry.size)}, {_when(entry.changed)}"
            yield f"row-{number}", [Para(Content.assemble(name, Content.styled(about, "$foreground 70%")))]

    def on_option_list_option_selected(self, event: Rows.OptionSelected) -> None:
        """Go to the folder, or tell the file."""
        event.stop()
        if event.option.id is None:
            return
        number = int(event.option.id.removeprefix("row-"))
        if number == 0:
            self.show_folder(self.folder.resolve().parent)
            return
        entry = self._entries[number - 1]
        if entry.folder:
            self.show_folder(self.folder / entry.name)
        else:
            self.post_message(self.FileChosen(str(self.folder / entry.name)))


def entries_of(folder: Path) -> tuple[list[Entry], int]:
    """Files that look like logs, other files, folders, each newest first; and how many did not fit. No hidden ones."""
    found = []
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith("."):
                continue
            try:
                status, is_folder = entry.stat(), entry.is_dir()
            except OSError:  # a link that leads nowhere
                continue
            found.append(Entry(name=entry.name, folder=is_folder, size=status.st_size, changed=status.st_mtime))
    found.sort(key=lambda e: (e.folder, not e.name.lower().endswith(TELLING), -e.changed, e.name))
    return found[:MANY], max(0, len(found) - MANY)


def _size(size: int) -> str:
    for unit, name in ((1e9, "GB"), (1e6, "MB"), (1e3, "KB")):
        if size >= unit:
            return f"{size / unit:.1f} {name}" if size < 10 * unit else f"{size / unit:.0f} {name}"
    return f"{size} byte{'' if size == 1 else 's'}"


def _when(changed: float) -> str:
    return time.strftime("%Y-%m-%d %H:%M", time.localtime(changed))
