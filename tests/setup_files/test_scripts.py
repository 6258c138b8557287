"""Scripts of a work tree: execute bit (by git's index and by the disk), line ends, wrappers."""

from __future__ import annotations

import hashlib
import os
import struct
import subprocess
from typing import TYPE_CHECKING

import pytest

from logdoctor.setup_files.scripts import check_scripts
from logdoctor.setup_files.work_tree import WorkTree

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from logdoctor.setup_files.values import Setup

JAR = ".mvn/wrapper/maven-wrapper.jar"
PROPERTIES = ".mvn/wrapper/maven-wrapper.properties"


def write(folder: Path, files: Mapping[str, str], executable: tuple[str, ...] = ()) -> WorkTree:
    """A work tree with these files."""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode())
        path.chmod(0o755 if name in executable else 0o644)
    return WorkTree.of(folder)


def git(folder: Path, *arguments: str) -> str:
    """Run git in a folder, without the settings of this machine."""
    environment = {"PATH": os.environ["PATH"], "HOME": str(folder), "GIT_CONFIG_NOSYSTEM": "1"}
    done = subprocess.run(["git", *arguments], cwd=folder, env=environment, capture_output=True, check=True, text=True)
    return done.stdout


def codes(setup: Setup, *severities: str) -> list[str]:
    """The remarks' codes, all or of some severities."""
    return [r.code for r in setup.remarks if not severities or r.severity in severities]


CORRECT: dict[str, tuple[dict[str, str], tuple[str, ...]]] = {
    "wrapper with its jar": (
        {"mvnw": "#!/bin/sh\nexec java -jar .mvn/wrapper/maven-wrapper.jar\n", PROPERTIES: "a=b\n", JAR: "PK"},
        ("mvnw",),
    ),
    "wrapper that is a script alone": ({"mvnw": "#!/bin/sh\nset -euf\ncurl x\n", PROPERTIES: "a=b\n"}, ("mvnw",)),
    "gradle wrapper": (
        {
            "gradlew": "#!/bin/sh\n",
            "gradle/wrapper/gradle-wrapper.properties": "distributionUrl=https\\://g.example/x.zip\n",
        },
        ("gradlew",),
    ),
    "script with its bit": ({"build.sh": "#!/bin/sh\necho\n", "Makefile": "all:\n\t./build.sh\n"}, ("build.sh",)),
    "script that is sourced": ({"lib.sh": "#!/bin/sh\n", "run.sh": "#!/bin/sh\n. ./lib.sh\n"}, ("run.sh",)),
    "script started through its shell": ({"a.sh": "#!/bin/sh\n", ".ci.yml": "script:\n  - bash ./a.sh\n"}, ()),
    "bit set before the call": ({"a.sh": "#!/bin/sh\n", ".ci.yml": "script: chmod +x ./a.sh\n"}, ()),
    "a list with windows line ends": ({"list.sh": "a\r\nb\r\n", "readme.txt": "#!/x\r\n"}, ()),
    "scripts that were downloaded": ({"node_modules/x/a.sh": "#!/bin/sh\r\n", "target/b.sh": "#!/bin/sh\r\n"}, ()),
    "empty": ({}, ()),
}


@pytest.mark.parametrize(("files", "executable"), CORRECT.values(), ids=list(CORRECT))
def test_a_correct_work_tree_gets_no_error_and_no_warning(
    tmp_path: Path, files: dict[str, str], executable: tuple[str, ...]
) -> None:
    assert codes(check_scripts(write(tmp_path, files, executable)), "error", "warning") == []


@pytest.mark.parametrize(
    ("files", "executable", "severity", "code"),
    [
        ({"mvnw": "#!/bin/sh\n", PROPERTIES: ""}, (), "error", "script-not-executable"),
        ({"gradlew": "#!/bin/sh\n"}, (), "error", "script-not-executable"),
        ({"a.sh": "#!/bin/sh\n", ".ci.yml": "script:\n  - ./a.sh\n"}, (), "warning", "script-not-executable"),
        ({"a.sh": "#!/bin/sh\n"}, (), "note", "script-not-executable"),
        ({"a.sh": "#!/bin/sh\r\necho\r\n"}, ("a.sh",), "error", "script-crlf"),
        ({"a.sh": "#!/bin/sh\necho\r\n"}, ("a.sh",), "warning", "script-crlf"),
        ({"mvnw": "#!/bin/sh\n"}, ("mvnw",), "error", "wrapper-properties-missing"),
        ({"gradlew": "#!/bin/sh\n"}, ("gradlew",), "error", "wrapper-properties-missing"),
        (
            {"mvnw": "#!/bin/sh\njava -jar maven-wrapper.jar\n", PROPERTIES: ""},
            ("mvnw",),
            "error",
            "wrapper-jar-missing",
        ),
        (
            {"mvnw": "#!/bin/sh\ncurl $u\njava -jar maven-wrapper.jar\n", PROPERTIES: ""},
            ("mvnw",),
            "note",
            "wrapper-jar-missing",
        ),
    ],
)
def test_a_wrong_work_tree_gets_its_remark(
    tmp_path: Path, files: dict[str, str], executable: tuple[str, ...], severity: str, code: str
) -> None:
    assert code in codes(check_scripts(write(tmp_path, files, executable)), severity)


@pytest.mark.parametrize("version", [2, 3, 4])
@pytest.mark.parametrize("hashes", ["sha1", "sha256"])
def test_the_index_is_read_as_git_reads_it(tmp_path: Path, version: int, hashes: str) -> None:
    names = ["a", "mvnw", "dir/x.sh", "dir/xy.sh", "dir/über.txt", "m" * 200 + "/" + "n" * 200, "abcdefg", "abcdefgh"]
    write(tmp_path, dict.fromkeys(names, "#!/bin/sh\n"), executable=("dir/xy.sh",))
    git(tmp_path, "init", "-q", f"--object-format={hashes}")
    git(tmp_path, "add", ".")
    git(tmp_path, "update-index", "--chmod=+x", "dir/x.sh", "abcdefgh")
    if version == 3:
        # An entry that is meant to be added later needs the flags that only version 3 has.
        (tmp_path / "later").write_text("")
        git(tmp_path, "add", "-N", "later")
    else:
        git(tmp_path, "update-index", "--index-version", str(version))
    listed = git(tmp_path, "ls-files", "-s", "-z").split("\0")[:-1]
    expected = {entry.partition("\t")[2]: int(entry.split(" ")[0], 8) for entry in listed}
    assert (tmp_path / ".git/index").read_bytes()[7] == version
    assert WorkTree.of(tmp_path).modes == expected


def test_the_bit_in_git_counts_and_not_the_one_on_disk(tmp_path: Path) -> None:
    write(tmp_path, {"mvnw": "#!/bin/sh\n", PROPERTIES: ""}, executable=("mvnw",))
    git(tmp_path, "init", "-q")
    git(tmp_path, "add", ".")
    git(tmp_path, "update-index", "--chmod=-x", "mvnw")
    assert codes(check_scripts(WorkTree.of(tmp_path))) == ["script-not-executable"]
    git(tmp_path, "update-index", "--chmod=+x", "mvnw")
    (tmp_path / "mvnw").chmod(0o644)
    assert codes(check_scripts(WorkTree.of(tmp_path))) == []


def test_a_folder_below_the_root_of_the_repository(tmp_path: Path) -> None:
    write(tmp_path, {"service/mvnw": "#!/bin/sh\n", f"service/{PROPERTIES}": ""}, executable=("service/mvnw",))
    git(tmp_path, "init", "-q")
    git(tmp_path, "add", ".")
    git(tmp_path, "update-index", "--chmod=-x", "service/mvnw")
    assert codes(check_scripts(WorkTree.of(tmp_path / "service"))) == ["script-not-executable"]


def test_a_second_work_tree_has_its_own_index(tmp_path: Path) -> None:
    main = tmp_path / "main"
    write(main, {"mvnw": "#!/bin/sh\n"})
    git(main, "init", "-q")
    git(main, "add", ".")
    git(main, "-c", "user.name=a", "-c", "user.email=a@b.example", "commit", "-qm", "first")
    git(main, "worktree", "add", "-q", "../second")
    assert WorkTree.of(tmp_path / "second").modes == {"mvnw": 0o100644}


def test_git_itself_is_never_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(tmp_path, {"mvnw": "#!/bin/sh\n"})
    git(tmp_path, "init", "-q")
    git(tmp_path, "add", ".")
    monkeypatch.setattr(subprocess, "Popen", None)
    assert WorkTree.of(tmp_path).modes is not None


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"DIRC",
        struct.pack(">4sII", b"DIRC", 2, 2**32 - 1),
        struct.pack(">4sII", b"DIRC", 4, 9) + b"\xff" * 500,
        struct.pack(">4sII", b"DIRC", 9, 0) + hashlib.sha1(b"").digest(),
    ],
)
def test_a_broken_index_is_as_good_as_none(tmp_path: Path, data: bytes) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / ".git/index").write_bytes(data)
    assert WorkTree.of(tmp_path).modes is None
