"""Takes the traces of the machine that ran a lab out of a log, line for line, and checks that none is left.

Durations, sizes and dates stay: they are part of how a log looks. Loopback addresses become one address of the
block reserved for documentation (RFC 5737); every host ends in ``.example``.
"""

from __future__ import annotations

import getpass
import platform
import re
import socket
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

__all__ = ["ADDRESS", "AGENT", "PUBLIC", "REPOSITORY", "Scrubber", "leaks"]

REPOSITORY = "repo.brackwater.example"
PUBLIC = "repo.public.example"
AGENT = "agent-07"
ADDRESS = "192.0.2.40"
KERNEL = "6.1.0-28-amd64"

_LOOPBACK = r"(?:localhost|127\.0\.0\.1|\[::1\]|0:0:0:0:0:0:0:1)"
_EXAMPLE_HOST = r"[A-Za-z0-9-]+(?:\.[A-Za-z0-9-]+)*\.example"
# Hosts that tools print in help links, XML namespaces and licence notes.
_PRINTED_BY_TOOLS = re.compile(
    r"(?:^|\.)(?:apache\.org|w3\.org|junit\.org|xml\.org|jcp\.org|npmjs\.com|git-scm\.com|pypa\.io|python\.org"
    r"|openssl\.org|nodejs\.org|mojohaus\.org|oracle\.com|java\.com|docs\.gradle\.org|github\.com)$"
)
_URL_HOST = re.compile(r"\b[a-z][a-z0-9+.-]*://(?:[^\s/@'\"<>]*@)?(?P<host>\[[^\]\s]+\]|[^\s/:'\"<>)\],;]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scrubber:
    """Replaces, in this order: the given texts, the world's own path, ports and addresses, the machine's names."""

    base: Path | None = None
    """The temporary world's folder: cut off, so that what is below it looks like the root of a disk."""
    texts: Sequence[tuple[str, str]] = ()
    """Literal replacements, longest first whatever the order given."""
    ports: Mapping[int, str] = field(default_factory=dict)
    """Port of a lab server to the host (with a port, where wanted) that the log shows instead."""
    public_hosts: Iterable[str] = ()
    """Hosts of public registries, found out at run time from the tools themselves."""

    def __call__(self, text: str) -> str:
        """Scrub a whole log; the number of lines stays."""
        for old, new in sorted(self.texts, key=lambda pair: -len(pair[0])):
            text = text.replace(old, new)
        if self.base is not None:
            text = self._without_base(text, self.base)
        for port, host in self.ports.items():
            text = self._without_port(text, port, host)
        for host in self.public_hosts:
            text = re.sub(rf"(?<![\w.-]){re.escape(host)}(?![\w-])", PUBLIC, text)
        return _URL_HOST.sub(_public_host, self._without_names(text))

    @staticmethod
    def _without_base(text: str, base: Path) -> str:
        for path in {str(base.resolve()), str(base)}:
            text = text.replace(path, "").replace(path.lstrip("/"), "")
        return text.replace(base.name, "agent")

    @staticmethod
    def _without_port(text: str, port: int, host: str) -> str:
        bare = host.split(":", maxsplit=1)[0]
        text = re.sub(rf"(?<!/)/{_LOOPBACK}:{port}(?!\d)", f"/{ADDRESS}:443", text)
        text = re.sub(
            rf"(?<![\w/@.-])(?P<name>{_EXAMPLE_HOST}):{port}(?!\d)", lambda m: _outside_address(m["name"], host), text
        )
        text = re.sub(rf"(?<![\w.-]){_LOOPBACK}:{port}(?!\d)", host, text)
        text = re.sub(rf"(?P<name>{_EXAMPLE_HOST}):{port}(?!\d)", lambda m: _with_port(m["name"], host), text)
        text = re.sub(rf"(?<=port )'?{port}'?(?!\d)|(?<=port: ){port}(?!\d)", "443", text)
        return text.replace(f"{bare}:{port}", host)

    @staticmethod
    def _without_names(text: str) -> str:
        text = re.sub(r"(?<![\d.])127\.0\.0\.1(?![\d.])|0:0:0:0:0:0:0:1(?![\d:])|\[::1\]", ADDRESS, text)
        text = re.sub(r"(?<![\w.-])localhost(?![\w.-])", REPOSITORY, text)
        text = re.sub(r"(?<![\w/.-])/root(?=[/\s'\":]|$)", "/home/ci", text)
        text = text.replace(platform.release(), KERNEL)
        name = socket.gethostname()
        return re.sub(rf"(?<![\w.-]){re.escape(name)}(?![\w-])", AGENT, text) if name else text


def _public_host(match: re.Match[str]) -> str:
    """An address of a real host that is neither ours nor a help link stands for some public repository."""
    host = match["host"].lower().rstrip(".")
    if _may_stay(host):
        return match.group()
    return match.group()[: match.start("host") - match.start()] + PUBLIC


def _with_port(name: str, host: str) -> str:
    """A host printed with a server's port: its own name stays, the port is the wanted one or none."""
    _, colon, wanted = host.partition(":")
    return f"{name}{colon}{wanted}"


def _outside_address(name: str, host: str) -> str:
    """Connection messages print a port even where the address has none."""
    return f"{name}:{host.partition(':')[2] or 443}"


def leaks(text: str, *, forbidden: Iterable[str] = ()) -> list[str]:
    """Everything in a scrubbed log that still tells about the machine, one remark each; empty when clean."""
    found = [f"forbidden text {word!r}" for word in (*_machine_words(), *forbidden) if word in text]
    patterns = {
        "loopback": rf"(?<![\w.-]){_LOOPBACK}(?![\w.-])",
        "path": r"(?<![\w/.<-])/(?:(?:root|work)(?![\w-])|tmp/lab-|tmp/dev)",
        "host name": rf"(?<![\w.-]){re.escape(socket.gethostname() or 'no-name')}(?![\w-])",
    }
    for kind, pattern in patterns.items():
        found += [f"{kind} {m.group()!r}" for m in re.finditer(pattern, text)]
    for match in _URL_HOST.finditer(text):
        host = match["host"].lower().rstrip(".")
        if not _may_stay(host):
            found.append(f"host {host!r} in {match.group()!r}")
    return sorted(set(found))


def _may_stay(host: str) -> bool:
    """Hosts of our own scenario, and those of help links; a repository of a tool's makers is no help link."""
    if _PRINTED_BY_TOOLS.search(host):
        return not host.startswith("repo")
    return (
        host in {"example", "0.0.0.0"}
        or host.endswith(".example")
        or host == ADDRESS
        or not re.search(r"[a-z0-9]", host)
    )


def _machine_words() -> list[str]:
    """Paths of this machine that are long enough to prove something when they stand in a log."""
    here = Path(__file__).resolve().parents[2]
    words = [platform.release(), str(Path(tempfile.gettempdir()) / "lab-"), str(Path.home()) + "/", str(here)]
    user = getpass.getuser()
    return [word for word in words if len(word) > 4] + ([f"/home/{user}/"] if user not in {"root", "ci"} else [])
