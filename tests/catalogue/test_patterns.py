"""Patterns run on `re` where that means the same as `regex`, which is what they are written for."""

from __future__ import annotations

import random
from typing import Any

import pytest
import regex

from logdoctor.catalogue.growth import slow_input
from logdoctor.catalogue.limiting import patterns_in
from logdoctor.catalogue.patterns import AsciiPattern, compiled, for_ascii, named_groups
from tests.support import catalogue

LINES_A_PATTERN = 40


def lines() -> list[str]:
    texts = [e.text for f in catalogue() for s in f.signatures for e in s.examples]
    texts += [text for mark in catalogue().marks for text in catalogue().mark_examples(mark)]
    return [line for text in texts for line in text.splitlines() if line.isascii()]


def told(match: Any) -> object:
    return match and (match.span(), named_groups(match))


def test_each_built_in_signature_finds_the_same_in_its_own_examples_and_in_lines_of_others() -> None:
    everything, pick, tried = lines(), random.Random(5), 0
    for failure in catalogue():
        for signature in failure.signatures:
            standard = for_ascii(signature.line)
            if standard is None:
                continue
            whole = regex.compile(signature.line)
            own = [line for e in signature.examples for line in e.text.splitlines() if line.isascii()]
            for line in own + list(signature.lookalikes) + pick.sample(everything, LINES_A_PATTERN):
                if line.isascii():
                    assert told(standard.search(line)) == told(whole.search(line)), (signature.line, line)
                    tried += 1
    assert tried > 80_000


def test_nearly_all_patterns_can_run_there() -> None:
    data = [catalogue().entry_data(), [mark["data"] for mark in catalogue().mark_data()]]
    patterns = set(patterns_in(data))
    assert sum(for_ascii(pattern) is not None for pattern in patterns) > 0.95 * len(patterns)


@pytest.mark.parametrize(
    "pattern",
    [
        "(?:berth){e<=1}",
        "[[:alpha:]]+",
        "[a[:digit:]]",
        r"[\w--\d]x",
        "(?<a>x)(?P=a)",
        r"\p{Lu}",
        "(?<=a+)b",
        "(?|(a)|(b))",
        "(a",
    ],
)
def test_what_may_mean_something_else_is_left_to_regex(pattern: str) -> None:
    assert for_ascii(pattern) is None


def test_names_given_twice_are_one_group() -> None:
    pattern = compiled(r"berth (?<n>\d+)|quay (?<n>\w+) of (?<town>\w+)")
    assert isinstance(pattern, AsciiPattern)
    assert list(pattern.groupindex) == ["n", "town"]
    for text, groups in (("berth 7", {"n": "7"}), ("quay A of Tern", {"n": "A", "town": "Tern"})):
        found = pattern.search(text)
        assert found is not None
        assert named_groups(found) == groups


def test_other_letters_are_left_to_regex() -> None:
    pattern = compiled(r"\w+ up")
    assert isinstance(pattern, AsciiPattern)
    combining = "a\N{COMBINING ACUTE ACCENT}b up"  # a letter's mark is part of a word to one of the two only
    found = pattern.search(combining)
    assert found is not None
    assert found.span() == regex.search(r"\w+ up", combining).span()  # type: ignore[union-attr]


def test_a_pattern_without_bound_is_slow() -> None:
    assert slow_input(r"berth refused: (?:a+)+$", ["berth refused: aaa"]) is not None
