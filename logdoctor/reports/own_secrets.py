"""Secret patterns of an organisation's own, from a file: one pattern of the `regex` package a line, `#` for comments.

A group called `secret`, else the first group, else the whole match is the value. Matching is given up after a time;
the whole text is then masked, as a leak is worse than a gap.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from logdoctor.errors import InputError
from logdoctor.masking import Secret

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import regex

__all__ = ["KIND", "OwnSecrets", "read_own_secrets"]

KIND = "secret of your own patterns"
MOST_BYTES = 256 * 1024
MOST_PATTERNS = 500
LONGEST_PATTERN = 2000
PATIENCE = 0.1
"""Seconds that one pattern may take for one text."""
BUDGET = 1.0
"""Seconds that one pattern may lose by being given up; after that it is not tried again, and everything is masked."""


@dataclass(slots=True)
class OwnSecrets:
    """A finder of secrets, of the same form as those of the masking room."""

    patterns: tuple[regex.Pattern[str], ...]
    _lost: dict[int, float] = field(default_factory=dict)

    def __call__(self, text: str) -> Iterator[Secret]:
        """The secrets that the patterns find in a text."""
        for number, pattern in enumerate(self.patterns):
            if self._lost.get(number, 0.0) >= BUDGET:
                yield Secret(0, len(text), KIND)
                continue
            try:
                for match in pattern.finditer(text, timeout=PATIENCE):
                    start, end = match.span(_group(pattern, match))
                    if end > start:
                        yield Secret(start, end, KIND)
            except TimeoutError:
                self._lost[number] = self._lost.get(number, 0.0) + PATIENCE
                yield Secret(0, len(text), KIND)


def _group(pattern: regex.Pattern[str], match: regex.Match[str]) -> str | int:
    """The group that holds the value: where the chosen one took no part, the whole match is masked."""
    chosen: str | int = "secret" if "secret" in pattern.groupindex else 1 if pattern.groups else 0
    return chosen if match.start(chosen) >= 0 else 0


def read_own_secrets(path: Path) -> OwnSecrets:
    """The patterns of a file; InputError names the first line that is no usable pattern, and never shows it."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(str(path), error.strerror or "can't be read", "name a file that can be read") from error
    if len(data) > MOST_BYTES:
        raise InputError(str(path), f"is larger than {MOST_BYTES // 1024} KiB", "keep fewer patterns")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(str(path), "is not UTF-8", "save it as UTF-8") from error
    lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), start=1)]
    given = [(number, line) for number, line in lines if line and not line.startswith("#")]
    if len(given) > MOST_PATTERNS:
        raise InputError(str(path), f"holds more than {MOST_PATTERNS} patterns", "join or drop some")
    return OwnSecrets(tuple(_compiled(path, number, line) for number, line in given))


def _compiled(path: Path, number: int, line: str) -> regex.Pattern[str]:
    import regex

    name = f"{path} line {number}"
    if len(line) > LONGEST_PATTERN:
        raise InputError(name, f"the pattern is longer than {LONGEST_PATTERN} characters", "split it")
    try:
        pattern = regex.compile(line)
        empty = pattern.search("", timeout=PATIENCE)
    except (regex.error, TimeoutError, OverflowError, RecursionError, ValueError) as error:
        said = getattr(error, "msg", "it can't be compiled")
        raise InputError(
            name, f"the pattern is not valid ({said})", "mend it; the syntax is that of `regex`"
        ) from error
    if empty is not None:
        raise InputError(name, "the pattern matches an empty text, so it would find a secret everywhere", "narrow it")
    return pattern
