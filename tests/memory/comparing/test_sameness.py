from __future__ import annotations

import pytest

from logdoctor.memory.comparing.sameness import careful_forms

SAME = [
    ("[INFO] Finished at: 2024-06-01T10:11:12+02:00", "[INFO] Finished at: 2025-01-31T23:01:02Z"),
    ("[INFO] Total time:  01:23 min", "[INFO] Total time:  59.104 s"),
    ("BUILD SUCCESSFUL in 1m 12s", "BUILD SUCCESSFUL in 43s"),
    (
        "Tests run: 3, Failures: 0, Time elapsed: 0.012 s -- in FareTest",
        "Tests run: 3, Failures: 0, Time elapsed: 2 s -- in FareTest",
    ),
    ("[INFO] fares-core ....... SUCCESS [  2.104 s]", "[INFO] fares-core ....... SUCCESS [ 12.1 s]"),
    ("+ sh /tmp/hudson123.sh", "+ sh /tmp/hudson99887766.sh"),
    ("sh: /home/ci/fares@tmp/durable-1a2b3c4d/script.sh: 1: x", "sh: /home/ci/fares@tmp/durable-99aa/script.sh: 1: x"),
    ("reference 5eb081555d7f7c0335707e15769473bcb079f9a9 taken", "reference d5cf084e3b1d taken"),
    ("bean example.Fare@1b2c3d4e closed", "bean example.Fare@99887766 closed"),
    ("listening on localhost:41873", "listening on localhost:38001"),
    ("[ 45%] Building CXX object fare.o", "[  5%] Building CXX object fare.o"),
    ("Uploaded fares-4.7.0-20240612.101112-12.jar (3.2 kB)", "Uploaded fares-4.7.0-20250101.000000-1.jar (31 kB)"),
    ("progress 10%\rprogress 100%\rloaded", "progress 55%\rloaded"),
]
OTHER = [
    ("Tests run: 3, Failures: 0", "Tests run: 3, Failures: 1"),
    ("Tests run: 12, Failures: 0, Time elapsed: 1 s", "Tests run: 13, Failures: 0, Time elapsed: 1 s"),
    ("Compiling with JDK 17.0.11", "Compiling with JDK 21.0.3"),
    ("HTTP status 401", "HTTP status 403"),
    ("error in Fare.java:[12,7] symbol", "error in Fare.java:[13,7] symbol"),
    ("npm error code E404", "npm error code E403"),
    ("port 8081 is in use", "port 8082 is in use"),
    ("process exited with status 1", "process exited with status 137"),
]
NEVER = [
    "remote: Counting objects: 100% (41/41), done.",
    "[INFO] Downloading from central: https://repo.public.example/maven2/a/b/1/b-1.jar",
    "Downloaded from central: https://repo.public.example/maven2/a/b/1/b-1.jar (3 kB at 9 kB/s)",
    'Commit message: "Round child fares down"',
    "Running on harbour-agent-07 in /home/ci/agent/work/fares",
    "a1b2c3d4e5f6: Pull complete",
    "   a1b2c3d..d4e5f6a  main       -> origin/main",
    "--------------------------------------------",
    "",
]


def forms(*lines: str) -> list[bytes]:
    return careful_forms("\n".join(lines).encode(), {})


@pytest.mark.parametrize(("one", "two"), SAME)
def test_what_differs_from_run_to_run_makes_no_difference(one: str, two: str) -> None:
    first, second = forms(one, two)
    assert first == second != b""


@pytest.mark.parametrize(("one", "two"), OTHER)
def test_other_numbers_and_words_do(one: str, two: str) -> None:
    first, second = forms(one, two)
    assert first != second


@pytest.mark.parametrize("line", NEVER)
def test_lines_that_never_make_a_difference(line: str) -> None:
    assert forms(line) == [b""]


def test_each_line_keeps_its_place() -> None:
    lines = [line for pair in (*SAME, *OTHER) for line in pair]
    together = forms(*lines, "after 5", "s left")
    assert together == [form for line in (*lines, "after 5", "s left") for form in forms(line)]


def test_names_of_agent_and_workspace_are_put_aside() -> None:
    found = careful_forms(b"node harbour-agent-07: /home/ci/w/fares/pom.xml", {b"harbour-agent-07": b"<agent>"})
    assert found == [b"node <agent>: /home/ci/w/fares/pom.xml"]


def test_a_long_line_takes_no_long_time() -> None:
    line = ("/a" * 40_000 + "1" * 60_000 + "deadbeef" * 8_000).encode()
    assert len(careful_forms(line, {})) == 1
