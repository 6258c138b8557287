"""Opening logs: every kind of source, refusals, limits, files that change."""

from __future__ import annotations

import gzip
import io
import os
import sys
import threading
from pathlib import Path

import pytest

from logdoctor.errors import InputError
from logdoctor.intake import open_log

_TEXT = b"".join(b"line %d\n" % number for number in range(300_000))


class _Input:
    """Stands in for sys.stdin."""

    def __init__(self, buffer: io.BufferedIOBase | None) -> None:
        self.buffer = buffer


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    path = tmp_path / "build.log"
    path.write_bytes(_TEXT)
    return path


def test_a_plain_file_is_read_in_place(plain: Path) -> None:
    with open_log(plain) as log:
        assert (log.name, log.size, log.encoding) == (str(plain), len(_TEXT), "utf-8")
        blocks = list(log.blocks(100_000))
        assert b"".join(blocks) == _TEXT
        assert {len(block) for block in blocks[:-1]} == {100_000}
        assert log.read_at(50, 20) == _TEXT[50:70]
        assert log.read_at(len(_TEXT) - 3, 20) == _TEXT[-3:]
        assert log.read_at(len(_TEXT) + 5, 20) == b""


def test_offsets_count_from_behind_the_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "build.log"
    path.write_bytes(b"\xef\xbb\xbfferry\nleft\n")
    with open_log(path) as log:
        assert b"".join(log.blocks()) == b"ferry\nleft\n"
        assert log.read_at(6, 4) == b"left"
        assert log.size == 11


def test_a_stream_is_spooled_and_can_be_read_again() -> None:
    stream = io.BytesIO(_TEXT * 3)
    with open_log(stream, name="pasted") as log:
        assert (log.name, log.size) == ("pasted", None)
        assert b"".join(log.blocks()) == _TEXT * 3
        assert log.size == len(_TEXT) * 3
        assert log.read_at(len(_TEXT), 6) == _TEXT[:6]
        assert b"".join(log.blocks(12_345)) == _TEXT * 3
    assert not stream.closed


def test_a_first_pass_may_be_left_and_taken_up_again() -> None:
    with open_log(io.BytesIO(_TEXT)) as log:
        begun = log.blocks(1000)
        assert next(begun) == _TEXT[:1000]
        assert b"".join(log.blocks()) == _TEXT
        assert b"".join(begun) == _TEXT[1000:]


def test_a_name_is_safe_to_print(tmp_path: Path) -> None:
    path = os.fsdecode(os.fsencode(tmp_path) + b"/a\x1b[31m\n\xff.log")
    Path(path).write_bytes(b"x\n")
    with open_log(path) as log:
        assert log.name.endswith("/a\\x1b[31m\\x0a\ufffd.log")


def test_bytes_are_the_content_itself() -> None:
    with open_log(b"one\ntwo") as log:
        assert b"".join(log.blocks()) == b"one\ntwo"


def test_standard_input_is_named_as_such(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", _Input(io.BytesIO(b"text\n")))
    with open_log("-") as log:
        assert log.name == "standard input"
        assert b"".join(log.blocks()) == b"text\n"


def test_a_file_on_standard_input_is_read_in_place(plain: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with plain.open("rb") as file:
        file.readline()
        monkeypatch.setattr(sys, "stdin", _Input(file))
        with open_log("-") as log:
            assert log.size == len(_TEXT) - 7
            assert b"".join(log.blocks()) == _TEXT[7:]
        assert not file.closed


def test_a_packed_file_on_standard_input_is_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "build.log.gz"
    path.write_bytes(gzip.compress(_TEXT))
    with path.open("rb") as file:
        monkeypatch.setattr(sys, "stdin", _Input(file))
        with open_log("-") as log:
            assert b"".join(log.blocks()) == _TEXT


def test_closed_standard_input_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    with pytest.raises(InputError, match="standard input: is closed"):
        open_log("-")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_a_named_pipe_is_read_as_a_stream(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    writer = threading.Thread(target=path.write_bytes, args=(_TEXT,))
    writer.start()
    with open_log(path) as log:
        assert b"".join(log.blocks()) == _TEXT
    writer.join()


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs a file that tells no size")
def test_a_kernel_file_without_size_is_read() -> None:
    with open_log("/proc/self/status") as log:
        assert b"Name:" in b"".join(log.blocks())


def test_a_name_does_not_make_a_file_packed(tmp_path: Path) -> None:
    path = tmp_path / "build.log.gz"
    path.write_bytes(b"plain after all\n")
    with open_log(path) as log:
        assert b"".join(log.blocks()) == b"plain after all\n"


@pytest.mark.parametrize(
    ("source", "problem"),
    [
        pytest.param("{folder}/absent.log", "no such file", id="missing"),
        pytest.param("{folder}/plain/below", "no such file", id="file-as-folder"),
        pytest.param("/dev/zero", "is a device", id="device"),
        pytest.param("{folder}/loop", "leads to itself", id="loop"),
        pytest.param("{folder}/" + "x" * 300, "too long", id="long-name"),
        pytest.param("a\0b", "no possible file name", id="nul-in-name"),
        pytest.param("", "no such file", id="empty-name"),
    ],
)
def test_what_cannot_be_opened_is_refused_in_one_line(source: str, problem: str, tmp_path: Path) -> None:
    (tmp_path / "plain").write_bytes(b"x\n")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    with pytest.raises(InputError) as caught:
        open_log(source.replace("{folder}", str(tmp_path)))
    assert problem in caught.value.problem
    assert caught.value.mend
    assert len(str(caught.value).splitlines()) == 1


def test_permission_denied_is_told(plain: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("logdoctor.intake.sources.io.FileIO", refuse)
    with pytest.raises(InputError, match="permission denied"):
        open_log(plain)


@pytest.mark.parametrize("kind", ["file", "stream"])
@pytest.mark.parametrize(
    ("limit", "cut"), [pytest.param(99_999, True, id="below"), pytest.param(len(_TEXT), False, id="exact")]
)
def test_bytes_beyond_the_limit_are_not_read(plain: Path, kind: str, limit: int, *, cut: bool) -> None:
    source = plain if kind == "file" else io.BytesIO(_TEXT)
    with open_log(source, limit=limit) as log:
        assert b"".join(log.blocks()) == _TEXT[:limit]
        assert (log.size, log.truncated_at_limit) == (limit, cut)


def test_a_growing_file_is_read_as_long_as_it_was(plain: Path) -> None:
    with open_log(plain) as log:
        with plain.open("ab") as more:
            more.write(b"later\n")
        assert b"".join(log.blocks()) == _TEXT
        assert log.read_at(len(_TEXT), 6) == b""


def test_a_shrinking_file_gives_what_is_left(plain: Path) -> None:
    with open_log(plain) as log:
        os.truncate(plain, 1000)
        assert b"".join(log.blocks()) == _TEXT[:1000]
        assert log.size == 1000


def test_a_vanished_file_is_still_read(plain: Path) -> None:
    with open_log(plain) as log:
        plain.unlink()
        assert b"".join(log.blocks()) == _TEXT


class _Breaking(io.RawIOBase):
    """A stream that fails after its first chunk."""

    def __init__(self, first: bytes) -> None:
        self._first = first

    def read(self, size: int = -1) -> bytes:
        if not self._first:
            raise OSError(5, "Input/output error")
        first, self._first = self._first[:size], b""
        return first


def test_a_stream_that_breaks_off_gives_what_came() -> None:
    with open_log(_Breaking(b"text\n")) as log:  # type: ignore[arg-type]
        assert b"".join(log.blocks()) == b"text\n"
        assert log.damage == "reading stopped (Input/output error)"


def test_a_stream_that_gives_nothing_but_an_error_is_refused() -> None:
    with pytest.raises(InputError, match="Input/output error"):
        open_log(_Breaking(b""))  # type: ignore[arg-type]


def test_a_full_temporary_folder_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tempfile.TemporaryFile", refuse)
    with open_log(io.BytesIO(_TEXT * 3), name="big") as log, pytest.raises(InputError, match="TMPDIR"):
        list(log.blocks())


def test_the_spool_leaves_no_name_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with open_log(io.BytesIO(_TEXT * 3)) as log:
        assert sum(map(len, log.blocks())) == len(_TEXT) * 3
        assert list(tmp_path.iterdir()) == []


def test_closing_lets_go_of_all_files(plain: Path) -> None:
    folder = Path("/proc/self/fd")
    if not folder.exists():
        pytest.skip("needs a list of open files")
    before = len(list(folder.iterdir()))
    for source in (plain, io.BytesIO(_TEXT * 3)):
        with open_log(source) as log:
            list(log.blocks())
    for refused in (b"\0" * 100, gzip.compress(b"\0" * 100)):
        bad = plain.with_name("bad")
        bad.write_bytes(refused)
        with pytest.raises(InputError):
            open_log(bad)
    assert len(list(folder.iterdir())) == before
