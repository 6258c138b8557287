"""What earlier lines prove about repositories: which hosts and ids downloads and uploads worked with."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from logdoctor.intake import LineReader, clean
from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from logdoctor.model import FactValue
    from logdoctor.scan import Tally

__all__ = ["Transfers", "seen_transfers", "transfer_facts"]

_BUILD_STAMP = lazy(r"-\d{8}\.\d{6}-\d+$")
# The types that are stored under another extension than their name (the build tool's list of artifact handlers).
_EXTENSION_OF = {
    "maven-plugin": "jar",
    "test-jar": "jar",
    "ejb": "jar",
    "bundle": "jar",
    "java-source": "jar",
    "javadoc": "jar",
}
MAX_RUNS = 60
LINES_PER_RUN = 40
_DONE = lazy(r"\b(?P<verb>Downloaded|Uploaded)(?: (?:from|to) (?P<id>[^:\s]+))?: (?P<url>https?://\S+)")


@dataclass(slots=True)
class Transfers:
    """Hosts, repository ids and addresses by what worked with them."""

    read_hosts: set[str] = field(default_factory=set)
    read_ids: set[str] = field(default_factory=set)
    written_hosts: set[str] = field(default_factory=set)
    written_urls: set[str] = field(default_factory=set)


def seen_transfers(tallies: Sequence[Tally], reader: LineReader, before: int) -> Transfers:
    """What worked before a line, from a bounded sample of the runs of transfer lines."""
    found = Transfers()
    runs = [t for t in tallies if t.first < before]
    for run in [*runs[: MAX_RUNS // 2], *runs[max(MAX_RUNS // 2, len(runs) - MAX_RUNS // 2) :]]:
        for text in _lines(run, reader, before):
            if match := _DONE.search(text):
                _note(found, match)
    return found


def _lines(run: Tally, reader: LineReader, before: int) -> Iterator[str]:
    count = min(LINES_PER_RUN, run.last - run.first, before - run.first - 1)
    for start, end in [reader.line_at(run.offset), *reader.after(run.offset, max(0, count))]:
        yield clean(reader.text(start, end)).text


def _note(found: Transfers, match: re.Match[str]) -> None:
    host = _host(match["url"])
    if match["verb"] == "Uploaded":
        found.written_urls.add(match["url"])
        if host:
            found.written_hosts.add(host)
        return
    if host:
        found.read_hosts.add(host)
    if match["id"]:
        found.read_ids.add(match["id"])


def transfer_facts(found: Transfers, known: Mapping[str, FactValue]) -> Iterator[tuple[str, FactValue]]:
    """What the transfers prove about the failed request; a thing that was not seen stays unknown."""
    host, url = str(known.get("host", "")), str(known.get("url", ""))
    if host in found.read_hosts:
        yield "downloads_from_host_worked", True
    if host and found.read_hosts - {host}:
        yield "downloads_elsewhere_worked", True
    if known.get("repository_id") in found.read_ids:
        yield "downloads_with_id_worked", True
    if host in found.written_hosts:
        yield "uploads_to_host_worked", True
    if url and any(written.startswith(url.rstrip("/") + "/") for written in found.written_urls):
        yield "uploads_to_repository_worked", True
    artifact = str(known.get("artifact", ""))
    if url in found.written_urls or any(_is_artifact(written, artifact) for written in found.written_urls):
        yield "uploaded_before", True


def _is_artifact(url: str, artifact: str) -> bool:
    """Whether an address is that of this very file: group:name[:extension[:classifier]]:version."""
    group, *parts = artifact.split(":")
    if not 2 <= len(parts) <= 4:
        return False
    name, version = parts[0], parts[-1]
    extension = parts[1] if len(parts) > 2 else "jar"
    extension = _EXTENSION_OF.get(extension, extension)
    classifier = f"-{parts[2]}" if len(parts) > 3 else ""
    stamp = re.escape(_BUILD_STAMP.sub("-SNAPSHOT", version))
    folder = re.escape(f"/{group.replace('.', '/')}/{name}/") + stamp + re.escape(f"/{name}-")
    file = (stamp.removesuffix(re.escape("SNAPSHOT")) + r"[\d.-]+") if stamp.endswith("SNAPSHOT") else stamp
    return re.search(folder + f"(?:{file}|{stamp})" + re.escape(f"{classifier}.{extension}") + "$", url) is not None


def _host(url: str) -> str | None:
    try:
        return urlsplit(url).hostname
    except ValueError:
        return None
