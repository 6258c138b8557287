"""Finds set-up files in the usual places of a work tree and a home folder, and reads them within bounds.

It also knows what git keeps of a file: the index is read here, as running git in a foreign work tree could run
whatever that tree's own configuration names.
"""

from __future__ import annotations

import os
import re
import stat
import struct
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal
from urllib.parse import SplitResult, urlsplit

from logdoctor.setup_files.values import Place, Remark

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

__all__ = [
    "MOST_BYTES",
    "Address",
    "Found",
    "SetupText",
    "WorkTree",
    "classify",
    "find",
    "maven_options",
    "maven_version",
    "read_text",
    "read_texts",
]

MOST_BYTES = 8 * 1024 * 1024
MOST_INDEX_BYTES = 64 * 1024 * 1024
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
_MAVEN_VERSION = re.compile(r"^\s*distributionUrl\s*[=:].*?\bapache-maven-(\d[\w.-]*?)-bin\.", re.MULTILINE)
_GIT_MODES = frozenset([0o040000, 0o100644, 0o100755, 0o120000, 0o160000])


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
        """The first line that holds all the pieces, else the first line."""
        holding = (n for n, line in enumerate(self.lines, start=1) if all(piece in line for piece in pieces))
        return self.place(next(holding, 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """The parts of an address that matter here; `bare` holds neither user, password nor query."""

    bare: str
    scheme: str = ""
    host: str = ""
    port: int | None = None
    path: str = ""
    user: str | None = None
    password: str | None = field(default=None, repr=False)

    @classmethod
    def of(cls, url: str) -> Address:
        """Never fails: what is no address keeps its text as `bare`."""
        try:
            parts = urlsplit(url.strip())
            host, port = (parts.hostname or "").rstrip("."), parts.port
        except ValueError:
            return cls(bare=re.sub(r"//[^/]*@", "//", url))
        return cls(
            bare=_bare(parts, url.strip()),
            scheme=parts.scheme.lower().rsplit("+", 1)[-1],
            host=host,
            port=port,
            path=parts.path,
            user=parts.username or None,
            password=parts.password or None,
        )

    @property
    def loopback(self) -> bool:
        """Whether it never leaves the machine."""
        return self.host == "localhost" or self.host == "::1" or self.host.startswith("127.")

    @property
    def in_the_clear(self) -> bool:
        """Whether it crosses the network without encryption."""
        return self.scheme == "http" and bool(self.host) and not self.loopback

    @property
    def literal_password(self) -> bool:
        """Whether a password, or a token in the user's place, is written out."""
        return self.password is not None and not re.search(r"\$\{|\$\(|\$[A-Z_]|%\w+%|\{\{|^\*+$|^<.*>$", self.password)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkTree:
    """A folder that is being built, and what git keeps of it."""

    folder: Path | None = None
    git_root: Path | None = None
    modes: Mapping[str, int] | None = None
    """Path below `git_root` to file mode, from git's index; None: no git, or an index that can't be read."""

    @classmethod
    def of(cls, folder: Path | None) -> WorkTree:
        """The work tree of a folder."""
        if folder is None:
            return cls()
        root = next((f for f in (folder.resolve(), *folder.resolve().parents) if (f / ".git").exists()), None)
        return cls(folder=folder, git_root=root, modes=_index_modes(root) if root else None)

    def mode(self, path: Path) -> int | None:
        """The mode in git's index; None when git does not keep the file or is not there."""
        if self.modes is None or self.git_root is None:
            return None
        try:
            return self.modes.get(path.resolve().relative_to(self.git_root).as_posix())
        except (ValueError, OSError):
            return None

    def holds(self, path: Path) -> bool:
        """Whether the file lies in the tree."""
        return self.folder is not None and path.resolve().is_relative_to(self.folder.resolve())

    def exposure(self, path: Path) -> Literal["warning", "note"] | None:
        """How bad a secret written out in that file is: shared through git, only lying there, or at home."""
        if not self.holds(path):
            return None
        return "note" if self.modes is not None and self.mode(path) is None else "warning"


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
    """The set-up files of a work tree and of a home folder (either may be None)."""
    files: dict[Kind, list[Path]] = {}
    for path in [*_home_files(home), *_tree_files(folder)]:
        kind = classify(path)
        if kind is not None and path not in files.setdefault(kind, []):
            files[kind].append(path)
    settings = maven_options(folder)[0] or _existing(home, ".m2/settings.xml")
    return Found(
        settings=settings,
        toolchains=_existing(home, ".m2/toolchains.xml"),
        files={kind: tuple(paths) for kind, paths in files.items()},
    )


def maven_options(folder: Path | None) -> tuple[Path | None, tuple[str, ...]]:
    """Settings file and active profiles that `.mvn/maven.config` passes (one option a line, or several on one)."""
    config = _existing(folder, ".mvn/maven.config")
    read = read_text(config) if config else None
    if folder is None or not isinstance(read, SetupText):
        return None, ()
    words = read.text.split()
    settings: Path | None = None
    profiles: list[str] = []
    for word, following in zip(words, [*words[1:], ""], strict=True):
        if match := re.fullmatch(r"(?:-s|--settings)(?:=?(.+))?", word):
            settings = folder / (match[1] or following)
        elif match := re.fullmatch(r"(?:-P|--activate-profiles)(?:=?(.+))?", word):
            profiles += [p for p in (match[1] or following).split(",") if p and p[0] not in "!-?"]
    return settings, tuple(profiles)


def maven_version(folder: Path | None) -> str | None:
    """The version that the Maven wrapper fetches, or None."""
    properties = _existing(folder, ".mvn/wrapper/maven-wrapper.properties")
    read = read_text(properties) if properties else None
    match = _MAVEN_VERSION.search(read.text) if isinstance(read, SetupText) else None
    return match[1] if match else None


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
        if own or kind in ("gradle", "package"):
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


def _bare(parts: SplitResult, url: str) -> str:
    if not parts.scheme or not parts.netloc:
        return url
    return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path}"


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


def _index_modes(root: Path) -> Mapping[str, int] | None:
    """Paths and modes of git's index (gitformat-index, versions 2 to 4), or None where it can't be read."""
    try:
        git = root / ".git"
        if git.is_file():
            link = git.read_text("utf-8", "replace")[:4096].strip()
            git = root / link.removeprefix("gitdir:").strip()
        index = git / "index"
        if not index.is_file() or index.stat().st_size > MOST_INDEX_BYTES:
            return None
        data = index.read_bytes()
    except (OSError, ValueError):
        return None
    for hash_size in (20, 32):
        try:
            return _parsed_index(data, hash_size)
        except (ValueError, IndexError, struct.error):
            continue
    return None


def _parsed_index(data: bytes, hash_size: int) -> dict[str, int]:
    signature, version, count = struct.unpack_from(">4sII", data)
    if signature != b"DIRC" or version not in (2, 3, 4):
        raise ValueError(version)
    modes: dict[str, int] = {}
    place, name = 12, b""
    for _ in range(count):
        start = place
        mode = struct.unpack_from(">I", data, start + 24)[0]
        place = start + 40 + hash_size
        flags = struct.unpack_from(">H", data, place)[0]
        place += 4 if flags & 0x4000 else 2
        if mode not in _GIT_MODES:
            raise ValueError(mode)
        if version == 4:
            dropped, place = _varint(data, place)
            name = name[: len(name) - dropped]
        else:
            name = b""
        end = data.index(b"\0", place)
        name += data[place:end]
        # Up to version 3 an entry is filled up with one to eight NULs to a multiple of eight bytes.
        place = end + 1 if version == 4 else start + (end - start + 8) // 8 * 8
        modes[name.decode("utf-8", "surrogateescape")] = mode
    # A split index keeps most entries in another file: half of the truth would accuse the rest.
    if data[place : place + 4] == b"link":
        raise ValueError(place)
    return modes


def _varint(data: bytes, place: int) -> tuple[int, int]:
    """The offset encoding of pack files, which version 4 uses for the length of the shared prefix."""
    byte = data[place]
    value = byte & 0x7F
    while byte & 0x80:
        place += 1
        byte = data[place]
        value = ((value + 1) << 7) | (byte & 0x7F)
    return value, place + 1


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
        settings=_existing(home, ".m2/settings.xml") if "maven" in kinds else None,
        toolchains=_existing(home, ".m2/toolchains.xml") if "maven" in kinds else None,
        files={kind: tuple(found) for kind, found in kinds.items()},
    )
