from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from logdoctor.intake import printable
from logdoctor.reports.markdown import inline, markdown_report
from logdoctor.reports.teams import Team
from tests.reports.hostile import HOSTILE, UNSAFE, hostile_logs
from tests.support import ROOT, verdict_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markdown_it.token import Token

LINK = "https://ci.brackwater.example/job/fares/12/console?view=a&b=(c)#L{line}"
TEAM = Team(name="Harbour [Platform]", channel="#harbour-platform", why="it owns repo.brackwater.example")
SAMPLES = sorted((ROOT / "sample_logs").glob("*.log"))
LOGS = [
    pytest.param(line, log, id=f"{name}-{kind}")
    for name, line in HOSTILE.items()
    for kind, log in hostile_logs(line).items()
]
HEADINGS = {
    "How far it got",
    "Evidence",
    "Cause",
    "Causes in order",
    "Next check",
    "Lines worth reading",
    "Also seen",
    "More is told elsewhere",
}
HARMLESS = {
    "heading_open",
    "paragraph_open",
    "bullet_list_open",
    "ordered_list_open",
    "list_item_open",
    "fence",
    "inline",
    "text",
    "text_special",
    "code_inline",
    "strong_open",
    "link_open",
    "softbreak",
    "table_open",
    "thead_open",
    "tbody_open",
    "tr_open",
    "th_open",
    "td_open",
}


@cache
def renderer() -> MarkdownIt:
    """The most willing one: raw HTML, tables, and links made of anything that looks like an address."""
    return MarkdownIt("gfm-like", {"html": True, "linkify": True})


def tokens_of(text: str) -> list[Token]:
    return list(_flat(renderer().parse(text)))


def _flat(tokens: list[Token]) -> Iterator[Token]:
    for token in tokens:
        yield token
        yield from _flat(token.children or [])


def headings(tokens: list[Token]) -> list[str]:
    return [after.content for token, after in pairwise(tokens) if token.type == "heading_open"]


def kinds(tokens: list[Token]) -> set[str]:
    return {token.type for token in tokens if not token.type.endswith("_close")}


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_samples_tell_what_the_text_report_tells(path: object) -> None:
    verdict = verdict_of(path.read_bytes())  # type: ignore[attr-defined]
    report = markdown_report(verdict, log_url=LINK, team=TEAM)
    tokens = tokens_of(report)
    assert kinds(tokens) <= HARMLESS
    words = " ".join(
        token.content for token in tokens if token.type in ("text", "text_special", "code_inline", "fence")
    )
    assert set(phase.phase for phase in verdict.segments) <= set(words.split())  # noqa: C401 - reads as a sentence
    root = verdict.root
    if root is None:
        assert "fence" not in kinds(tokens)
        return
    fences = [token for token in tokens if token.type == "fence"]
    assert len(fences) == 1
    pointed = [row for row in fences[0].content.splitlines() if row.startswith(">")]
    assert len(pointed) == 1
    assert f" {root.line} | " in pointed[0]
    links = [token.attrs["href"] for token in tokens if token.type == "link_open"]
    assert f"https://ci.brackwater.example/job/fares/12/console?view=a&b=(c)#L{root.line}" in links
    plain = "".join(words.split())
    cause = root.causes[0].cause
    for said in (cause.says, *cause.fix, cause.proof, "Harbour [Platform] (#harbour-platform)"):
        assert "".join(said.split()) in plain


def test_how_far_it_got_is_a_table_with_a_word_for_each_phase() -> None:
    report = markdown_report(verdict_of((ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes()))
    html = renderer().render(report)
    assert html.count("<table>") == 1
    assert "<th>deploy</th>" in html
    assert "<td>✗ failed</td>" in html


@pytest.mark.parametrize(("line", "log"), LOGS)
def test_nothing_hostile_becomes_markup(line: str, log: bytes) -> None:
    verdict = verdict_of(log)
    report = markdown_report(verdict, log_url=LINK)
    assert not UNSAFE.search(report)
    assert len(report) < 60_000
    tokens = tokens_of(report)
    assert kinds(tokens) <= HARMLESS
    assert {t.attrs["href"] for t in tokens if t.type == "link_open"} <= {
        LINK.format(line=number) for number in range(1, 300)
    }
    said = headings(tokens)
    assert {h for h in said[1:] if not h.startswith("Fix for cause 1, by ")} <= HEADINGS
    assert len(said) == len(set(said))
    for fence in (token for token in tokens if token.type == "fence"):
        assert fence.markup not in fence.content
    assert sum(token.type == "fence" for token in tokens) == (verdict.root is not None) + bool(verdict.worth_reading)
    assert sum(token.type == "table_open" for token in tokens) == bool(verdict.segments)


@pytest.mark.parametrize("line", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_headline_stays_one_heading(line: str) -> None:
    verdict = verdict_of((ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes())
    tokens = tokens_of(markdown_report(replace(verdict, headline=f"{line} (line 135).")))
    assert kinds(tokens) <= HARMLESS - {"link_open"}
    assert headings(tokens)[1] == "How far it got"


@pytest.mark.parametrize("line", [pytest.param(line, id=name) for name, line in HOSTILE.items() if len(line) <= 400])
def test_a_hostile_word_reads_as_it_stands_in_the_log(line: str) -> None:
    shown = printable(line)
    tokens = tokens_of(f"## {inline(shown)}\n\n{inline(shown)}\n\n- {inline(shown)}\n1. {inline(shown)}\n")
    assert kinds(tokens) <= HARMLESS - {"link_open", "fence"}
    texts = ["".join(t.content for t in _flat(token.children or [])) for token in tokens if token.type == "inline"]
    assert texts == [" ".join(shown.split())] * len(texts)


@given(st.text(alphabet=st.sampled_from("ab1 -+=#>*_`~[]()<>!|&;:@.\\/$^{}\"'\t"), max_size=60))
@settings(max_examples=400, deadline=None)
def test_any_words_read_as_they_stand(text: str) -> None:
    tokens = tokens_of(f"- {inline(text)} end\n")
    shown = "".join(t.content for t in tokens if t.type in ("text", "text_special", "code_inline"))
    assert kinds(tokens) <= {
        "bullet_list_open",
        "list_item_open",
        "paragraph_open",
        "inline",
        "text",
        "text_special",
        "code_inline",
    }
    assert shown == " ".join([*text.split(), "end"])


@pytest.mark.parametrize(
    "word",
    [
        "a@b.example",
        "@crew",
        "#12",
        "GH-3",
        "evil.com/x",
        "www.x",
        "https://x",
        "mailto:a",
        ":bomb:",
        "&amp;",
        "Fare.java:12",
    ],
)
def test_what_a_code_host_would_link_stands_in_a_code_span(word: str) -> None:
    tokens = tokens_of(f"## {inline(f'seen ({word}), {word}.')}\n")
    assert [token.content for token in tokens if token.type == "code_inline"] == [word, word]
    assert "link_open" not in kinds(tokens)


def test_a_block_of_log_lines_ends_where_it_should() -> None:
    log = "+ ./sail\n```\n```````\nbad moon rising: giving up ````\n```\nERROR: script returned exit code 3\nFinished: FAILURE\n"
    tokens = tokens_of(markdown_report(verdict_of(log)))
    fences = [token.content for token in tokens if token.type == "fence"]
    assert any("bad moon rising: giving up ````" in content for content in fences)
    assert [token for token in tokens if token.type == "text" and "bad moon" in token.content] == []


def test_secret_gets_a_caution_and_is_not_shown() -> None:
    secret = "Tr0ub4dor-and-3"
    report = markdown_report(
        verdict_of(
            f"+ curl -u ci:{secret} -T a.jar https://repo.brackwater.example/x\n"
            "curl: (22) The requested URL returned error: 403\n"
        )
    )
    assert secret not in report
    assert "**Caution:** The log shows secrets" in report


def test_an_address_that_is_none_makes_no_link() -> None:
    verdict = verdict_of((ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes())
    for address in ("javascript:alert({line})", "data:text/html,{line}", "//evil.example/{line}", "not an address"):
        assert "link_open" not in kinds(tokens_of(markdown_report(verdict, log_url=address)))
