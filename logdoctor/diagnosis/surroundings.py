"""What lines around a failure, and the steps before it, tell about the machine and the job: disk listings, image builds, Java, proxies."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.diagnosis.belonging import belonging_facts, owner_in
from logdoctor.intake import LineReader, clean
from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from logdoctor.diagnosis.sightings import Sighting
    from logdoctor.diagnosis.timeline import Timeline
    from logdoctor.model import FactValue
    from logdoctor.scan import Scan

__all__ = ["disk_listings", "surrounding_facts"]

LINES_BEFORE = 150
LINES_AFTER = 50
LINES_OF_HEAD = 120
FULL_PERCENT = 97
JAVA_TOOLS = frozenset({"maven", "gradle", "ant", "ivy", "sbt"})
_LISTING = lazy(r"^Filesystem\s.*\b(?P<kind>I?Use%|Capacity|%iused)\s+(?:Mounted on|[^\n]*Mounted)")
_ROW = lazy(r"^\S+(?:\s+[\d.,]+[KMGTPEi]*B?|\s+-)+\s+(?P<percent>\d{1,3})%\s+(?P<mount>/\S*)\s*$")
_PATH = lazy(r"(?<![\w:/.])/[\w.@+~-]+(?:/[\w.@+~-]+)*")
_IMAGE_BUILD = lazy(
    r"\b(?:docker|podman|nerdctl)(?: buildx| image| compose)? (?:build|bake)\b|\bbuildah (?:bud|build)\b|/kaniko/executor"
)
_IMAGE_STEP = lazy(
    r"(?:^|[Z\]\d] )(?:#\d+ (?:\d+\.\d+ |ERROR|\[)|(?:Step|STEP) \d+/\d+ ?:)|failed to solve: |^The command '.*' returned a non-zero code"
)
_SERVICE_STARTED = lazy(
    r"\bContainer \S+ +(?:Started|Healthy|Running)\b|^Starting (?:service|container) |\b(?:docker|podman)(?:-| )compose\b.*\bup\b"
    r"|^Starting \S+ \.\.\. done|\b(?:docker|podman) run (?:-\S+ +|--\S+ +)*-d\b|^(?:\+ |\$ )?(?:sudo )?(?:systemctl|service) .*\bstart\b"
)
_SERVICE_READY = lazy(
    r"\bready (?:for|to accept) connections\b|\bWaiting for connections\b|\bReady to accept connections\b"
    r"|\b(?:[Ll]istening|[Ss]tarted|[Ss]erving)\b.{0,40}\b(?:on|at) .{0,30}\bport\(?s?\)?:? \d+|\bServer startup in\b|\bStarted \w+ in [\d.]+ seconds"
)
_LOOPBACK = lazy(r"localhost$|127\.|\[?::1")
# The build tool's list of where it looked for an artifact.
_SEARCHED = lazy(r"^\s+- https?://(?:[^@/\s]+@)?([\w.-]+)", re.MULTILINE)
_RELEASE = lazy(r"(?:1\.)?(\d+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mount:
    """A row of a disk listing."""

    mount: str
    percent: int
    inodes: bool


def surrounding_facts(
    root: Sighting, scan: Scan, timeline: Timeline, reader: LineReader, known: Mapping[str, FactValue]
) -> Iterator[tuple[str, FactValue]]:
    """Facts from the lines near the root and at the head of the log."""
    offset = root.hit.offset
    near = [clean(reader.text(*place)).text for place in reader.before(offset, LINES_BEFORE)]
    after = [clean(reader.text(*place)).text for place in reader.after(offset, LINES_AFTER)]
    head = [clean(reader.text(*place)).text for place in [reader.line_at(0), *reader.after(0, LINES_OF_HEAD)]]
    yield "failing_tool", root.signature.tool
    asked = _SEARCHED.findall("\n".join(after)) if "host" not in known else []
    yield from belonging_facts(owner_in([*head, *near]), known, asked)
    yield from _disk_facts(disk_listings([*near, *after]), root.hit.text)
    if _builds_image(root, timeline, reader):
        yield "in_image_build", True
    yield from _java_facts(scan, root.line, known)
    yield from _service_facts([*near, root.hit.text], after, known)
    if "proxy_variable" in known and root.signature.tool in JAVA_TOOLS:
        yield "proxy_not_read", True


def _service_facts(
    before: Sequence[str], after: Sequence[str], known: Mapping[str, FactValue]
) -> Iterator[tuple[str, FactValue]]:
    """Whether services were started for the job, when they said that they are ready, and which address was asked."""
    if any(map(_SERVICE_STARTED.search, before)):
        yield "service_started", True
    if any(map(_SERVICE_READY.search, before)):
        yield "service_ready", "before"
    elif any(map(_SERVICE_READY.search, after)):
        yield "service_ready", "after"
    if known.get("in_container") is True and _LOOPBACK.match(str(known.get("host", ""))):
        yield "loopback_in_container", True


def _builds_image(root: Sighting, timeline: Timeline, reader: LineReader) -> bool:
    raw = reader.text(*reader.line_at(root.hit.offset))
    commands = [s.goal or "" for s in timeline.steps if s.tool == "bash" and s.start <= root.line]
    near = [root.step.goal or "", *commands[-1:]]
    return any(map(_IMAGE_STEP.search, (clean(raw).text, raw, root.hit.text))) or any(map(_IMAGE_BUILD.search, near))


def disk_listings(lines: Sequence[str]) -> list[Mount]:
    """The rows of the listings of free space and of free inodes."""
    found: list[Mount] = []
    inodes: bool | None = None
    for text in lines:
        if header := _LISTING.match(text):
            inodes = header["kind"] in ("IUse%", "%iused")
        elif inodes is not None and (row := _ROW.match(text)):
            found.append(Mount(mount=row["mount"], percent=int(row["percent"]), inodes=inodes))
        else:
            inodes = None
    return found


def _disk_facts(mounts: Sequence[Mount], text: str) -> Iterator[tuple[str, FactValue]]:
    """Whether bytes and inodes are left, on the mount of the path in the message where it can be told, else on all alike."""
    paths = _PATH.findall(text)
    for name, inodes in (("bytes_left", False), ("inodes_left", True)):
        rows = [m for m in mounts if m.inodes is inodes]
        fits = [m for m in rows if any(_lies_in(path, m.mount) for path in paths)]
        if fits:
            longest = max(len(m.mount) for m in fits)
            rows = [m for m in fits if len(m.mount) == longest][-1:]
        full = {m.percent >= FULL_PERCENT for m in rows}
        if len(full) == 1:
            yield name, not full.pop()


def _lies_in(path: str, mount: str) -> bool:
    return path == mount or path.startswith(mount.rstrip("/") + "/")


def _java_facts(scan: Scan, line: int, known: Mapping[str, FactValue]) -> Iterator[tuple[str, FactValue]]:
    """Whether the log shows several Java releases, and whether the one in use is as new as the project asks."""
    hits = scan.hits.get("java_version")
    shown = [_release(h.groups.get("value")) for h in hits.kept() if h.line <= line] if hits else []
    releases = {release for release in shown if release}
    if releases:
        yield "several_java_releases", len(releases) > 1
    asked, running = _release(known.get("release_compiled")), known.get("java_release")
    if asked and isinstance(running, int):
        yield "java_fits_project", running >= asked


def _release(value: FactValue | None) -> int | None:
    match = _RELEASE.match(str(value or ""))
    return int(match[1]) if match else None
