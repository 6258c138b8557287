"""The sentences of a verdict: headline and fingerprint."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from logdoctor.model import Elsewhere, Finding, Outcome, Segment

__all__ = ["fingerprint", "headline", "normalized"]

_VARIABLE = [
    (lazy(r"https?://\S+"), "<url>"),
    (lazy(r"\b[0-9a-fA-F]{8,}(?:-[0-9a-fA-F]{4,})*\b"), "<hex>"),
    (lazy(r"(?:[A-Za-z]:)?(?:[/\\][\w.@+-]+){2,}"), "<path>"),
    (lazy(r"\d+(?:\.\d+)*"), "<n>"),
    (lazy(r"\s+"), " "),
]

STRUCK = {
    "agent": "Stopped on the agent",
    "checkout": "Stopped at checkout",
    "setup": "Stopped in set-up",
    "resolve": "Stopped while resolving dependencies",
    "compile": "Stopped while compiling",
    "test": "Stopped in the tests",
    "package": "Stopped while packaging",
    "deploy": "Stopped on deploy",
    "post": "Failed after the build",
}


def normalized(text: str) -> str:
    """A line without what changes from run to run: addresses, hashes, paths, numbers."""
    for pattern, word in _VARIABLE:
        text = pattern.sub(word, text)
    return text.strip()


def fingerprint(root: Finding | None, fallback: str) -> str:
    """The same for the same failure in the same wording; 16 hexadecimal digits."""
    what = f"{root.failure.id}|{root.tool}|{normalized(root.evidence[0].text)}" if root else f"-|{normalized(fallback)}"
    return hashlib.sha256(what.encode("utf-8", "replace")).hexdigest()[:16]


def headline(
    outcome: Outcome,
    root: Finding | None,
    segments: tuple[Segment, ...],
    elsewhere: tuple[Elsewhere, ...],
    place: str,
) -> str:
    """One sentence a person can act on; `place` says where the root's line stands."""
    if outcome == "succeeded":
        return "The build succeeded."
    if root is None:
        reached = f" It got as far as {segments[-1].phase}." if segments and segments[-1].phase != "agent" else ""
        if outcome == "unknown":
            return "The log does not tell how the build ended, and shows no known failure." + reached
        return (
            f"The build was {'aborted' if outcome == 'aborted' else 'stopped'} by something not in the catalogue."
            + reached
        )
    struck = "Aborted" if outcome == "aborted" else STRUCK[root.struck_in]
    sentence = f"{struck}: {_within(root.failure.title)} ({place})"
    if root.failure.stand_in == "last":
        sentence += "; the reason is not in the catalogue"
    if elsewhere and root.failure.id == "agent-downstream-failed":
        sentence += f"; the reason is in {elsewhere[0].where}"
    if root.items_total > 1:
        sentence += f", {root.items_total} in all"
    return sentence + "."


def _within(title: str) -> str:
    """A title inside a sentence: its first letter small, unless the word is a name such as JAVA_HOME."""
    return title[:1].lower() + title[1:] if title[1:2].islower() or title[1:2] == " " else title
