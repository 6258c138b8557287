"""A text of a log made fit for a catalogue that others read: secrets masked, hosts and accounts replaced by made-up ones."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.intake import printable
from logdoctor.masking import Masker
from logdoctor.reports.naming import FREE_HOSTS, HOST_SUFFIXES, PATTERN, SURE_HOSTS

if TYPE_CHECKING:
    from logdoctor.drafting.lines import KeptLines

__all__ = ["Scenario"]

OURS = ".example"
_PLAIN_ADDRESS = "192.0.2.1"
"""An address that documentation may use (RFC 5737)."""
_DOTS = re.compile(r"\.(?=\w)")


class Scenario:
    """One for each draft: the same host gets the same made-up name."""

    def __init__(self, lines: KeptLines) -> None:
        self._masker = Masker()
        self._hosts: dict[str, str] = {}
        for raw in lines.raw.values():
            self._masker.learn(raw)

    def text(self, cleaned: str) -> str:
        """A cleaned line, safe to keep and to show."""
        text = printable(self._masker.mask(cleaned))
        text = SURE_HOSTS.sub(self._reached, text)
        return PATTERN.sub(self._replaced, text)

    def _host(self, name: str) -> str:
        low = name.lower()
        if low in FREE_HOSTS or low.endswith(OURS) or not low.strip("[]"):
            return name
        return self._hosts.setdefault(low, f"host-{len(self._hosts) + 1}{OURS}")

    def _reached(self, match: re.Match[str]) -> str:
        group = match.lastgroup or ""
        start, end = match.start(group) - match.start(), match.end(group) - match.start()
        return match[0][:start] + self._host(match[group]) + match[0][end:]

    def _replaced(self, match: re.Match[str]) -> str:
        if match["url_host"]:
            user = "account@" if match["url_user"] else ""
            tail = (match["url_port"] or "") + (match["url_tail"] or "")
            return f"{match['url_scheme']}{user}{self._host(match['url_host'])}{tail}"
        if match["mail_user"]:
            user = match["mail_user"] if match["mail_user"] == "git" else "account"
            return f"{user}@{self._host(match['mail_host'])}{match['scp_path'] or ''}"
        for group in ("home_user", "windows_user"):
            if match[group]:
                at = match.start(group) - match.start()
                return match[0][:at] + "ci" + match[0][at + len(match[group]) :]
        if match["address"]:
            versioned = match.string[match.start() - 1 : match.start()] in (":", "@", "-")
            return match[0] if versioned or match[0] in FREE_HOSTS else _PLAIN_ADDRESS
        return self._dotted(match)

    def _dotted(self, match: re.Match[str]) -> str:
        """A dotted name is a host where its last part says so and it does not look like a file or a class."""
        name = match["dotted"]
        if not name or name != name.lower() or name.rpartition(".")[2] not in HOST_SUFFIXES:
            return match[0]
        return self._host(name) if len(_DOTS.findall(name)) > 1 else match[0]
