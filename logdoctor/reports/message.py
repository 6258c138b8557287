"""The verdict as a message for a chat: what stopped the build, where, the first cause, who, and the link; never over the limit.

A chat makes mentions, links and markup of what it is given, so the log's own words come without what begins them.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.intake import printable
from logdoctor.reports.places import log_link
from logdoctor.reports.plain import ELLIPSIS, Gate
from logdoctor.reports.words import RERUN_WORDS, last_line, one_line, owner_says

if TYPE_CHECKING:
    from logdoctor.model import Verdict
    from logdoctor.reports.teams import Team

__all__ = ["message_report", "pointed_line"]

LIMIT = 500
ROOM_BESIDE_LINK = 120
"""A link that leaves less than this for words is left out: a cut link leads nowhere."""
SHORTEST_CAUSE, SHORTEST_HEADLINE = 80, 120

# A scheme makes a link of what the log says; the only link of a message is the one to the log.
_SCHEME = re.compile(r"(?i)\b(?:[a-z][a-z0-9+.-]{1,20}://|(?:mailto|tel|javascript|data|xmpp):)")
_WWW = re.compile(r"(?i)\bwww\.(?=\w)")
_MENTION = re.compile(r"(?<![\w.])@(?=\w)")
_MARKUP = str.maketrans(
    "<>`*~|[]",
    "\N{SINGLE LEFT-POINTING ANGLE QUOTATION MARK}\N{SINGLE RIGHT-POINTING ANGLE QUOTATION MARK}'\N{ASTERISK OPERATOR}\N{TILDE OPERATOR}\N{BROKEN BAR}()",
)


def message_report(
    verdict: Verdict, *, log_url: str | None = None, team: Team | None = None, limit: int = LIMIT
) -> str:
    """One paragraph or a few short lines, at most `limit` characters with the link."""
    gate = Gate(verdict)
    headline = _said(gate.text(verdict.headline))
    cause = _cause(verdict)
    who = _who(verdict, team, gate)
    secrets = "Caution: the log shows secrets." if verdict.exposed_secrets else ""
    line = pointed_line(verdict)
    link = log_link(log_url, verdict.source.place(line)[1], gate) if line else None
    if link is not None and len(link) > limit - ROOM_BESIDE_LINK:
        link = None
    room = limit - (len(link) + 1 if link else 0)
    told = _fitted(headline, cause, [who, secrets], room)
    return "\n".join([*told, link] if link else told)


def pointed_line(verdict: Verdict) -> int | None:
    """The line that a link leads to; None for a log without lines."""
    if verdict.root is not None:
        return verdict.root.line
    if verdict.worth_reading:
        return verdict.worth_reading[0].line
    return last_line(verdict.source) or None


def _cause(verdict: Verdict) -> str:
    root = verdict.root
    if root is None or not root.causes:
        return ""
    best = root.causes[0]
    if len(root.causes) == 1:
        kind = "Cause"
    elif root.shares_informed:
        kind = f"First of {len(root.causes)} causes ({best.share:.0%})"
    else:
        kind = f"The usual one of {len(root.causes)} causes"
    rerun = RERUN_WORDS[best.cause.rerun] if len({c.cause.rerun for c in root.causes}) == 1 else ""
    return f"{kind}: {_said(one_line(best.cause.says))} {rerun}".rstrip()


def _who(verdict: Verdict, team: Team | None, gate: Gate) -> str:
    if verdict.outcome == "succeeded":
        return ""
    if team is not None:
        channel = f" ({printable(team.channel)})" if team.channel else ""
        return f"For {gate.text(team.name)}{channel}."
    root = verdict.root
    return f"For {owner_says(root.causes[0].cause.owner)}." if root is not None and root.causes else ""


def _said(text: str) -> str:
    """The log's words with nothing that a chat would act on."""
    text = _MENTION.sub("\N{FULLWIDTH COMMERCIAL AT}", _WWW.sub("", _SCHEME.sub("", text)))
    return " ".join(text.translate(_MARKUP).split())


def _fitted(headline: str, cause: str, rest: list[str], room: int) -> list[str]:
    """The lines within the room: the cause gives way first, then the headline, then whole lines from the end."""
    rest = [line for line in rest if line]
    while True:
        free = room - sum(len(line) + 1 for line in rest)
        if not rest or free >= SHORTEST_HEADLINE:
            break
        rest.pop()
    first = min(len(headline), free)
    left = free - first - 1
    if cause and left < min(len(cause), SHORTEST_CAUSE):
        first = min(len(headline), max(SHORTEST_HEADLINE, free - SHORTEST_CAUSE - 1), free)
        left = free - first - 1
    lines = [_clipped(headline, first)]
    if cause and left >= min(len(cause), SHORTEST_CAUSE // 2):
        lines.append(_clipped(cause, left))
    return [line for line in lines + rest if line]


def _clipped(text: str, most: int) -> str:
    """A text of at most `most` characters, cut at a word where one ends near."""
    if len(text) <= most:
        return text
    if most < 2:
        return ""
    cut = text[: most - 1]
    space = cut.rfind(" ")
    return (cut[:space] if space > most * 2 // 3 else cut).rstrip(" ,;:.") + ELLIPSIS
