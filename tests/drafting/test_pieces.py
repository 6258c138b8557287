"""What is constant in a line and what is not, and that a pattern made from one line finds its siblings."""

from __future__ import annotations

import pytest
import regex

from logdoctor.drafting.pattern import candidates
from logdoctor.drafting.pieces import cut
from logdoctor.drafting.vocabulary import Vocabulary

WORDS = frozenset(
    [
        "the",
        "a",
        "is",
        "not",
        "found",
        "for",
        "in",
        "of",
        "on",
        "to",
        "at",
        "from",
        "with",
        "and",
        "or",
        "could",
        "cannot",
        "error",
        "failed",
        "no",
        "exit",
        "code",
        "status",
    ],
)
KNOWN = Vocabulary(WORDS, frozenset(["lounge", "fares-core"]))


def variable(line: str) -> list[str]:
    """The parts of a line that do not stay."""
    return [piece.text for piece in cut(line, KNOWN) if not piece.constant]


@pytest.mark.parametrize(
    ("line", "parts"),
    [
        ("pier is full: 12 of 10 berths taken", ["12", "10"]),
        ("no berth at https://ops.brackwater.example/api/v1?x=1.", ["https://ops.brackwater.example/api/v1?x=1"]),
        ("cannot read /home/ci/work/table.csv:41:7", ["/home/ci/work/table.csv", ":41:7"]),
        (r"cannot read C:\ci\work\table.csv", [r"C:\ci\work\table.csv"]),
        ("artifact example.brackwater:fares:jar:1.4.0 is refused", ["example.brackwater:fares:jar:1.4.0"]),
        ("package @brackwater/tariff@2.1.0 is refused", ["@brackwater/tariff@2.1.0"]),
        ("requirement tide-tables==4.1 is refused", ["tide-tables==4.1"]),
        ("commit 3f4a5b6c7d8e is unsigned", ["3f4a5b6c7d8e"]),
        ("block 0x00c4 differs", ["0x00c4"]),
        ("profile 'bridge-v2' is unknown", ["'", "bridge-v2", "'"]),
        ("the sailing at 2024-03-10T14:22 is late", ["2024-03-10T14:22"]),
        ("upload of 14.2 MB in 31s refused", ["14.2 MB", "31s"]),
        ("the berth planner lounge is closed", ["lounge"]),
        ("variable ${revision} is unset", ["${revision}"]),
        ("server at 10.2.3.4:8443 refused", ["10.2.3.4:8443"]),
    ],
)
def test_what_changes_from_run_to_run_is_variable(line: str, parts: list[str]) -> None:
    assert variable(line) == parts


@pytest.mark.parametrize(
    ("line", "stays"),
    [
        ("bash: exit code 137", "exit code 137"),
        ("answer status: 403", "status: 403"),
        ("the host said 403 Forbidden", "403 Forbidden"),
        ("npm ERR! code EINTEGRITY", "code EINTEGRITY"),
        ("VOY-4411: voyage counter ran backwards", "VOY-4411: voyage counter ran backwards"),
        ("java.lang.OutOfMemoryError: metaspace is gone", "OutOfMemoryError: metaspace is gone"),
        ("no rule for --frozen-lockfile in package.json", "no rule for --frozen-lockfile in package.json"),
        ("a pre-receive hook declined", "a pre-receive hook declined"),
        ("TS2307: words of a compiler", "TS2307: words of a compiler"),
    ],
)
def test_what_tells_the_failure_stays(line: str, stays: str) -> None:
    assert stays in "".join(piece.text if piece.constant else "\0" for piece in cut(line, KNOWN))


@pytest.mark.parametrize(
    ("line", "siblings", "strangers"),
    [
        (
            (
                "[ERROR] Failed to execute goal example.brackwater.kitchen:menucat-maven-plugin:0.7:weave (weave) on project "
                'lounge-menu: Dish "Smoked eel" carries allergen code F4 twice but lists no preparation -> [Help 1]'
            ),
            [
                '[ERROR] Dish "Herring" carries allergen code D2 twice but lists no preparation',
                (
                    "Failed to execute goal x.y:menucat-maven-plugin:1.0:weave (a) on project b: Dish 'Tea' carries allergen "
                    "code A twice but lists no preparation"
                ),
            ],
            [
                "[ERROR] Failed to execute goal example.brackwater.kitchen:menucat-maven-plugin:0.7:weave (weave) on project x: no",
            ],
        ),
        (
            "berthctl: quorum not met for feed 'tides': 2 of 5 sources agree, 3 needed",
            ['berthctl: quorum not met for feed "winds": 11 of 40 sources agree, 21 needed'],
            ["berthctl: quorum met for feed 'tides': 3 of 5 sources agree"],
        ),
        (
            "npm ERR! code EBERTH",
            ["npm error code EBERTH"],
            ["npm error code EPIER"],
        ),
        (
            "curl: (22) The requested URL returned error: 418",
            ["curl: (22) The requested URL returned error: 418"],
            ["curl: (22) The requested URL returned error: 404"],
        ),
        (
            "Upload refused by https://repo.brackwater.example/a: 503 Service Unavailable",
            ["Upload refused by https://repo.brackwater.example/b: 502 Bad Gateway"],
            ["Upload refused by https://repo.brackwater.example/b: 404 Not Found"],
        ),
    ],
)
def test_a_pattern_finds_siblings_and_no_strangers(line: str, siblings: list[str], strangers: list[str]) -> None:
    made = list(candidates(line, KNOWN, lambda _: True))
    exact = [c for c in made if not any(regex.search(c.line, text) for text in strangers)]
    assert exact
    first = exact[0]
    assert regex.search(first.line, line)
    assert all(regex.search(first.line, text) and first.literal in text for text in siblings)


def test_a_text_that_is_not_rare_is_no_literal() -> None:
    line = "berth planner: quorum not met for feed 'tides'"
    first = next(candidates(line, KNOWN, lambda _: True))
    other = next(candidates(line, KNOWN, lambda text: text != first.literal))
    assert other.literal != first.literal
    assert other.literal in line
    assert list(candidates(line, KNOWN, lambda _: False)) == []


def test_a_variable_beginning_is_kept_only_where_the_line_begins() -> None:
    """A pattern that searches for a name anywhere would take a time that grows with the square of the line."""
    for line in ("lounge-7: pier is full", "x/y/z.bin: pier is full", "[ERROR] fares-core says: pier is full"):
        for candidate in candidates(line, KNOWN, lambda _: True):
            assert candidate.line.startswith(("^", r"\b", "['"))
