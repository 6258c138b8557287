"""Finds set-up files in the usual places of a work tree and a home folder, and reads them within bounds."""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from logdoctor.setup_files.maven_text import options_of, words_of_file
from logdoctor.setup_files.values import Place, Remark

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

__all__ = [
    "MOST_BYTES",
    "Found",
    "SetupText",
    "classify",
    "find",
    "given",
    "read_text",
    "read_texts",
    "walk",
]

MOST_BYTES = 8 * 1024 * 1024
MOST_PLACES = 50
MOST_ENTRIES = 20_000
"""Names looked at in one work tree; a tree with more is checked as far as that."""
DEEPEST = 4

Kind = Literal["maven", "npmrc", "package", "pip", "pyproject", "requirements", "pypirc", "gradle"]

_NAMES: Mapping[str, Kind] = {
    ".npmrc": "npmrc",
    "package.json": "package",
    "pip.conf": "pip",
    "pip.ini": "pip",
    "pyproject.toml": "pyproject",
    "uv.toml": "pyproject",
    ".pypirc": "pypirc",
    "build.gradle": "gradle",
    "build.gradle.kts": "gradle",
    "settings.gradle": "gradle",
    "settings.gradle.kts": "gradle",
    "gradle.properties": "gradle",
    "gradle-wrapper.properties": "gradle",
}
_TOOLS: Mapping[Kind, str] = {
    "maven": "maven",
    "npmrc": "npm",
    "package": "npm",
    "pip": "python",
    "pyproject": "python",
    "requirements": "python",
    "pypirc": "python",
    "gradle": "gradle",
}
# Folders that hold what was downloaded or built, or set-ups made for tests: their files steer no build of this tree.
_PASSED_OVER = frozenset(
    [
        "node_modules",
        "target",
        "build",
        "dist",
        "out",
        "venv",
        "env",
        "site-packages",
        "vendor",
        "__pycache__",
        "src",
        "test",
        "tests",
        "testdata",
        "fixtures",
        "examples",
        "samples",
    ]
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupText:
    """A set-up file that was read."""

    path: Path
    text: str = field(repr=False)

    @property
    def lines(self) -> list[str]:
        """Its lines, without their ends."""
        return self.text.replace("\r\n", "\n").split("\n")

    def place(self, line: int) -> Place:
        """Where a line stands."""
        return Place(file=str(self.path), line=line)

    def place_of(self, *pieces: str) -> Place:
        """The first line that holds all the pieces (the first one is looked for), else the first line."""
        start = 0
        for _ in range(MOST_PLACES):
            start = self.text.find(pieces[0], start)
            if start < 0:
                break
            end = self.text.find("\n", start)
            line = self.text[self.text.rfind("\n", 0, start) + 1 : end if end >= 0 else None]
            if all(piece in line for piece in pieces):
                return self.place(self.text.count("\n", 0, start) + 1)
            start += 1
        return self.place(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The files that were found, by kind; within a kind the strongest comes last."""

    settings: Path | None = None
    toolchains: Path | None = None
    files: Mapping[Kind, tuple[Path, ...]] = field(default_factory=dict)

    def of(self, kind: Kind) -> tuple[Path, ...]:
        """The files of one kind."""
        return self.files.get(kind, ())


def classify(path: Path) -> Kind | None:
    """What kind of set-up file a name stands for."""
    name = path.name
    if name in _NAMES:
        return _NAMES[name]
    if name.endswith((".gradle", ".gradle.kts")):
        return "gradle"
    if name.endswith((".xml", ".pom")):
        return "maven"
    return "requirements" if re.fullmatch(r"(?:[\w.-]*requirements|constraints)[\w.-]*\.(?:txt|in)", name) else None


def find(folder: Path | None, home: Path | None) -> Found:
    """The set-up files of a work tree and of a home folder (either may be None).

    Of the home folder only what the tools of the work tree read; all of it where the work tree has nothing.
    """
    own = _by_kind(_tree_files(folder))
    tools = {_TOOLS[kind] for kind in own}
    files = {
        kind: (*(paths if not tools or _TOOLS[kind] in tools else ()), *own.get(kind, ()))
        for kind, paths in {**dict.fromkeys(own, ()), **_by_kind(_home_files(home))}.items()
    }
    maven = not tools or "maven" in tools
    return Found(
        settings=_settings(folder, home) if maven else None,
        toolchains=_existing(home, ".m2/toolchains.xml") if maven else None,
        files={kind: paths for kind, paths in files.items() if paths},
    )


def given(paths: Sequence[Path], home: Path | None) -> Found:
    """The files named by a person, with the files that the same tools read beside them and at home."""
    kinds: dict[Kind, list[Path]] = {}
    for path in paths:
        kind = classify(path)
        if kind is not None:
            kinds.setdefault(kind, []).append(path)
    if "package" in kinds or "npmrc" in kinds:
        beside = [q for p in kinds.get("package", []) if (q := _existing(p.parent, ".npmrc"))]
        at_home = [q for q in [_existing(home, ".npmrc")] if q]
        kinds["npmrc"] = list(dict.fromkeys([*at_home, *beside, *kinds.get("npmrc", [])]))
    if "gradle" in kinds:
        names = (
            "settings.gradle",
            "settings.gradle.kts",
            "gradle.properties",
            "gradle/wrapper/gradle-wrapper.properties",
        )
        folders = dict.fromkeys(p.parent for p in kinds["gradle"])
        beside = [q for folder in folders for name in names if (q := _existing(folder, name))]
        kinds["gradle"] = list(dict.fromkeys([*kinds["gradle"], *beside]))
    return Found(
        settings=_settings(kinds["maven"][0].parent, home) if "maven" in kinds else None,
        toolchains=_existing(home, ".m2/toolchains.xml") if "maven" in kinds else None,
        files={kind: tuple(found) for kind, found in kinds.items()},
    )


def read_text(path: Path) -> SetupText | Remark:
    """The file as text, or a remark that says why it can't be used."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            return _unreadable(path, "is no ordinary file", "name a file")
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else None) or "can't be opened"
        return _unreadable(path, f"can't be read: {reason}", "check the path and the rights on it")
    if len(data) > MOST_BYTES:
        return _unreadable(path, "is larger than 8 MiB and was not read", "name the set-up file itself")
    return SetupText(path=path, text=_decoded(data))


def read_texts(paths: Iterable[Path]) -> tuple[list[SetupText], list[Remark]]:
    """All files that can be read, and a remark for each other."""
    outcomes = [read_text(path) for path in paths]
    return (
        [one for one in outcomes if isinstance(one, SetupText)],
        [one for one in outcomes if isinstance(one, Remark)],
    )


def walk(folder: Path) -> Iterator[Path]:
    """The files below a folder, within bounds, in a stable order; links to folders are not followed."""
    waiting: list[tuple[Path, int]] = [(folder, 0)]
    seen = 0
    while waiting:
        place, depth = waiting.pop(0)
        try:
            entries = sorted(os.scandir(place), key=lambda entry: entry.name)
        except OSError:
            continue
        for entry in entries:
            seen += 1
            if seen > MOST_ENTRIES:
                return
            if entry.is_dir(follow_symlinks=False):
                if depth < DEEPEST and not entry.name.startswith(".") and entry.name not in _PASSED_OVER:
                    waiting.append((place / entry.name, depth + 1))
            elif entry.is_file():
                yield place / entry.name


def _settings(folder: Path | None, home: Path | None) -> Path | None:
    """The settings of the home folder, unless the build's own options name others."""
    config = _existing(folder, ".mvn/maven.config")
    if config is not None and options_of(words_of_file(config)).settings:
        return None
    return _existing(home, ".m2/settings.xml")


def _by_kind(paths: Iterable[Path]) -> dict[Kind, tuple[Path, ...]]:
    kinds: dict[Kind, dict[Path, None]] = {}
    for path in paths:
        kind = classify(path)
        if kind is not None:
            kinds.setdefault(kind, {})[path] = None
    return {kind: tuple(found) for kind, found in kinds.items()}


def _home_files(home: Path | None) -> list[Path]:
    places = (
        ".npmrc",
        "pip/pip.ini",
        ".pip/pip.conf",
        ".config/pip/pip.conf",
        "Library/Application Support/pip/pip.conf",
        ".pypirc",
        ".gradle/gradle.properties",
        ".config/uv/uv.toml",
    )
    return [path for place in places if (path := _existing(home, place))]


def _tree_files(folder: Path | None) -> list[Path]:
    if folder is None:
        return []
    places = (".npmrc", "package.json", "pip.conf", "pip.ini", "pyproject.toml", "uv.toml", ".pypirc", "pom.xml")
    found = [path for place in places if (path := _existing(folder, place))]
    found += sorted(p for p in folder.glob("requirements/*.txt") if p.is_file())
    wrapper = _existing(folder, "gradle/wrapper/gradle-wrapper.properties")
    found += [wrapper] if wrapper else []
    for path in walk(folder):
        kind = classify(path)
        own = path.parent == folder and kind == "requirements"
        if own or kind in ("gradle", "package", "npmrc"):
            found.append(path)
    return found


def _existing(folder: Path | None, place: str) -> Path | None:
    if folder is None:
        return None
    path = folder / place
    try:
        return path if path.is_file() else None
    except OSError:
        return None


def _decoded(data: bytes) -> str:
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(encoding, "replace")
    return data.decode("utf-8-sig", "replace")


def _unreadable(path: Path, problem: str, mend: str) -> Remark:
    return Remark(
        severity="error",
        what=f"The file {path} {problem}.",
        mend=f"{mend[0].upper()}{mend[1:]}.",
        place=Place(file=str(path), line=1),
        code="file-unreadable",
    )
