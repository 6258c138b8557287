from __future__ import annotations

import gzip
import io
import json
import os
import tarfile
import zipfile
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
import zstandard

from logdoctor.errors import InputError
from logdoctor.intake import open_log
from logdoctor.model import Verdict
from logdoctor.reports.json_report import json_object
from logdoctor.reports.text import text_report
from tests.support import ROOT, diagnoser

FILES = {
    "1_Set up job.txt": "Current runner version: '2.311.0'\nRunner name: 'agent-3'\n",
    "10_Complete job.txt": "Cleaning up orphan processes\n",
    "2_Run checkout.txt": "Syncing repository: ferries/fares\n",
    "9_Run mvn deploy.txt": "[INFO] BUILD FAILURE\n[ERROR] Failed to execute goal org.apache.maven.plugins:maven-deploy-plugin:3.1.1:deploy (default-deploy) "
    "on project fares: Failed to deploy artifacts: Could not transfer artifact example.brackwater:fares:jar:1.0 from/to releases "
    "(https://repo.brackwater.example/releases): status code: 401, reason phrase: Unauthorized (401) -> [Help 1]\n"
    "##[error]Process completed with exit code 1.\n",
}
ORDER = ["1_Set up job.txt", "2_Run checkout.txt", "9_Run mvn deploy.txt", "10_Complete job.txt"]


def as_folder(path: Path, files: dict[str, bytes]) -> Path:
    folder = path / "logs"
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def as_zip(path: Path, files: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path / "logs.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return path / "logs.zip"


def tar_bytes(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as archive:
        for name, data in files.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            archive.addfile(info, io.BytesIO(data))
    return out.getvalue()


def as_tar(path: Path, files: dict[str, bytes]) -> Path:
    (path / "logs.tar").write_bytes(tar_bytes(files))
    return path / "logs.tar"


def as_tgz(path: Path, files: dict[str, bytes]) -> Path:
    (path / "logs.tgz").write_bytes(gzip.compress(tar_bytes(files)))
    return path / "logs.tgz"


def as_tar_zst(path: Path, files: dict[str, bytes]) -> Path:
    (path / "logs.tar.zst").write_bytes(zstandard.compress(tar_bytes(files)))
    return path / "logs.tar.zst"


KINDS = [as_folder, as_zip, as_tar, as_tgz, as_tar_zst]
Maker = Callable[[Path, dict[str, bytes]], Path]


def verdict_of_files(make: Maker, path: Path, files: dict[str, str | bytes]) -> Verdict:
    data = {name: text if isinstance(text, bytes) else text.encode() for name, text in files.items()}
    with open_log(str(make(path, data))) as log:
        return diagnoser().diagnose(log)


@pytest.mark.parametrize("make", KINDS)
def test_step_logs_are_one_build_in_natural_order(make: Maker, tmp_path: Path) -> None:
    verdict = verdict_of_files(make, tmp_path, FILES)
    assert [part.name for part in verdict.source.parts] == ORDER
    assert verdict.source.lines == sum(text.count("\n") for text in FILES.values())
    assert verdict.source.bytes == sum(map(len, FILES.values()))
    root = verdict.root
    assert root is not None
    assert root.failure.id == "deploy-unauthorized"
    assert verdict.source.place(root.line) == ("9_Run mvn deploy.txt", 2)
    assert "(9_Run mvn deploy.txt line 2)" in verdict.headline


def test_each_line_reference_names_its_file(tmp_path: Path) -> None:
    plain = json.loads(json_object(verdict_of_files(as_zip, tmp_path, FILES)))
    schema = json.loads((ROOT / "logdoctor" / "reports" / "verdict.schema.json").read_text())
    jsonschema.validate(plain, schema)
    assert (plain["root"]["file"], plain["root"]["line"]) == ("9_Run mvn deploy.txt", 2)
    assert {"file", "line"} <= plain["root"]["evidence"][0].keys()
    assert all({"file", "end_file"} <= segment.keys() for segment in plain["segments"])
    assert all("file" in other for other in plain["others"])


def test_text_names_the_file(tmp_path: Path) -> None:
    text = text_report(verdict_of_files(as_folder, tmp_path, FILES))
    assert "(of 9_Run mvn deploy.txt)" in text
    assert ">       2 | [ERROR]" in text


def test_file_that_holds_all_steps_once_more_is_left_out(tmp_path: Path) -> None:
    files = {"0_build.txt": "".join(FILES.values()), **{f"build/{name}": text for name, text in FILES.items()}}
    verdict = verdict_of_files(as_zip, tmp_path, files)
    assert [part.name for part in verdict.source.parts] == [f"build/{name}" for name in ORDER]


def test_files_without_a_line_end_packed_ones_and_other_encodings(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "1.log": "no end",
        "2.log.gz": gzip.compress(b"packed\n"),
        "3.log": "gr\u00fcn\n".encode("utf-16"),
        "4.log": "\ufeffmark\n",
        "5.log": "\u00e4\u00f6 Stra\u00dfe\n".encode("latin-1"),
        "empty.log": "",
    }
    data = {name: text if isinstance(text, bytes) else text.encode() for name, text in files.items()}
    with open_log(str(as_folder(tmp_path, data))) as log:
        text = b"".join(log.blocks()).decode()
    assert text == (
        "==> 1.log <==\nno end\n==> 2.log.gz <==\npacked\n==> 3.log <==\ngr\u00fcn\n==> 4.log <==\nmark\n"
        "==> 5.log <==\n\u00e4\u00f6 Stra\u00dfe\n"
    )


def test_what_is_no_log_is_passed_over_and_named(tmp_path: Path) -> None:
    verdict = verdict_of_files(as_zip, tmp_path, {**FILES, "core.dump": bytes(range(256)) * 40, "notes.json": "{}"})
    assert [part.name for part in verdict.source.parts] == ORDER
    assert [notice for notice in verdict.notices if "core.dump" in notice]


@pytest.mark.parametrize("make", [as_folder, as_zip, as_tar])
def test_bundle_without_a_log_is_one_clear_line(make: Maker, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no log files"):
        open_log(str(make(tmp_path, {"report.html": b"<p>"})))


def test_links_are_not_followed(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("outside\n")
    folder = as_folder(tmp_path, {"1.log": b"inside\n"})
    (folder / "2.log").symlink_to(secret)
    (folder / "loop").symlink_to("/")
    os.mkfifo(folder / "3.log")
    with open_log(str(folder)) as log:
        assert b"".join(log.blocks()) == b"==> 1.log <==\ninside\n"


def test_link_in_an_archive_is_not_followed(tmp_path: Path) -> None:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as archive:
        link = tarfile.TarInfo("0.log")
        link.type, link.linkname = tarfile.SYMTYPE, "/etc/passwd"
        archive.addfile(link)
        info = tarfile.TarInfo("../1.log")
        info.size = 3
        archive.addfile(info, io.BytesIO(b"in\n"))
    (tmp_path / "x.tar").write_bytes(out.getvalue())
    with open_log(str(tmp_path / "x.tar")) as log:
        assert b"".join(log.blocks()) == b"==> ../1.log <==\nin\n"


@pytest.mark.parametrize("cut", [30, 200, 700])
@pytest.mark.parametrize("make", [as_zip, as_tar, as_tgz])
def test_damaged_archive_is_one_clear_line_or_what_is_left(make: Maker, cut: int, tmp_path: Path) -> None:
    path = make(tmp_path, {name: text.encode() * 3 for name, text in FILES.items()})
    path.write_bytes(path.read_bytes()[:cut])
    told = ""
    try:
        with open_log(str(path)) as log:
            diagnoser().diagnose(log)
    except InputError as error:
        told = str(error)
    assert "\n" not in told


def test_control_characters_in_names_do_not_come_out(tmp_path: Path) -> None:
    verdict = verdict_of_files(as_zip, tmp_path, {"a\x1b[31m\n\u202e.log": "error: x\n"})
    assert not {"\x1b", "\n", "\u202e"} & set(verdict.source.parts[0].name)
    assert not {"\x1b", "\u202e"} & set(json_object(verdict))


def test_archive_that_expands_without_end_stops_at_the_limit(tmp_path: Path) -> None:
    path = as_zip(tmp_path, {"1.log": b"line of a log\n" * 400_000})
    assert path.stat().st_size < 30_000
    with open_log(str(path), limit=1 << 20) as log:
        read = sum(map(len, log.blocks()))
        assert (read, log.truncated_at_limit) == (1 << 20, True)
