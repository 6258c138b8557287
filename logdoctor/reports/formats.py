"""All formats by name; a format's module is loaded when it is asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from logdoctor.intake import Log
    from logdoctor.model import Verdict
    from logdoctor.reports.redaction import Redactor
    from logdoctor.reports.teams import Team

__all__ = ["FORMATS", "Beside", "render", "render_all"]

FORMATS = ("text", "json", "jsonl", "markdown", "message", "sarif", "junit", "html")
WHOLE = frozenset(["sarif"])
"""One document however many logs there are."""
SINGLE = frozenset(["json", "junit", "html"])
"""One document for one log."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What a report tells beside the verdict."""

    log_url: str | None = None
    team: Callable[[Verdict], Team | None] = lambda _: None
    redactor: Redactor | None = None
    root: Path | None = None
    colour: bool = False


def render(form: str, verdict: Verdict, beside: Beside, *, log: Log | None = None) -> str:
    """One verdict in one format, without a line end at its end; `log` may still be open for more of its lines."""
    verdict, team, log_url, log = _redacted(verdict, beside, log)
    options: dict[str, Any] = {"log_url": log_url, "team": team}
    if form == "text":
        text = _function("text", "text_report")(verdict, colour=beside.colour).rstrip("\n") + _gets(team)
    elif form in {"json", "jsonl"}:
        text = _function("json_report", "json_object" if form == "json" else "json_line")(verdict)
    elif form == "sarif":
        text = _function("sarif", "sarif_report")([verdict], root=beside.root, **options)
    elif form == "junit":
        text = _function("junit", "junit_report")(verdict, team=team)
    elif form == "html":
        text = _function("html", "html_report")(verdict, log=log, **options)
    else:
        text = _function(form, f"{form}_report")(verdict, **options)
    return str(text).rstrip("\n")


def render_all(verdicts: Sequence[Verdict], beside: Beside | None) -> str:
    """Several verdicts in one document, for the formats in WHOLE."""
    beside = beside or Beside()
    told = [_redacted(verdict, beside, None) for verdict in verdicts]
    report = _function("sarif", "sarif_report")
    return str(report([verdict for verdict, *_ in told], root=beside.root, log_url=beside.log_url)).rstrip("\n")


def _redacted(verdict: Verdict, beside: Beside, log: Log | None) -> tuple[Verdict, Team | None, str | None, Log | None]:
    """What may be shown: the team is found before names are replaced; the log itself is then not shown any more."""
    team, redactor = beside.team(verdict), beside.redactor
    if redactor is None:
        return verdict, team, beside.log_url, log
    shown = redactor.verdict(verdict)
    if team is not None:
        channel = redactor.text(team.channel) if team.channel else None
        team = replace(team, name=redactor.text(team.name), channel=channel, why=redactor.text(team.why))
    return shown, team, redactor.text(beside.log_url) if beside.log_url else None, None


def _gets(team: Team | None) -> str:
    if team is None:
        return ""
    from logdoctor.reports.plain import Gate

    return f"\n\nWho gets it: {Gate().text(team.says())}."


def _function(module: str, name: str) -> Callable[..., str]:
    function: Callable[..., str] = getattr(import_module(f"logdoctor.reports.{module}"), name)
    return function
