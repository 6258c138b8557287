"""Lines without what differs from run to run, for a block of lines at a time.

Gone: time stamps, hashes, durations, sizes, rates, temporary paths, process and run numbers. Lines of which only the
order and the presence in a cache tell (downloads, transfers of git, layers of images) and lines that tell who and what
was built (set-up, reported apart) become empty. The forms are common practice, no source.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from logdoctor.scan.pickers import make_picker

if TYPE_CHECKING:
    from collections.abc import Mapping

    from logdoctor.scan.pickers import Picker

__all__ = ["careful_forms"]

_MONTH = rb"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)"

# What stands in lines that never make a difference.
_PASSED_OVER = re.compile(
    rb"\bDownload(?:ed|ing)?\b[^\n]{0,300}?https?://|\bProgress(?: \(\d+\))?: |\bDownloading [^\n]{0,300}?\.(?:whl|tar\.gz|crate|nupkg|gem)\b"
    rb"|-> +(?:refs/remotes/)?(?:origin|upstream)/|\[new (?:branch|tag|ref)\]|\bFETCH_HEAD\b"
    rb"|\bCommit message: |\bgit rev-(?:list|parse) |\bChecking out (?:Revision )?[0-9a-f]{7}|\bHEAD is now at |\bObtained \S+ from "
    rb"|\bStarted by |\bRunning on \S+ in [/A-Za-z]|\bBuilding (?:remotely )?on \S+ |\bSending build context to "
    rb"|\b(?:Enumerating|Counting|Compressing|Receiving|Resolving|Writing|Unpacking|Updating|Filtering) (?:objects|deltas|files|content)\b"
    rb"|\bTotal \d+ \(delta |^(?:Collecting|Using cached|Obtaining|Fetched|Get:\d+|Hit:\d+|Ign:\d+|Selecting previously"
    rb"|Reading package lists|Building dependency tree)\b"
    rb"|^(?:#\d+ (?:\d+\.\d+ )?)?(?:[0-9a-f]{12}: |sha256:[0-9a-f]{64} |extracting sha256:)",
    re.MULTILINE,
)
_PASSED = b"\0"
# One of these stands in every line that the pattern above finds something in.
_PICKED_BY = (
    *(
        "Download",
        "Progress",
        "origin/",
        "upstream/",
        "[new ",
        "FETCH_HEAD",
        "Commit message",
        "git rev-",
        "Checking out ",
    ),
    *(
        "HEAD is now",
        "Obtain",
        "Started by ",
        "Running on ",
        "Building ",
        "Sending build",
        " objects",
        " deltas",
        " files",
    ),
    *(" content", "Total ", "Collecting", "Using cached", "Fetched", "Get:", "Hit:", "Ign:", "Selecting ", "Reading "),
    *(": Pull", ": Waiting", ": Verif", ": Extract", ": Already", "sha256:"),
)
_STAMPS = re.compile(
    rb"\d{4}[-/.]\d\d[-/.]\d\d(?:[Tt _]\d\d?:\d\d(?::\d\d(?:[.,]\d+)?)?(?: ?(?:Z|UTC|GMT|[+-]\d\d:?\d\d)\b)?)?"
    rb"|\b\d{1,2}:\d\d:\d\d(?:[.,]\d+)?(?: [AP]M)?|(?:\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]*,? )?\b"
    + _MONTH
    + rb"[a-z]* \d{1,2}(?:,? \d{4})?\b|\b\d{1,2}[- ]"
    + _MONTH
    + rb"[a-z]*[- ]\d{4}\b"
)
_SNAPSHOT = re.compile(rb"-\d{8}\.\d{6}-\d+")
_HASHES = re.compile(
    rb"\b[0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}\b|\bsha\d{1,3}[-:][A-Za-z0-9+/=]{16,}"
    rb"|\b0x[0-9a-fA-F]+\b|(?<=\w)@[0-9a-f]{5,8}\b|\b(?=[a-f]{0,39}\d)[0-9a-f]{7,64}\b|\b(?=[A-F]{0,39}\d)[0-9A-F]{16,64}\b"
)
_MEASURES = re.compile(
    rb"(?<![\w.])\d[\d.,]*(?::\d\d(?=[ ]?(?:min|h)))?[ \t]?"
    rb"(?:ms|msecs?|millis\w*|s|secs?|seconds?|m|mins?|minutes?|h|hrs?|hours?|us|ns|(?:[kKMGT]i?)?B(?:/s|ps)?|[Bb]ytes|M/\d+M)\b"
)
_TEMPORARY = re.compile(
    rb"(?:/private)?/(?:tmp|var/tmp|var/folders|dev/shm)/[^\s:'\"),;\]]+"
    rb"|[/\\](?:[Tt]emp|_temp|tmp)[/\\][^\s:'\"),;\]]+|@tmp[/\\][^\s:'\"),;\]]+"
)
_NUMBERS = re.compile(
    rb"#\d+(?: \d+\.\d+(?= ))?|@\d{1,3}(?=[/\\\s]|$)|\[ *\d{1,3}%\]|\[gw\d+\]"
    rb"|\b(?i:pid|process|thread|worker|fork|executor|exec|attempt|daemon)[-_ =:]{0,2}\d+\b(?!\.\d)"
    rb"|\b(?i:build|run|job)[-_ ]\d+\b(?!\.\d)|\bBUILD_(?:NUMBER|ID|TAG)=\S+"
    rb"|(?<=localhost):\d+|(?<=127\.0\.0\.1):\d+|\b(?i:port)[ :=]+\d{5}\b",
    re.MULTILINE,
)
_CARRIAGE = re.compile(rb"^[^\n]*\r(?=[^\r\n])", re.MULTILINE)


def careful_forms(block: bytes, names: Mapping[bytes, bytes]) -> list[bytes]:
    """Each line of a block without what differs from run to run; empty where it can make no difference.

    `names` are texts known to differ (the agent's name, its workspace) and what is put in their place.
    """
    block = block.replace(_PASSED, b" ")
    if b"\r" in block:
        block = _CARRIAGE.sub(b"", block)
    block = _without_passed(block)
    for value, name in names.items():
        block = block.replace(value, name)
    block = _SNAPSHOT.sub(b"-SNAPSHOT", block)
    block = _STAMPS.sub(b"", block)
    if any(word in block for word in (b"tmp", b"emp", b"/var/folders/", b"/shm/")):
        block = _TEMPORARY.sub(b"<temporary>", block)
    block = _HASHES.sub(b"<hash>", block)
    block = _NUMBERS.sub(b"#", block)
    block = _MEASURES.sub(b"", block)
    return [_settled(line) for line in block.split(b"\n")]


@cache
def _picker() -> Picker:
    return make_picker([literal.encode() for literal in _PICKED_BY])


def _without_passed(block: bytes) -> bytes:
    """The block with the lines that never make a difference marked; only lines that a literal picks are looked at."""
    parts: list[bytes] = []
    at = done = 0
    for _, start, end in _picker().places(block):
        if start < done:
            continue
        begin = block.rfind(b"\n", 0, start) + 1
        stop = block.find(b"\n", end)
        done = len(block) if stop < 0 else stop
        if _PASSED_OVER.search(block, begin, done):
            parts += [block[at:begin], _PASSED]
            at = done
    return b"".join([*parts, block[at:]])


def _settled(line: bytes) -> bytes:
    """Blanks folded; a line of signs alone is empty."""
    if _PASSED in line:
        return b""
    folded = b" ".join(line.split()).replace(b"[ ", b"[").replace(b"( ", b"(")
    return folded if any(sign in _MEANING for sign in folded) else b""


_MEANING = frozenset(b"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") | frozenset(range(128, 256))
