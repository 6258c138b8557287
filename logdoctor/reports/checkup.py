"""A checkup as text and as JSON: remarks, the route of each download and upload, and what could not be seen."""

from __future__ import annotations

import json
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from logdoctor.reports.plain import Gate
from logdoctor.setup_files.values import BUILT_IN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.setup_files import Place, Remark, Route, Setup
    from logdoctor.setup_files.values import Severity

__all__ = ["SCHEMA", "Checkup", "Part", "checkup_json", "checkup_text"]

SCHEMA = "logdoctor-checkup/1"
WIDTH = 80
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"
COMMANDS = frozenset(
    ["npm", "pip", "uv", "git", "mvnw", "gradlew", "poetry", "pdm", "twine", "python", "maven", "gradle"]
)
KIND_WORDS = {
    "dependency": "dependencies",
    "plugin": "plugins",
    "release": "releases",
    "snapshot": "snapshots",
    "site": "the site",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What the files of one tool tell."""

    tool: str
    files: tuple[str, ...]
    setup: Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkup:
    """All parts of one checkup, in order."""

    parts: tuple[Part, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many remarks there are of each severity."""
        found = [remark.severity for part in self.parts for remark in part.setup.remarks]
        return {severity: found.count(severity) for severity in SEVERITIES}


class _Out:
    """The gate for a checkup: names pass through one of their own.

    The gate takes a telling name at the end of a text for the beginning of a pair, and would mask the next text.
    """

    def __init__(self) -> None:
        self._texts, self._names = Gate(), Gate()

    def text(self, text: str) -> str:
        """A sentence or an address."""
        return self._texts.text(text)

    def name(self, text: str) -> str:
        """An id or a file's name."""
        shown = self._names.text(text)
        # An ordinary word between two names ends a pair that may have been begun.
        self._names.text("name")
        return shown

    def maybe(self, text: str | None) -> str | None:
        """The same for a name that may be missing."""
        return None if text is None else self.name(text)


def checkup_text(checkup: Checkup, *, colour: bool = False) -> str:
    """The whole report; the first line counts the remarks."""
    out = _Out()
    lines = [_bold(_headline(checkup), colour=colour)]
    for severity in SEVERITIES:
        for part in checkup.parts:
            for remark in part.setup.remarks:
                if remark.severity == severity:
                    lines += ["", *_remark(remark, out, colour=colour)]
    for direction, title in (("download", "Downloads"), ("upload", "Uploads")):
        routes = [(p.tool, r) for p in checkup.parts for r in p.setup.routes if r.direction == direction]
        if routes:
            lines += ["", _bold(title, colour=colour)]
            lines += [line for tool, route in routes for line in _listed(_route(tool, route, out))]
    unseen = list(dict.fromkeys(_sentence(out.text(text)) for p in checkup.parts for text in p.setup.incomplete))
    if unseen:
        lines += ["", _bold("Not seen", colour=colour), *(line for text in unseen for line in _listed(text))]
    lines += ["", _bold("Files read", colour=colour)]
    lines += [f"  {part.tool}: {out.name(file)}" for part in checkup.parts for file in part.files]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def checkup_json(checkup: Checkup) -> str:
    """The same as one JSON object."""
    out = _Out()
    parts = checkup.parts
    plain = {
        "schema": SCHEMA,
        "counts": checkup.counts,
        "files": [{"tool": part.tool, "file": out.name(file)} for part in parts for file in part.files],
        "remarks": [{"tool": p.tool, **_plain_remark(remark, out)} for p in parts for remark in p.setup.remarks],
        "routes": [{"tool": part.tool, **_plain_route(route, out)} for part in parts for route in part.setup.routes],
        "facts": [
            {
                "tool": part.tool,
                "name": out.name(fact.name),
                "value": out.name(fact.value) if isinstance(fact.value, str) else fact.value,
                "place": _plain_place(fact.place, out),
            }
            for part in parts
            for fact in part.setup.facts
        ],
        "incomplete": [{"tool": part.tool, "what": out.text(text)} for part in parts for text in part.setup.incomplete],
    }
    return json.dumps(plain, indent=2, ensure_ascii=False)


def _headline(checkup: Checkup) -> str:
    counts = checkup.counts
    files = sum(len(part.files) for part in checkup.parts)
    said = ", ".join(f"{number} {word}{'s' * (number != 1)}" for word, number in counts.items() if number)
    return f"{said or 'Nothing to remark'} in {files} file{'s' * (files != 1)}"


def _remark(remark: Remark, out: _Out, *, colour: bool) -> Iterator[str]:
    where = f"  {_place(remark.place, out)}" if remark.place else ""
    yield _bold(remark.severity.upper(), colour=colour) + where
    yield from _wrapped(_sentence(out.text(remark.what)), "  ")
    yield from _wrapped("Mend: " + _sentence(out.text(remark.mend)), "  ")


def _route(tool: str, route: Route, out: _Out) -> str:
    """One route in plain words."""
    upload = route.direction == "upload"
    url = _address(route.url, out)
    text = f"{tool}: {KIND_WORDS[route.kind]} {'to' if upload else 'from'} {out.name(route.repository_id)}"
    text += f", which is {url}" if route.mirror_id is None else f" ({url})"
    if route.mirror_id is not None:
        mirror = out.text(route.mirror_url) if route.mirror_url else "no address"
        text += f", taken by the mirror {out.name(route.mirror_id)}, which is {mirror}"
    text += f"; {_login(route, out)}"
    if not upload:
        text += _policy(route)
    if route.declared:
        text += f"; {_place(route.declared, out)}"
    text += "."
    if route.incomplete:
        text += f" Incomplete: {_sentence(out.text(route.incomplete))}"
    return text


def _address(url: str, out: _Out) -> str:
    if not url:
        return "an address that the build computes"
    return "the address built into the build tool" if url == BUILT_IN else out.text(url)


def _login(route: Route, out: _Out) -> str:
    user = f" as {out.name(route.user)}" if route.user else ""
    if route.server_id is not None:
        return f"with the credentials of {out.name(route.server_id)}{user}"
    return f"logging in{user}" if user else "without credentials"


def _policy(route: Route) -> str:
    if route.releases and route.snapshots:
        return ""
    if not route.releases and not route.snapshots:
        return "; switched off for releases and snapshots"
    return "; releases only" if route.releases else "; snapshots only"


def _place(place: Place, out: _Out) -> str:
    return f"{out.name(place.file)} line {place.line}"


def _plain_place(place: Place | None, out: _Out) -> dict[str, Any] | None:
    return {"file": out.name(place.file), "line": place.line} if place else None


def _plain_remark(remark: Remark, out: _Out) -> dict[str, Any]:
    return {
        "severity": remark.severity,
        "code": remark.code,
        "what": out.text(remark.what),
        "mend": out.text(remark.mend),
        "place": _plain_place(remark.place, out),
    }


def _plain_route(route: Route, out: _Out) -> dict[str, Any]:
    mirror = {"id": out.name(route.mirror_id), "url": out.text(route.mirror_url or "")} if route.mirror_id else None
    return {
        "direction": route.direction,
        "kind": route.kind,
        "repository_id": out.name(route.repository_id),
        "url": out.text(route.url),
        "mirror": mirror,
        "server_id": out.maybe(route.server_id),
        "user": out.maybe(route.user),
        "releases": route.releases,
        "snapshots": route.snapshots,
        "declared": _plain_place(route.declared, out),
        "incomplete": out.text(route.incomplete) if route.incomplete else None,
    }


def _sentence(text: str) -> str:
    """With a capital first letter, unless the first word is a command's or a setting's name, and a full stop."""
    first = text.split(" ", 1)[0]
    named = first in COMMANDS or not first.isalpha() or not first.islower()
    text = text if named else text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?", "…")) else text + "."


def _listed(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  - ", subsequent_indent="    ", **_WRAP)


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent, **_WRAP)


# Addresses and keys are never cut: a person copies them.
_WRAP: dict[str, Any] = {"break_long_words": False, "break_on_hyphens": False}


def _bold(text: str, *, colour: bool) -> str:
    return f"{BOLD}{text}{PLAIN}" if colour else text
