"""Verdicts as SARIF 2.1.0 (OASIS, with errata 01): one run a log, rules from the catalogue, results with regions.

A fix is text here: SARIF's own `fixes` need an exact replacement in a file, which a log does not give; the steps stand
in the message, in the rule's help and in the properties. `kind` other than `fail` goes with level `none` (section
3.27.10); the invocation is our own reading of the log, the build's outcome stands in its properties.
"""

from __future__ import annotations

import hashlib
import json
import re
from typing import TYPE_CHECKING, Any

from logdoctor.diagnosis.wording import normalized
from logdoctor.reports.annotations import column_of
from logdoctor.reports.places import file_uri, log_link, relative_uri
from logdoctor.reports.plain import Gate
from logdoctor.reports.text import OWNER_WORDS, RERUN_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from logdoctor.model import Failure, Finding, Item, RankedCause, Verdict
    from logdoctor.reports.teams import Team

__all__ = ["SCHEMA_URI", "sarif_report"]

SCHEMA_URI = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
UNKNOWN = "unknown-failure"
SECRET = "exposed-secret"  # noqa: S105 - the name of a rule
LEVELS = {"root": "error", "separate": "error", "follow-on": "note"}
"""Level by role; the other roles (recovered, background) are informational."""
MOST_SECRETS = 50
_EXPOSED_MEANS = (
    "Whoever can read the log can use it. Have it replaced by the rules of your organisation, and keep it out of the "
    "log."
)
_OWN_RULES = {
    UNKNOWN: (
        "No entry of the catalogue explains this",
        "The build did not succeed, and no known failure explains it. The lines named are those worth reading.",
    ),
    SECRET: ("The log shows a secret", _EXPOSED_MEANS),
}


def sarif_report(
    verdicts: Sequence[Verdict], *, log_url: str | None = None, root: Path | None = None, team: Team | None = None
) -> str:
    """One SARIF log; `log_url` holds `{line}`, `root` is the work tree that source files are looked for in."""
    runs = [_Run(verdict, log_url=log_url, root=root, team=team).whole() for verdict in verdicts]
    whole = {"$schema": SCHEMA_URI, "version": "2.1.0", "runs": runs}
    return json.dumps(whole, indent=2, ensure_ascii=False)


class _Run:
    """Makes the run of one log; rules and artifacts are numbered as they are met."""

    def __init__(self, verdict: Verdict, *, log_url: str | None, root: Path | None, team: Team | None) -> None:
        self._verdict = verdict
        self._gate = Gate(verdict)
        self._log_url = log_url
        self._root = root
        self._team = team
        self._rules: dict[str, dict[str, Any]] = {}
        self._artifacts: dict[str, dict[str, Any]] = {}

    def whole(self) -> dict[str, Any]:
        verdict = self._verdict
        self._log_place(1)
        results = [result for finding in self._findings() for result in self._of_finding(finding)]
        results += self._unknown()
        results += self._secrets()
        return {
            "tool": {"driver": {"name": "logdoctor", **_version(), "rules": list(self._rules.values())}},
            "invocations": [self._invocation()],
            "originalUriBaseIds": {
                "SRCROOT": {"description": {"text": "The work tree of the repository that was built."}},
                "LOGROOT": {"description": {"text": "The folder that the log's name is relative to."}},
            },
            "artifacts": list(self._artifacts.values()),
            "results": results,
            "columnKind": "unicodeCodePoints",
            "properties": {
                "outcome": verdict.outcome,
                "headline": self._gate.text(verdict.headline),
                "fingerprint": verdict.fingerprint,
                "othersLeftOut": verdict.others_left_out,
                **self._of_team(),
            },
        }

    def _findings(self) -> list[Finding]:
        return [f for f in (self._verdict.root, *self._verdict.others) if f is not None]

    def _invocation(self) -> dict[str, Any]:
        verdict = self._verdict
        notices = list(verdict.notices)
        if verdict.source.cut != "none":
            notices.append(f"the log is cut at its {verdict.source.cut}, and the reason may be in the missing part")
        notices += [f"more is told elsewhere: {e.what}: {e.where}" for e in verdict.elsewhere]
        return {
            "executionSuccessful": True,
            "toolExecutionNotifications": [
                {"level": "warning", "message": {"text": self._says(notice)}} for notice in notices
            ],
            "properties": {"outcomeOfTheBuild": verdict.outcome},
        }

    def _of_finding(self, finding: Finding) -> Iterator[dict[str, Any]]:
        """The finding where the log shows it, and each of its items where the source has it."""
        place = self._log_place(finding.line, self._snippet(finding))
        result = {
            **self._rule(finding),
            **_kind(finding),
            "message": {"text": self._message(finding)},
            "locations": [place],
            "occurrenceCount": max(1, finding.count),
            "partialFingerprints": {"logdoctorFailure/v1": self._fingerprint(finding)},
            **self._hosted(finding.line),
            "properties": self._properties(finding),
        }
        evidence = [self._log_place(e.line, e.text) for e in finding.evidence if e.line != finding.line]
        if finding is self._verdict.root:
            evidence += self._worth()
        if evidence:
            result["relatedLocations"] = _numbered(evidence)
        yield result
        texts = [e.text for e in (*finding.evidence, *finding.excerpt)]
        for item in finding.items:
            if item.file:
                yield {
                    **self._rule(finding),
                    **_kind(finding),
                    "message": {"text": self._says(item.text)},
                    "locations": [self._source_place(item, texts)],
                    "relatedLocations": _numbered([self._log_place(finding.line)]),
                    "partialFingerprints": {"logdoctorItem/v1": _item_print(finding, item)},
                }

    def _message(self, finding: Finding) -> str:
        verdict = self._verdict
        parts = [verdict.headline if finding is verdict.root else f"{finding.failure.title}."]
        if finding.causes:
            best = finding.causes[0].cause
            likely = (
                f"Most likely ({finding.causes[0].share:.0%}): " if finding.shares_informed else "Usual first cause: "
            )
            parts.append((likely if len(finding.causes) > 1 else "Cause: ") + best.says)
            parts.append(f"Fix, by {OWNER_WORDS.get(best.owner, best.owner)}: {' '.join(best.fix)}")
            if best.caution:
                parts.append(f"Caution: {best.caution}")
        if self._team is not None and finding is verdict.root:
            parts.append(f"For: {self._team.says()}.")
        return "\n".join(self._says(part) for part in parts)

    def _rule(self, finding: Finding) -> dict[str, Any]:
        failure = finding.failure
        if failure.id not in self._rules:
            self._rules[failure.id] = self._descriptor(failure, finding)
        return {"ruleId": failure.id, "ruleIndex": list(self._rules).index(failure.id)}

    def _descriptor(self, failure: Failure, finding: Finding) -> dict[str, Any]:
        says = self._says

        def marked(text: str) -> str:
            return _marked(self._gate.text(text))

        rule: dict[str, Any] = {
            "id": failure.id,
            "shortDescription": {"text": says(failure.title)},
            "fullDescription": {"text": says(failure.meaning)},
            "defaultConfiguration": {"level": "error"},
            "properties": {"phase": failure.phase, "standIn": failure.stand_in, "tags": ["build", failure.phase]},
        }
        causes = [r.cause for r in finding.causes] or failure.causes
        if causes:
            rows = [(c, OWNER_WORDS.get(c.owner, c.owner)) for c in causes]
            plain = [f"{says(c.says)}\nFix, by {owner}:\n" + _steps(map(says, c.fix)) for c, owner in rows]
            rich = [f"**{marked(c.says)}**\n\nFix, by {owner}:\n\n" + _steps(map(marked, c.fix)) for c, owner in rows]
            rule["help"] = {"text": "\n\n".join(plain), "markdown": "\n\n".join(rich)}
        return rule

    def _own_rule(self, rule: str) -> dict[str, Any]:
        title, meaning = _OWN_RULES[rule]
        self._rules.setdefault(
            rule, {"id": rule, "shortDescription": {"text": title}, "fullDescription": {"text": meaning}}
        )
        return {"ruleId": rule, "ruleIndex": list(self._rules).index(rule)}

    def _unknown(self) -> Iterator[dict[str, Any]]:
        """Where there is no root at all: the lines worth reading, as one result. A failed build without a known root must not look clean."""
        verdict = self._verdict
        if verdict.root is not None or verdict.outcome == "succeeded":
            return
        worth = verdict.worth_reading
        open_end = verdict.outcome == "unknown"
        result = {
            **self._own_rule(UNKNOWN),
            "kind": "open" if open_end else "fail",
            "level": "none" if open_end else "error",
            "message": {"text": self._says(verdict.headline)},
            "locations": [self._log_place(worth[0].line, worth[0].text) if worth else self._log_place(None)],
            "partialFingerprints": {"logdoctorFailure/v1": verdict.fingerprint},
            "properties": {"nearest": [{"failure": n.failure, "closeness": n.closeness} for n in verdict.nearest]},
        }
        if worth:
            result |= self._hosted(worth[0].line)
            result["relatedLocations"] = _numbered(self._worth())
        yield result

    def _worth(self) -> list[dict[str, Any]]:
        return [
            self._log_place(w.line, w.text) | {"message": {"text": self._says(f"Worth reading: {w.why}")}}
            for w in self._verdict.worth_reading
        ]

    def _secrets(self) -> Iterator[dict[str, Any]]:
        for secret in self._verdict.exposed_secrets[:MOST_SECRETS]:
            yield {
                **self._own_rule(SECRET),
                "kind": "fail",
                "level": "warning",
                "message": {"text": self._says(f"The log shows a secret here: {secret.kind}.")},
                "locations": [self._log_place(secret.line)],
            }

    def _snippet(self, finding: Finding) -> str | None:
        return next((e.text for e in (*finding.evidence, *finding.excerpt) if e.line == finding.line), None)

    def _log_place(self, line: int | None, text: str | None = None) -> dict[str, Any]:
        """A place in the log; `line` None: the log as a whole."""
        source = self._verdict.source
        part, number = source.place(line or 1)
        uri = file_uri(self._gate.text(source.name if part is None else f"{source.name}/{part}"))
        made: dict[str, Any] = {"location": {"uri": uri}, "roles": ["analysisTarget"]}
        if not uri.startswith("file:"):
            made["location"]["uriBaseId"] = "LOGROOT"
        if part is None:
            made |= {"length": source.bytes, "encoding": self._gate.text(source.encoding)}
        where = self._artifact(made)
        if line is not None:
            region: dict[str, Any] = {"startLine": max(1, number)}
            if text is not None:
                region["snippet"] = {"text": self._gate.text(text)}
            where["region"] = region
        return {"physicalLocation": where}

    def _source_place(self, item: Item, texts: list[str]) -> dict[str, Any]:
        uri, inside = relative_uri(self._gate.text(item.file or ""), self._root)
        made: dict[str, Any] = {"location": {"uri": uri}}
        if inside:
            made["location"]["uriBaseId"] = "SRCROOT"
        where = self._artifact(made)
        if item.line:
            where["region"] = {"startLine": item.line}
            column = column_of(item, texts)
            if column:
                where["region"]["startColumn"] = column
        return {"physicalLocation": where}

    def _artifact(self, made: dict[str, Any]) -> dict[str, Any]:
        location = made["location"]
        key = f"{location.get('uriBaseId', '')}|{location['uri']}"
        self._artifacts.setdefault(key, made)
        return {"artifactLocation": {**location, "index": list(self._artifacts).index(key)}}

    def _hosted(self, line: int) -> dict[str, Any]:
        link = log_link(self._log_url, self._verdict.source.place(line)[1], self._gate)
        return {"hostedViewerUri": link} if link else {}

    def _fingerprint(self, finding: Finding) -> str:
        if finding is self._verdict.root:
            return self._verdict.fingerprint
        text = finding.evidence[0].text if finding.evidence else ""
        return _digest(f"{finding.failure.id}|{finding.tool}|{normalized(text)}")

    def _properties(self, finding: Finding) -> dict[str, Any]:
        gate = self._gate
        kept: dict[str, Any] = {
            "role": finding.role,
            "phase": finding.failure.phase,
            "struckIn": finding.struck_in,
            "tool": gate.text(finding.tool),
            "signature": gate.text(finding.signature),
            "lastLine": finding.last_line,
            "itemsTotal": finding.items_total,
            "facts": {key: gate.value(value) for key, value in finding.facts.items()},
        }
        if finding.causes:
            kept["causes"] = [self._cause(ranked) for ranked in finding.causes]
            kept["sharesInformed"] = finding.shares_informed
            kept["nextChecks"] = [
                {"id": n.check.id, "ask": gate.text(n.check.ask), "how": gate.text(n.check.how)}
                for n in finding.next_checks
            ]
        if finding is self._verdict.root:
            kept |= self._of_team()
        return kept

    def _cause(self, ranked: RankedCause) -> dict[str, Any]:
        cause, gate = ranked.cause, self._gate
        return {
            "id": cause.id,
            "says": gate.text(cause.says),
            "share": round(ranked.share, 4),
            "rerun": RERUN_WORDS[cause.rerun],
            "owner": cause.owner,
            "fix": [gate.text(step) for step in cause.fix],
            "caution": gate.maybe(cause.caution),
            "proof": gate.text(cause.proof),
        }

    def _of_team(self) -> dict[str, Any]:
        team, gate = self._team, self._gate
        if team is None:
            return {}
        told = {"name": gate.text(team.name), "channel": gate.maybe(team.channel), "why": gate.text(team.why)}
        return {"team": told}

    def _says(self, text: str) -> str:
        """A text as SARIF's messages want it: what looks like a placeholder or a link is made literal."""
        return _literal(self._gate.text(text))


_PLACEHOLDER = re.compile(r"\{(\d+)\}")
_MARKUP = re.compile(r"([\\`*_{}\[\]()#+!|~>-])")


def _literal(text: str) -> str:
    """Sections 3.11.5 and 3.11.6: `{0}` is a placeholder and `[text](target)` a link unless escaped."""
    text = _PLACEHOLDER.sub(r"{{\1}}", text)
    return text.replace("[", "\\[").replace("]", "\\]") if "](" in text else text


def _marked(text: str) -> str:
    """A text with nothing in it that Markdown would act on."""
    return _MARKUP.sub(r"\\\1", text).replace("&", "&amp;").replace("<", "&lt;")


def _steps(steps: Iterable[str]) -> str:
    return "\n".join(f"{number}. {step}" for number, step in enumerate(steps, start=1))


def _kind(finding: Finding) -> dict[str, str]:
    level = LEVELS.get(finding.role)
    return {"kind": "fail", "level": level} if level else {"kind": "informational", "level": "none"}


def _numbered(places: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{"id": number, **place} for number, place in enumerate(places, start=1)]


def _item_print(finding: Finding, item: Item) -> str:
    return _digest(f"{finding.failure.id}|{normalized(item.file or '')}|{normalized(item.text)}")


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:16]


def _version() -> dict[str, str]:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return {"semanticVersion": version("logdoctor")}
    except PackageNotFoundError:  # a source checkout that is not installed
        return {}
