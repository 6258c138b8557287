"""What a draft proposes besides its pattern: the line, phase and tool, an id and a title."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from logdoctor.drafting.errors import DraftError
from logdoctor.drafting.pattern import FAILURE, GAP
from logdoctor.drafting.vocabulary import tool_names
from logdoctor.model import PHASES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from logdoctor.catalogue import Catalogue
    from logdoctor.drafting.lines import KeptLines
    from logdoctor.drafting.pattern import Candidate
    from logdoctor.model import Phase, Segment, Verdict, WorthReading

__all__ = ["choose_line", "entry_id", "phase_of", "phase_of_id", "segment_of", "signature_id", "title_of", "tool_of"]

LONGEST_TITLE = 72
LONGEST_ID = 48
ID_WORDS = 4
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_IDLE = frozenset(
    """
    the an of to in on at by for from with and or is are was were be been has have had it its this that these which as not
    can could will would should than then there here your you we but if so do does did error fatal failed failure warning
    """.split()  # noqa: SIM905 -- a table of words reads better as text
)
_LOUD = re.compile(
    r"^\s*(?:\[(?:ERROR|FATAL|error)\]|ERROR\b|FATAL\b|[Ee]rror\b|fatal:|FAIL\b|npm (?:ERR!|error)|##\[error\])|^[\w./-]{1,40}: (?:fatal|error)\b|\b\w*(?:Error|Exception): "
)
_TELLING = re.compile(
    r"(?i)\b(?:cannot|can't|could not|couldn't|unable to|denied|refus\w+|reject\w+|not found|no such|missing|invalid|unexpected|"
    r"unsupported|undefined|unknown|mismatch|expired?|timed out|exceed\w*|too|must|not allowed|violat\w+|conflict\w*|abend\w*|overlap\w*|differ\w*|without|nothing|below|above|over)\b"
)
_GENERAL = re.compile(
    r"(?i)build fail|could not compile|no such object|some enforcer|could not resolve all|could not read \d+ project|exit(?:ed)?(?: with)? (?:code|status)|execution failed for task|command failed|returned non-zero|^\s*at \S+\("
)
_IDLE_LINE = re.compile(
    r"(?i)^\s*(?:> Task|\* (?:What|Try|Exception)|\[(?:STARTED|INFO)\]|Clean(?:ing)? ?up|Uploading|Finished|Skipp|Stage |Compiling|-- |[+$>] ?\w|\[ *\d+%\]|in directory|% Total)|[✓√]"
)
ENOUGH_WORDS = 3
# How tools begin their own lines; what each prints is common knowledge of the trade, no one source.
_BEGINS = (
    (re.compile(r"^npm (?:ERR!|error|WARN|warn)\b"), "npm"),
    (re.compile(r"\berror TS\d{4}\b"), "tsc"),
    (re.compile(r"^error\[E\d{4}\]"), "rustc"),
    (re.compile(r"^E: "), "apt"),
    (re.compile(r"^\[ERROR\] .*(?:-> \[Help \d\]|maven)"), "maven"),
    (re.compile(r"^fatal: \["), "ansible"),
    (re.compile(r"^(?:fatal|hint): "), "git"),
    (re.compile(r"^(?:##\[error\]|::error)"), "ci"),
)
SHELLS = ("bash", "system", None)
NEAR_WORDING = 72.0
LOOK_BACK = 300
COMMAND_WORDS = 4
_ALSO_CALLED = {
    "mvn": "maven",
    "mvnw": "maven",
    "gradlew": "gradle",
    "bundle": "bundler",
    "pip3": "pip",
    "python3": "python",
    "cc": "gcc",
}
_ECHOED = re.compile(r"^(?:\+{1,3} |[$>%] |Run |##\[command\])(?P<command>\S.{0,400})")
_SPEAKER = re.compile(r"^(?:\[\w+\] )?(?P<name>[A-Za-z][\w.+-]{1,30}): ")


def choose_line(verdict: Verdict) -> int:
    """The line of an unknown failure that most likely tells it; DraftError where there is none to choose."""
    name, root = verdict.source.name, verdict.root
    if verdict.outcome == "succeeded":
        raise DraftError(name, "the log tells of no failure", "name the line to draft from with --line")
    if root is not None and root.failure.stand_in != "last":
        known = f"its failure is known: {root.failure.id} ({verdict.source.says(root.line)})"
        raise DraftError(name, known, "to draft another entry, name its line with --line")
    if not verdict.worth_reading:
        raise DraftError(name, "no line of it is worth a draft", "name one with --line")
    return max(verdict.worth_reading, key=lambda worth: _promise(worth, verdict)).line


def _promise(worth: WorthReading, verdict: Verdict) -> tuple[float, int]:
    """How much a line promises to tell the reason; of equals the first, but of those that no word of failure lifts the last."""
    segment = segment_of(verdict, worth.line)
    telling = len(set(_TELLING.findall(worth.text.lower())))
    score = 2.0 * min(2, telling) + (1.0 if FAILURE.search(worth.text) else 0.0)
    score += 1.5 if _LOUD.search(worth.text) else 0.0
    score += 2.0 if segment is not None and segment.state == "failed" else 0.0
    score -= 4.0 if _GENERAL.search(worth.text) else 0.0
    score -= 2.0 if _IDLE_LINE.search(worth.text) or len(worth.text.split()) < ENOUGH_WORDS else 0.0
    return score, -worth.line if telling else worth.line


def segment_of(verdict: Verdict, line: int) -> Segment | None:
    """The narrowest segment that holds a line."""
    holding = [s for s in verdict.segments if s.start <= line <= s.end]
    return min(holding, key=lambda s: (s.lines, -s.start), default=None)


def phase_of_id(entry: str) -> Phase:
    """The phase that an id begins with; ValueError where it is no id."""
    for phase in PHASES:
        if entry.startswith(phase + "-") and _ID.fullmatch(entry):
            return phase
    raise ValueError(f"--id {entry}: write a phase and words in small letters, such as deploy-berth-taken")


def phase_of(example: str, segment: Segment | None, catalogue: Catalogue) -> Phase:
    """The phase of the failures that are worded most like it, where they are near; else that of the step."""
    from rapidfuzz import fuzz, process

    from logdoctor.diagnosis.wording import normalized

    known = _worded(catalogue)
    struck: Phase = segment.phase if segment else "agent"
    found = process.extract(
        normalized(example), list(known), scorer=fuzz.token_sort_ratio, limit=3, score_cutoff=NEAR_WORDING
    )
    phases = [known[text] for text, _, _ in found]
    return phases[0] if phases and len(set(phases)) == 1 else struck


@lru_cache(maxsize=2)
def _worded(catalogue: Catalogue) -> dict[str, Phase]:
    """The examples of all failures in normal form, with their phases."""
    from logdoctor.diagnosis.wording import normalized
    from logdoctor.intake import clean

    return {
        normalized(clean(example.text.splitlines()[0]).text): failure.phase
        for failure in catalogue
        if failure.stand_in != "last"
        for signature in failure.signatures
        for example in signature.examples
    }


def tool_of(line: str, place: tuple[Segment | None, int], catalogue: Catalogue, lines: KeptLines) -> str:
    """The tool that speaks: as its line begins, else the one whose step it is, else the last command that was called."""
    segment, number = place
    for pattern, tool in _BEGINS:
        if pattern.search(line):
            return tool
    known = tool_names(catalogue)
    speaker = _SPEAKER.match(line)
    if speaker:
        name = speaker["name"].lower()
        if name in known or _was_called(name, (text for _, text in lines.texts())):
            return name
    step = segment.tool if segment is not None and segment.tool not in SHELLS else None
    if step is not None:
        return step
    called = _named_by(segment.goal if segment is not None else None, known) or _called_before(number, known, lines)
    if called is not None:
        return called
    return "ci" if segment is None or segment.phase == "agent" else segment.tool or "system"


def _called_before(number: int, known: frozenset[str], lines: KeptLines) -> str | None:
    """The known tool that the last echoed command before a line calls."""
    for at in range(number - 1, max(0, number - LOOK_BACK), -1):
        if at in lines.raw and (echoed := _ECHOED.match(lines.text(at))):
            return _named_by(echoed["command"], known)
    return None


def _named_by(command: str | None, known: frozenset[str]) -> str | None:
    """The tool that a command calls; what runs it (sudo, python -m) or sets its variables is passed over."""
    for word in (command or "").split()[:COMMAND_WORDS]:
        name = word.rpartition("/")[2].lower()
        name = _ALSO_CALLED.get(name, name)
        if name in known and name not in SHELLS:
            return name
    return None


def _was_called(name: str, texts: Iterable[str]) -> bool:
    """Whether the log shows a command of this name."""
    called = re.compile(rf"(?i)(?:^\s*[+$>%#] ?|^Run |sh -c ['\"]?|run: )(?:\S*/)?{re.escape(name)}(?:\s|$)")
    return any(name in text.lower() and called.search(text) for text in texts)


def title_of(candidate: Candidate, catalogue: Catalogue) -> str:
    """What the pattern says, as a title: no tool's name, 72 characters at most."""
    tools = tool_names(catalogue)
    kept = [word for word in candidate.says.split() if word.strip(".:,'\"`").lower() not in tools]
    text = " ".join(kept).strip(" :;,.->|=(")
    text = text.replace("(", "") if text.count("(") != text.count(")") else text
    text = re.sub(rf"(?:{GAP}[\s,.:]*)+", f"{GAP} ", text).strip()
    if sum(map(str.isalpha, text)) < ID_WORDS:
        return "TODO: what went wrong, in a few words"
    text = text[0].upper() + text[1:]
    return text if len(text) <= LONGEST_TITLE else text[: LONGEST_TITLE - 1].rpartition(" ")[0] + GAP


def entry_id(phase: Phase, candidate: Candidate, catalogue: Catalogue) -> str:
    """A new id: the phase and the first telling words."""
    base = f"{phase}-{_slug(candidate.words, catalogue) or 'todo'}"[:LONGEST_ID].strip("-")
    number, made = 1, base
    while made in catalogue:
        number += 1
        made = f"{base}-{number}"
    return made


def signature_id(tool: str, candidate: Candidate, catalogue: Catalogue, entry: str) -> str:
    """An id for the wording, unlike those that the entry has."""
    plain = re.sub(r"[^a-z0-9]+", "-", tool.lower()).strip("-")
    base = f"{plain}-{_slug(candidate.words, catalogue) or 'line'}"[:LONGEST_ID].strip("-")
    taken = {s.id for s in catalogue.failure(entry).signatures} if entry in catalogue else set()
    number, made = 1, base
    while made in taken:
        number += 1
        made = f"{base}-{number}"
    return made


def _slug(words: Iterable[str], catalogue: Catalogue) -> str:
    tools = tool_names(catalogue)
    told = [w.lower() for w in words if w.isascii() and w.isalpha() and w.lower() not in _IDLE | tools]
    return "-".join(list(dict.fromkeys(told))[:ID_WORDS])
