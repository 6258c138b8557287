"""Where a report points: file names as URI references (RFC 3986, RFC 8089), links into the log, files of a work tree."""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote, urlsplit

from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from logdoctor.reports.plain import Gate

__all__ = ["class_file", "file_uri", "log_link", "relative_uri", "tree_path"]

_DRIVE = lazy(r"[A-Za-z]:[\\/]")
_FORWARD = "/-._~!$&'()*+,;=@"
"""What may stand unescaped in a path of a URI (RFC 3986, section 3.3), but for the colon."""
MOST_PARTS = 64
MOST_ENTRIES = 50_000
"""Files and folders of a work tree that are looked at for a class; a larger tree is not searched to its end."""
_CLASS = lazy(r"(?<![\w.$])((?:[a-z_]\w*\.)+[A-Z]\w*)")
_CLASS_SUFFIXES = (".java", ".kt", ".groovy", ".scala")
_NO_SOURCES = frozenset(["node_modules", "target", "build", "out", "dist", "bin"])


def file_uri(name: str) -> str:
    """A relative name as a relative reference, an absolute one as a `file:` URI."""
    if name.lower().startswith("file:/"):
        name = "/" + name[5:].lstrip("/")
    if _DRIVE.match(name):
        return f"file:///{name[0].upper()}:" + quote(name[2:].replace("\\", "/"), safe=_FORWARD)
    if name.startswith("\\\\"):
        return "file://" + quote(name.replace("\\", "/").lstrip("/"), safe=_FORWARD)
    if name.startswith("/"):
        return "file:///" + quote(name.lstrip("/"), safe=_FORWARD)
    return quote(name.replace("\\", "/").removeprefix("./").lstrip("/"), safe=_FORWARD) or "log"


def relative_uri(name: str, root: Path | None) -> tuple[str, bool]:
    """A source file's reference, and whether it is relative to the work tree."""
    inside = tree_path(name, root)
    if inside is not None:
        return file_uri(inside), True
    uri = file_uri(name)
    return uri, False


def tree_path(name: str, root: Path | None) -> str | None:
    """A file that a log names, as a path within the work tree; None where that can't be told.

    A log's path is the agent's: its longest tail that is a file here counts. Without a work tree only a relative
    path that does not leave it can be told.
    """
    path = name.replace("\\", "/")
    if path.lower().startswith("file:/"):
        path = "/" + path[5:].lstrip("/")
    absolute = path.startswith("/") or bool(_DRIVE.match(name))
    parts = [part for part in path.split("/") if part not in ("", ".")]
    if ".." in parts or not parts or len(parts) > MOST_PARTS or "\0" in path:
        return None
    if root is not None:
        # The name alone is a tail of too many paths: it counts only right below a folder called like the work tree.
        last = len(parts) - 1
        alone = not absolute or (last > 0 and parts[last - 1] == root.name)
        for start in range(len(parts) if alone else last):
            tail = "/".join(parts[start:])
            if _is_file(root, tail):
                return tail
    return None if absolute else "/".join(parts)


def _is_file(root: Path, tail: str) -> bool:
    try:
        return (root / tail).is_file()
    except (OSError, ValueError):  # a name too long, or with what no file name may hold
        return False


def class_file(text: str, root: Path | None) -> str | None:
    """The source file of the first class with a package that a text names; None unless the work tree has just one."""
    named = _CLASS.search(text)
    if named is None or root is None:
        return None
    tail = "/" + named[1].replace(".", "/")
    stem = named[1].rpartition(".")[2]
    fitting = [path for path in _classes(root).get(stem, ()) if f"/{path}".rpartition(".")[0].endswith(tail)]
    return fitting[0] if len(fitting) == 1 else None


@lru_cache(maxsize=2)
def _classes(root: Path) -> dict[str, tuple[str, ...]]:
    """The source files of classes below a folder, by name without ending."""
    found: dict[str, tuple[str, ...]] = {}
    seen = 0
    for folder, folders, files in os.walk(root):
        folders[:] = sorted(f for f in folders if not f.startswith(".") and f not in _NO_SOURCES)
        seen += len(folders) + len(files)
        if seen > MOST_ENTRIES:
            break
        for file in files:
            stem, dot, ending = file.rpartition(".")
            if dot + ending in _CLASS_SUFFIXES:
                found[stem] = (*found.get(stem, ()), (Path(folder) / file).relative_to(root).as_posix())
    return found


def log_link(log_url: str | None, line: int, gate: Gate) -> str | None:
    """The address of a line of the log; None where no address is given or it is none of http or https."""
    if not log_url:
        return None
    link = gate.text(log_url.replace("{line}", str(line)))
    try:
        parts = urlsplit(link)
    except ValueError:
        return None
    if parts.scheme not in ("http", "https") or not parts.netloc:
        return None
    start = f"{parts.scheme}://{parts.netloc}"
    return quote(start, safe="/-._~!$&'()*+,;=@:%[]") + quote(link[len(start) :], safe="/-._~!$&'()*+,;=@:?#%")
