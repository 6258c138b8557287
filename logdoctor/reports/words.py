"""The words and sentences that several reports share: states, shares, clues, owners, what to do about secrets."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

from logdoctor.intake import printable
from logdoctor.model import PHASES

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from logdoctor.model import Finding, Phase, Segment, Source, SpokenClue, State, Verdict

__all__ = [
    "MANY_CAUSES",
    "OWNER_WORDS",
    "RERUN_WORDS",
    "SPEAKS_WORDS",
    "answer_command",
    "because",
    "cut_says",
    "effort_says",
    "last_line",
    "middle_out",
    "one_line",
    "owner_says",
    "phase_states",
    "place_of",
    "rerun_says",
    "secrets_say",
    "share_basis",
    "told_others",
    "worst",
]

RERUN_WORDS = {
    "useless": "Running it again unchanged will not help.",
    "may": "Running it again unchanged may help.",
    "helps": "Running it again unchanged is likely to help.",
}
SPEAKS_WORDS = {
    "excludes": "excluded",
    "strongly-against": "strongly against",
    "against": "against",
    "for": "for",
    "strongly-for": "strongly for",
}
OWNER_WORDS = {
    "build-owner": "the owner of the repository being built",
    "job-owner": "the owner of the CI job",
    "agent-admin": "the administrator of the agent",
    "ci-admin": "the administrator of the CI server",
    "repository-admin": "the administrator of the artifact repository",
    "code-host-admin": "the administrator of the code host",
    "network-admin": "the administrator of the network",
    "package-author": "the author of the package",
    "target-admin": "the administrator of the target",
}
MANY_CAUSES = 9
MANY_SECRET_LINES = 8


def rerun_says(root: Finding) -> str:
    """Whether it is any use to run it again; the causes may differ in that."""
    best = root.causes[0].cause.rerun
    if {c.cause.rerun for c in root.causes} == {best}:
        return RERUN_WORDS[best]
    return RERUN_WORDS[best][:-1] + ", if the first cause below is the one."


def owner_says(owner: str) -> str:
    """An owner in words."""
    return OWNER_WORDS.get(owner, owner)


def worst(segments: Sequence[Segment]) -> State:
    """One state for several segments."""
    states = {s.state for s in segments}
    return "failed" if "failed" in states else "unfinished" if "unfinished" in states else "passed"


def phase_states(verdict: Verdict) -> list[tuple[Phase, State, list[Segment]]]:
    """The phases that were reached, in the order of a build, each with its state and its segments."""
    found = ((phase, [s for s in verdict.segments if s.phase == phase]) for phase in PHASES)
    return [(phase, worst(segments), segments) for phase, segments in found if segments]


def cut_says(source: Source) -> str:
    """What follows from a cut log; empty for a whole one."""
    if source.cut == "none":
        return ""
    return f"the log is cut at its {source.cut}, and the reason may be in the missing part"


def last_line(source: Source) -> int:
    """The last line as the verdict counts: in a log of several files a line with its name stands before each."""
    return source.lines + len(source.parts)


def share_basis(root: Finding) -> str:
    """What the shares rest on."""
    if root.shares_informed:
        return "Shares from the authors' weights and what the log shows, not measured."
    return "From the log alone these can't be told apart; the order is what is usual."


def because(clue: SpokenClue) -> str:
    """Why a clue speaks, from the log and so not yet through the gate."""
    return clue.why or f"{clue.fact} is {clue.value}"


def effort_says(effort: str) -> str:
    """An effort in words."""
    return effort.replace("-", " ")


def answer_command(check: str, name: str) -> str:
    """How a check's answer is given; the name of the log comes through the gate."""
    log = "-" if name == "standard input" else shlex.quote(name)
    return f"logdoctor diagnose --answer {check}=yes {log}"


def place_of(file: str | None, line: int | None) -> str:
    """An item's place as compilers write it; empty without a file."""
    return f"{file}:{line}" if file and line else file or ""


def told_others(verdict: Verdict) -> list[Finding]:
    """The other findings that a person should know of."""
    if verdict.outcome == "succeeded":
        return []
    return [f for f in verdict.others if f.role in ("separate", "follow-on", "recovered")]


def secrets_say(verdict: Verdict, place: Callable[[int], str] | None = None) -> str:
    """The caution about secrets that the log shows; empty where it shows none."""
    if not verdict.exposed_secrets:
        return ""
    kinds = ", ".join(sorted({s.kind for s in verdict.exposed_secrets}))
    lines = sorted({s.line for s in verdict.exposed_secrets})
    places = ", ".join((place or verdict.source.says)(line) for line in lines[:MANY_SECRET_LINES])
    more = f" and {len(lines) - MANY_SECRET_LINES} more" if len(lines) > MANY_SECRET_LINES else ""
    return (
        f"The log shows secrets ({kinds}) on {places}{more}. Whoever can read the log can use them: have them "
        "replaced by the rules of your organisation, and keep them out of the log."
    )


def one_line(text: str) -> str:
    """A text of the catalogue on one line, with nothing in it that can't be seen."""
    return printable(" ".join(text.split()))


def middle_out(text: str, most: int) -> str:
    """A text of at most `most` characters: what a long one leaves out is its middle, nearer to its end."""
    if len(text) <= most:
        return text
    head = (most - 3) * 2 // 3
    return f"{text[:head]} … {text[len(text) - (most - 3 - head) :]}"
