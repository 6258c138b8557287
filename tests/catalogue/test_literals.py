from __future__ import annotations

import pytest
import regex
from hypothesis import given, settings
from hypothesis import strategies as st

from logdoctor.catalogue.literals import FREQUENT, derive_literals, holds, needed_texts
from logdoctor.intake import clean
from tests.support import catalogue


@pytest.mark.parametrize(
    ("pattern", "literals"),
    [
        (r"^fatal: couldn't find remote ref (?<ref>\S+)", ("fatal: couldn't find remote ref ",)),
        (r"(?:No such device|terminal prompts disabled)", ("No such device", "terminal prompts disabled")),
        (r"status code: 403|Forbidden by policy", ("status code: 403", "Forbidden by policy")),
        (r"(?:optional words )?mandatory", ("mandatory",)),
        (r"\d+ things gone \w+", (" things gone ",)),
        (r"(?:ab|cd)", ()),
        (r"\w+", ()),
        (r"\p{L}+ unreadable here", ()),
    ],
)
def test_literal_is_what_every_match_must_hold(pattern: str, literals: tuple[str, ...]) -> None:
    assert derive_literals(pattern) == literals


def test_literal_does_not_cross_a_coloured_level_word() -> None:
    assert derive_literals(r"\[ERROR\] No goals have been specified") == ("No goals have been specified",)


@settings(deadline=None)  # the first example loads the catalogue
@given(st.data())
def test_every_match_of_a_built_in_pattern_holds_a_derived_literal(data: st.DataObject) -> None:
    failure = data.draw(st.sampled_from(list(catalogue())))
    signature = data.draw(st.sampled_from(failure.signatures))
    example = data.draw(st.sampled_from(signature.examples))
    derived = derive_literals(signature.line)
    for line in example.text.splitlines():
        match = regex.search(signature.line, line)
        if match and derived and "(?i" not in signature.line:
            assert any(literal in line for literal in derived)


@given(st.data())
def test_every_example_that_matches_holds_what_is_needed(data: st.DataObject) -> None:
    failure = data.draw(st.sampled_from(list(catalogue())))
    signature = data.draw(st.sampled_from(failure.signatures))
    example = data.draw(st.sampled_from(signature.examples))
    for line in [clean(text).text for text in example.text.splitlines()]:
        if regex.search(signature.line, line):
            need = needed_texts(signature.line)
            assert need is None or holds(need, line, line.lower())


def test_frequent_words_are_compared_in_lower_case() -> None:
    assert all(word == word.lower() for word in FREQUENT)
