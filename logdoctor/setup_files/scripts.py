"""The scripts of a work tree that a build starts: execute bit, line ends, and what the wrappers need beside them.

The execute bit is the one that git keeps, where git keeps the file: a checkout gets that one, whatever the disk has.
"""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING

from logdoctor.setup_files.finding import SetupText, read_text, walk
from logdoctor.setup_files.gathering import Gathering

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from logdoctor.setup_files.values import Place, Setup, Severity
    from logdoctor.setup_files.work_tree import WorkTree

__all__ = ["check_scripts"]

WRAPPERS = {"mvnw": ".mvn/wrapper/maven-wrapper.properties", "gradlew": "gradle/wrapper/gradle-wrapper.properties"}
MOST_SCRIPTS = 500
MOST_CALLERS = 200
LONGEST_CALLER = 512 * 1024
CALLERS = (".yml", ".yaml", ".json", ".sh", ".mk", ".groovy", ".xml", ".toml")
CALLER_NAMES = ("Makefile", "makefile", "Dockerfile", "Containerfile", "Justfile", "justfile")

_CALL = re.compile(
    r"(?P<before>(?:(?<![\w./-])(?:sh|bash|dash|ksh|zsh|source|chmod[^\n;&|]{0,40}|\.)\s+(?:-\w+\s+)*)?)\./(?P<path>[\w./-]+)"
)


def check_scripts(tree: WorkTree) -> Setup:
    """Remarks on the scripts of a work tree."""
    report = Gathering(tree=tree)
    if tree.folder is None:
        return report.setup()
    files = list(walk(tree.folder))
    scripts = [f for f in files if f.name in WRAPPERS or f.suffix == ".sh"][:MOST_SCRIPTS]
    calls = _calls(tree.folder, files) if any(f.suffix == ".sh" for f in scripts) else {}
    for path in scripts:
        text = read_text(path)
        if isinstance(text, SetupText):
            _line_ends(text, report)
            _execute_bit(text, calls, report)
            if path.name in WRAPPERS:
                _wrapper(text, report)
    return report.setup()


def _execute_bit(text: SetupText, calls: Mapping[str, Place], report: Gathering) -> None:
    path = text.path
    if _executable(path, report.tree) is not False:
        return
    in_git = report.tree.mode(path) is not None
    command = f"git update-index --chmod=+x {path.name}, and commit it" if in_git else f"chmod +x {path.name}"
    mend = f"Run {command}."
    where = " in git" if in_git else ""
    if path.name in WRAPPERS:
        what = (
            f"{path.name} has no execute bit{where}, so ./{path.name} ends with 'Permission denied' (exit status 126)."
        )
        report.remark("error", "script-not-executable", text.place(1), what, mend)
    elif text.text.startswith("#!"):
        called = calls.get(path.name)
        severity: Severity = "warning" if called else "note"
        by = (
            f" but {called.file} calls it directly (line {called.line})"
            if called
            else "; it has to be started through its shell"
        )
        report.remark(
            severity, "script-not-executable", text.place(1), f"{path.name} has no execute bit{where}{by}.", mend
        )


def _executable(path: Path, tree: WorkTree) -> bool | None:
    """None where nothing tells: Windows keeps no such bit."""
    mode = tree.mode(path)
    if mode is not None:
        return bool(mode & 0o111)
    if os.name == "nt":
        return None
    try:
        return bool(path.stat().st_mode & 0o111)
    except OSError:
        return None


def _line_ends(text: SetupText, report: Gathering) -> None:
    if not text.text.startswith("#!") or "\r\n" not in text.text or os.name == "nt":
        return
    name = text.path.name
    mend = f"Save it with LF line ends, and write '{name} text eol=lf' into .gitattributes."
    lines = text.text.split("\n")
    if lines[0].endswith("\r"):
        program = lines[0][2:].strip().split(" ")[0]
        what = f"{name} has CRLF line ends: the system looks for a program named {program}\\r and finds none."
        report.remark("error", "script-crlf", text.place(1), what, mend)
    else:
        first = next(number for number, line in enumerate(lines, start=1) if line.endswith("\r"))
        what = f"{name} has CRLF line ends from line {first} on; the shell takes the CR as a part of the words."
        report.remark("warning", "script-crlf", text.place(first), what, mend)


def _wrapper(text: SetupText, report: Gathering) -> None:
    """What a wrapper script needs beside it."""
    name = text.path.name
    properties = text.path.parent / WRAPPERS[name]
    if not properties.is_file():
        what = f"{name} is there, but {WRAPPERS[name]} is missing, so it does not know what to fetch."
        report.remark(
            "error", "wrapper-properties-missing", text.place(1), what, f"Add {WRAPPERS[name]} and keep it in git."
        )
    # Since version 3.2 of Maven's wrapper there is a form that is a script alone; only the older form starts a jar. The
    # Gradle wrapper's jar is looked at with its properties.
    elif (
        name == "mvnw" and "maven-wrapper.jar" in text.text and not properties.with_name("maven-wrapper.jar").is_file()
    ):
        fetches = "wrapperUrl" in text.text or "curl" in text.text
        what = f"{name} starts maven-wrapper.jar, which is not there" + (
            "; it fetches it at the first run of each fresh checkout, which needs the network." if fetches else "."
        )
        mend = (
            "Add .mvn/wrapper/maven-wrapper.jar to git, or change to the wrapper form without a jar (type=only-script)."
        )
        report.remark("note" if fetches else "error", "wrapper-jar-missing", text.place(1), what, mend)


def _calls(folder: Path, files: Sequence[Path]) -> dict[str, Place]:
    """The scripts that some other file starts as `./path/name.sh`, by name."""
    found: dict[str, Place] = {}
    hidden = [*sorted(folder.glob(".*.yml")), *sorted(folder.glob(".*/*.yml")), *sorted(folder.glob(".*/*/*.yml"))]
    callers = [f for f in files if f.suffix in CALLERS or f.name in CALLER_NAMES or not f.suffix]
    for path in [*hidden, *callers][:MOST_CALLERS]:
        try:
            small = path.stat().st_size <= LONGEST_CALLER
        except OSError:
            continue
        text = read_text(path) if small else None
        if not isinstance(text, SetupText):
            continue
        for number, line in enumerate(text.lines, start=1):
            for match in _CALL.finditer(line[:4096]) if "./" in line else ():
                name = match["path"].rpartition("/")[2]
                if not match["before"] and name.endswith(".sh") and not line.lstrip().startswith("#"):
                    found.setdefault(name, text.place(number))
    return found
