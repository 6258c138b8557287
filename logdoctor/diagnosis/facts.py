"""Facts of a finding from the log: the signature's groups, what they imply, and what other lines show."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from logdoctor.catalogue.patterns import compiled, named_groups
from logdoctor.diagnosis.attempts import attempt_facts
from logdoctor.diagnosis.requests import seen_transfers, transfer_facts
from logdoctor.diagnosis.surroundings import surrounding_facts
from logdoctor.intake import LineReader, clean
from logdoctor.lazy import lazy

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from logdoctor.diagnosis.root import Choice
    from logdoctor.diagnosis.sightings import Sighting
    from logdoctor.diagnosis.timeline import Timeline
    from logdoctor.model import FactValue
    from logdoctor.scan import Scan

__all__ = ["facts_of"]

_UPLOAD_WORDS = lazy(r"\bPUT\b|\bPOST\b|Failed to deploy|Could not write|[Uu]pload")
_READ_WORDS = lazy(
    r"\bGET\b|\bHEAD\b|[Cc]ould not (?:transfer metadata|find|read)|Failed to retrieve|maven-metadata|Download"
)
_METHOD = lazy(
    r"\b(?P<method>GET|HEAD|PUT|POST|PATCH|DELETE|Get|Head|Put|Post|Patch|Delete)(?: request)?(?: to)?:? ?[\"']?https?://"
)
_WRITES = frozenset(["PUT", "POST", "PATCH", "DELETE"])
_EXCEPTION = lazy(r"\b(?:[a-z]\w*\.)+(?P<name>[A-Z]\w*(?:Exception|Error))\b")
_STATUS = lazy(
    r"(?:status(?: code)?:?|Return code is:?|HTTP(?:/\d(?:\.\d)?)?|returned error:|E(?=\d{3}\b)|HTTPError:) ?(?P<status>[1-5]\d\d)\b"
)
_GOAL = lazy(r"(?:Failed to execute goal |Execution failed for task ')(?P<goal>[\w.-]*:[\w.:-]+(?: \([\w-]+\))?)")
_TRANSFER = lazy(
    r"Could not (?:transfer|find) (?:artifact (?P<artifact>\S+)|metadata \S+) (?:from/to|in) (?P<repository_id>[^\s(]+) \((?P<url>[a-z]+://[^),\s]+)"
)
_URL = lazy(r"https?://[^\s'\"<>()\[\],]+")
_SNAPSHOT = lazy(r"-SNAPSHOT\b|-\d{8}\.\d{6}-\d+\b")
_RELEASE_VERSION = lazy(r"[:/-]\d+(?:\.\d+)+\b")
# Numbers that look like the version of an artifact and are not: a plugin's goal, a network address.
_NO_VERSION = lazy(r"[\w.-]+:[\w.-]*plugin[\w.-]*:\d[\w.-]*(?::[\w-]+)?|\d{1,3}(?:\.\d{1,3}){3}(?![\d.-])")
_EXIT = lazy(
    r"(?:exit(?:ed with)?(?: non-zero)? (?:code|status|value)|exited with|returned a non-zero code):? ?(?P<status>\d{1,3})\b",
    re.IGNORECASE,
)
_KINDS = (
    ("group", lazy(r"/(?:[\w-]*(?:group|public|all|virtual)[\w-]*)(?:/|$)", re.IGNORECASE)),
    ("proxy", lazy(r"/(?:[\w-]*(?:proxy|mirror|remote|central)[\w-]*)(?:/|$)", re.IGNORECASE)),
    ("web", lazy(r"/(?:browse|ui|webapp|#)(?:/|$)|#browse", re.IGNORECASE)),
    (
        "hosted",
        lazy(r"/(?:[\w-]*(?:releases?|snapshots?|hosted|local|internal|private)[\w-]*)(?:/|$)", re.IGNORECASE),
    ),
)
_MAVEN = lazy(r"(?:^|[\s/])mvnw?(?:\.cmd)?(?:\s|$)")
_SETTINGS = lazy(r"\s(?:-s|-gs|--(?:global-)?settings)[ =]+[\"']?(?P<path>[^\s\"']+)")
_FRESH = lazy(r"Cloning |[Ii]nitialized empty|Created fresh")
_REUSED = lazy(r"Reinitialized existing|Fetching changes from|Fetching upstream")
_IN_CONTAINER = lazy(r"\b(?:docker|podman)(?: compose|-compose)? (?:run|exec)\b")
# A CI server's own way: a container that sleeps while the job's steps run in it, until it is stopped.
_KEPT_CONTAINER = lazy(r"\bdocker run -t -d .*\bcat$|\bdocker (?P<stop>stop) ")
_FEATURE = lazy(r"1\.(?P<old>\d+)|(?P<new>\d+)")
_CLASS_FILE_OFFSET = 44
LINES_AFTER = 40
LINES_BEFORE = 100
LINES_OF_HEAD = 60


def facts_of(
    choice: Choice, sightings: Sequence[Sighting], scan: Scan, timeline: Timeline, reader: LineReader
) -> dict[str, FactValue]:
    """Every fact the log carries about the root; a fact that is not there is unknown."""
    root = choice.root
    facts: dict[str, FactValue] = dict(_log_wide(scan))
    for sighting in (choice.named_by, root):
        facts.update({k: v for k, v in sighting.hit.groups.items() if v})
    facts.update(_from_text(root, facts))
    if choice.named_by is not root:
        facts = {**_from_text(choice.named_by, facts), **facts}
    if "reason" not in facts and _asks_for_reason(root):
        facts["reason"] = root.hit.text
    if choice.wrapper is not None:
        facts["wrapper"] = choice.wrapper.failure.id
    facts.update(_of_the_entry(root, reader))
    facts["same_failure_count"] = sum(1 for s in sightings if s.failure.id == root.failure.id)
    facts.update(_from_exit(root, reader, facts))
    facts.update(transfer_facts(seen_transfers(scan.tallies, reader, root.line), facts))
    facts.update(_from_steps(timeline, root, facts))
    facts.update(_from_java(facts))
    facts.update(_waited(root, reader))
    facts.update(attempt_facts(root, reader, facts))
    facts.update(surrounding_facts(root, scan, timeline, reader, facts))
    passed = [s.phase for s in timeline.steps if s.start < root.line and s.phase != root.step.phase and s.followed]
    if passed:
        facts["follows_passed_phase"] = passed[-1]
    return facts


def _asks_for_reason(root: Sighting) -> bool:
    """Whether clues look at the words that a tool gives as its reason; where a wording has no part for them, its line holds them."""
    return any(clue.fact == "reason" for cause in root.failure.causes for clue in cause.clues)


def _log_wide(scan: Scan) -> Iterator[tuple[str, FactValue]]:
    """Fact lines of the catalogue: the last value that the log shows."""
    for key, hits in scan.hits.items():
        if "/" not in key:
            last = list(hits.kept())[-1]
            yield key, last.groups.get("value", last.text)


def _of_the_entry(root: Sighting, reader: LineReader) -> Iterator[tuple[str, FactValue]]:
    """The entry's own fact patterns, on the line nearest to the root that matches, else at the head of the log."""
    offset = root.hit.offset
    places = [*reader.after(offset, LINES_AFTER), *reversed(reader.before(offset, LINES_BEFORE))]
    places += [reader.line_at(0), *reader.after(0, LINES_OF_HEAD)]
    texts = [root.hit.text]
    if root.failure.facts:
        texts += [clean(reader.text(start, end)).text for start, end in places]
    for name, line in root.failure.facts.items():
        rule = compiled(line)
        found = next((m for m in map(rule.search, texts) if m), None) if rule else None
        if found is not None:
            yield name, named_groups(found).get("value") or found.group()


def _from_text(sighting: Sighting, known: Mapping[str, FactValue]) -> dict[str, FactValue]:
    text = sighting.hit.text
    found: dict[str, FactValue] = dict(_of_the_request(sighting, known))
    if exception := _EXCEPTION.search(text):
        found["exception_class"] = exception["name"]
    artifact = str(known.get("artifact") or found.get("artifact") or "")
    versions = artifact if artifact.count(":") > 1 else _NO_VERSION.sub(" ", text)
    if _SNAPSHOT.search(versions):
        found["version_is_snapshot"] = True
    elif _RELEASE_VERSION.search(versions):
        found["version_is_snapshot"] = False
    named = _GOAL.search(text)
    if (goal := named["goal"] if named else sighting.step.goal) and "goal" not in known:
        found["goal"] = goal
    return found


def _of_the_request(sighting: Sighting, known: Mapping[str, FactValue]) -> Iterator[tuple[str, FactValue]]:
    text = sighting.hit.text
    transfer = _TRANSFER.search(text)
    told = {k: v for k, v in transfer.groupdict().items() if v and k not in known} if transfer else {}
    yield from told.items()
    if url := str(known.get("url") or told.get("url") or _first(_URL, text) or ""):
        yield from _from_url(url)
    if "status" not in known and (match := _STATUS.search(text)):
        yield "status", match["status"]
    shown = _METHOD.search(text)
    method = shown["method"].upper() if shown else None
    if method and "method" not in known:
        yield "method", method
    if _UPLOAD_WORDS.search(text) or method in _WRITES:
        yield "request", "write"
    elif method or _READ_WORDS.search(text) or sighting.failure.phase in ("resolve", "checkout"):
        yield "request", "read"


def _from_url(url: str) -> Iterator[tuple[str, FactValue]]:
    try:
        parts = urlsplit(url)
        host = parts.hostname
    except ValueError:
        return
    yield "url", url
    yield "scheme", parts.scheme
    if host:
        yield "host", host
    yield "path", parts.path
    for kind, pattern in _KINDS:
        if pattern.search(parts.path):
            yield "target_kind", kind
            return


def _from_exit(root: Sighting, reader: LineReader, known: Mapping[str, FactValue]) -> Iterator[tuple[str, FactValue]]:
    """The exit status in the message, else the one that is told soon after it."""
    status = str(known.get("exit_status") or "")
    texts = [root.hit.text] if not status else []
    texts += [clean(reader.text(*place)).text for place in reader.after(root.hit.offset, LINES_AFTER)] if texts else []
    if match := next((m for m in map(_EXIT.search, texts) if m), None):
        status = match["status"]
    if not status.isdigit() or not 0 < int(status) < 256:
        return
    yield "exit_status", status
    number = int(status) - 128
    import signal  # makes its names as enumerations

    if number in {int(s) for s in signal.Signals}:
        yield "exit_signal", signal.Signals(number).name


def _kept_container(commands: Sequence[str]) -> bool:
    kept = [m for m in map(_KEPT_CONTAINER.search, commands) if m]
    return bool(kept) and kept[-1]["stop"] is None


def _from_steps(timeline: Timeline, root: Sighting, known: Mapping[str, FactValue]) -> Iterator[tuple[str, FactValue]]:
    """What the commands and the checkout before the root tell."""
    commands = [s.goal or "" for s in timeline.steps if s.tool == "bash" and s.start <= root.line]
    maven = [c for c in commands if _MAVEN.search(c)]
    if maven:
        passed = _SETTINGS.search(maven[-1])
        yield "settings_option", passed is not None
        if passed is None and any(map(_SETTINGS.search, maven[:-1])):
            yield "settings_option_earlier", True
        if passed:
            yield "settings_path", passed["path"]
    opened = [
        s.opened_by.text for s in timeline.steps if s.phase == "checkout" and s.opened_by and s.start <= root.line
    ]
    if any(_FRESH.search(text) for text in opened):
        yield "workspace_reused", False
    elif any(_REUSED.search(text) for text in opened):
        yield "workspace_reused", True
    if "job_container" in known or _IN_CONTAINER.search(root.step.goal or "") or _kept_container(commands):
        yield "in_container", True


def _from_java(known: Mapping[str, FactValue]) -> Iterator[tuple[str, FactValue]]:
    home = str(known.get("java_home", "")).rstrip("/\\")
    if home:
        yield "java_home_ends_in_bin", home.lower().endswith(("/bin", "\\bin"))
        yield "java_home_is_java_file", home.lower().endswith(("/bin/java", "java.exe"))
    if (needed := _release_of(known.get("class_version"))) is not None:
        yield "java_release_needed", needed
    if running := _FEATURE.match(str(known.get("java_version", ""))):
        yield "java_release", int(running["old"] or running["new"])


def _release_of(class_version: FactValue | None) -> int | None:
    """The Java release of a class-file version (Java Virtual Machine Specification, section 4.1: 45 is 1.1, then one a release)."""
    major = str(class_version or "").split(".")[0]
    return int(major) - _CLASS_FILE_OFFSET if major.isdigit() and int(major) > _CLASS_FILE_OFFSET else None


def _waited(root: Sighting, reader: LineReader) -> Iterator[tuple[str, FactValue]]:
    """Seconds since the line before, where both lines carry a time stamp of one kind."""
    if root.hit.seconds is None:
        return
    for start, end in reader.before(root.hit.offset, 1):
        stamp = clean(reader.text(start, end)).stamp
        if stamp is not None and stamp.kind == root.hit.clock and stamp.seconds <= root.hit.seconds:
            yield "waited_seconds", round(root.hit.seconds - stamp.seconds, 1)


def _first(pattern: re.Pattern[str], text: str) -> str | None:
    match = pattern.search(text)
    return match.group() if match else None
