"""Prefixes and lanes: what goes, what stays, and that cleaning is safe on any text."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logdoctor.intake import Cleaned, clean

_AT = "2026-03-02T10:11:12.1Z"


@pytest.mark.parametrize(
    ("line", "text", "lane"),
    [
        pytest.param("[linux-jdk17] mvn verify", "mvn verify", "linux-jdk17", id="parallel-branch"),
        pytest.param("[Build (x=1, y=2)] make", "make", "Build (x=1, y=2)", id="branch-with-parameters"),
        pytest.param("[JDK17] x", "x", "JDK17", id="capital-branch-with-number"),
        pytest.param("web_1  | ready", "ready", "web_1", id="service"),
        pytest.param("api-1  |     at a (b.js:1)", "    at a (b.js:1)", "api-1", id="service-indented"),
        pytest.param("#12 3.456 npm error code E401", "npm error code E401", "#12", id="image-step"),
        pytest.param("#12 [stage 2/5] RUN npm ci", "[stage 2/5] RUN npm ci", "#12", id="image-stage"),
        pytest.param("#1 [internal] load metadata", "[internal] load metadata", "#1", id="image-internal"),
        pytest.param("[0] watching", "watching", "0", id="multiplexer"),
        pytest.param("@brackwater/fares:build: tsc", "tsc", "@brackwater/fares:build", id="scoped-task"),
        pytest.param("fares:build: tsc", "tsc", "fares:build", id="task"),
        pytest.param("fares:test:unit: ok", "ok", "fares:test:unit", id="task-with-part"),
        pytest.param(f"{_AT} [linux] web_1 | x", "x", "linux / web_1", id="nested-lanes"),
        pytest.param("fares:build: 10%\rfares:build: 20%", "20%", "fares:build", id="rewritten-line"),
    ],
)
def test_lanes_are_named_and_removed(line: str, text: str, lane: str) -> None:
    cleaned = clean(line)
    assert (cleaned.text, cleaned.lane) == (text, lane)


@pytest.mark.parametrize(
    "line",
    [
        *(
            "[INFO] x",
            "[ERROR] x",
            "[ERROR   ] x",
            "[Warning] x",
            "[warn] x",
            "[E] x",
            "[ok] x",
            "[SEVERE] x",
        ),
        *("[Pipeline] sh", "[main] INFO x", "[PASS] x", "[WS-CLEANUP] x", "[notice] A new release"),
        *("[pool-1-thread-3] x", "[xUnit.net 00:00:01.23]     A [FAIL]", "[Errno 13] Permission denied: 'a'"),
        *("[SSL: CERTIFICATE_VERIFY_FAILED] x", "[ivy:resolve] x", "[main 4ef97f8] Release 1.5.0"),
        *(
            "    [javac] Fares.java:3: error",
            "[ 50%] Building C object",
            "[1/4] Resolving",
            "[a]b",
            "[100] x",
        ),
        *("remote: Permission denied", "error: x", "npm ERR! code E401", "npm error code E401", "fatal: x"),
        *(
            "Caused by: java.io.IOException: x",
            "foo.c:12:3: error: y",
            "java.io.IOException: x",
            "e: file:///a: x",
        ),
        *(
            "https://repo.brackwater.example: x",
            "junit:junit:jar:4.12: absent",
            "ld:error: x",
            "warning:x: y",
        ),
        *("#0 /srv/app/a.php(3): b()", "#0  0x00007f in main ()", "#2 [internal function]: a()", "#2 {main}"),
        *(
            "12 | let x",
            "index.js  | 100 |",
            "File | % Stmts",
            "##[error]x",
            "##[warning]x",
            "::error file=a::x",
        ),
        *(
            ":app:compileJava FAILED",
            "> Task :app:test",
            "+ mvn -B verify",
            "stdout x",
            "section_start: x",
            "",
        ),
    ],
)
def test_ordinary_lines_stay_as_they_are(line: str) -> None:
    assert clean(line) == Cleaned(line, None, None)


@pytest.mark.parametrize(
    ("line", "text"),
    [
        pytest.param(f"{_AT} stdout F x", "x", id="container-runtime"),
        pytest.param(f"{_AT} stderr P   x", "  x", id="container-runtime-partial"),
        pytest.param(f"{_AT} 00O x", "x", id="stream-marker"),
        pytest.param(f"{_AT} 01E+x", "x", id="stream-marker-goes-on"),
        pytest.param(f"{_AT} ##[group]Run tests", "Run tests", id="group"),
        pytest.param(f"{_AT} ##[endgroup]", "", id="endgroup"),
        pytest.param("##[section]Starting: Build", "Starting: Build", id="section"),
        pytest.param("##[command]git fetch", "git fetch", id="command"),
        pytest.param("##[debug]x", "x", id="debug"),
        pytest.param("::group::Install", "Install", id="colon-group"),
        pytest.param("::endgroup::", "", id="colon-endgroup"),
        pytest.param(f"{_AT} ##[error]Process failed", "##[error]Process failed", id="error-level-stays"),
        pytest.param("section_start:1560896352:a_b[collapsed=true]\r\x1b[0K\x1b[36;1mx\x1b[0;m", "x", id="fold"),
        pytest.param("section_end:1560896353:a_b\r\x1b[0K", "", id="fold-end"),
        pytest.param("[00:01:02.345] 2026-03-02 10:11:12 [linux] [INFO] x", "[INFO] x", id="mixed"),
        pytest.param(f"{_AT}     at Fares.java  ", "    at Fares.java", id="indentation-stays"),
        pytest.param("10%\r50%\r  \r", "50%", id="last-piece-with-text"),
    ],
)
def test_markers_and_stamps_are_removed(line: str, text: str) -> None:
    assert clean(line).text == text


def test_a_container_engines_json_line_is_unpacked() -> None:
    line = '{"log":"npm \\"x\\" \\u001b[31mfailed\\u001b[0m\\n","stream":"stderr","time":"1970-01-01T00:00:05Z"}'
    cleaned = clean(line)
    assert cleaned.text == 'npm "x" failed'
    assert cleaned.stamp is not None
    assert cleaned.stamp.seconds == 5.0


@pytest.mark.parametrize("line", ['{"log":"x', '{"log":"\\q"}', '{"log":3,"time":""}', '{"log":"' + "[" * 9000])
def test_a_broken_json_line_stays(line: str) -> None:
    assert clean(line).text == line


def test_the_outermost_stamp_is_kept() -> None:
    stamp = clean("[00:00:07.500] 2026-03-02T10:11:12Z x").stamp
    assert stamp is not None
    assert (stamp.seconds, stamp.kind) == (7.5, "elapsed")


def test_a_rewritten_line_keeps_the_stamp_of_its_first_piece() -> None:
    stamp = clean("10:11:12 10%\r20%").stamp
    assert stamp is not None
    assert stamp.seconds == 36672.0


def test_at_most_six_prefixes_are_removed() -> None:
    assert clean("10:11:12 " * 7 + "x").text == "10:11:12 x"


@given(st.text())
def test_cleaning_never_raises(text: str) -> None:
    clean(text)


_PARTS = [
    "[",
    "]",
    "(",
    ":",
    "#",
    "12",
    "{",
    '"log":"',
    "\x1b",
    "[0m",
    "\r",
    " ",
    "|",
    "-1",
    "2026-03-02T",
    "10:11:12",
]
_PARTS += ["Mar ", "stdout F ", "::", "##[group]", "section_start:", "@a/", "web_1", "\\", "Z", "+", "00O "]


@given(st.lists(st.sampled_from(_PARTS)).map("".join))
def test_cleaning_never_raises_on_pieces_of_prefixes(text: str) -> None:
    assert len(clean(text).text) <= len(text)


_STAMPS = ["", f"{_AT} ", "[10:11:12] ", "10:11:12 ", "[00:00:01.500] ", "[  1.5s] ", "Mar  2 10:11:12 "]
_LANES = ["", "[linux-jdk17] ", "web_1  | ", "#12 ", "fares:build: ", "[3] "]
_TEXTS = [
    "[INFO] BUILD SUCCESS",
    "    at a.b(C.java:1)",
    "npm error code E401",
    "error: x",
    "[1/4] y",
    "",
    "fatal: no",
]


@given(st.sampled_from(_STAMPS), st.sampled_from(_LANES), st.sampled_from(_TEXTS))
def test_cleaning_gives_the_tools_own_line_and_is_idempotent(stamp: str, lane: str, text: str) -> None:
    once = clean(stamp + lane + text).text
    if lane == "#12 " and text.startswith(" "):
        assert once == lane + text  # it may as well be a native stack frame, which two blanks set apart
    else:
        assert once == text
    assert clean(once).text == once


def test_the_json_form_survives_any_text() -> None:
    text = 'a"b\\c\td é \U0001f600'
    assert clean(json.dumps({"log": text + "\n", "stream": "stdout", "time": _AT}, separators=(",", ":"))).text == text
