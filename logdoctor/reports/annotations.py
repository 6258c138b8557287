"""A verdict as compilers report: one line an error, `file:line: error: message`, for editors and CI servers.

The form `file:line:column: level: message` is that of the GNU Coding Standards, section 4.4 (formatting error
messages). An error without a source place points into the log.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.reports.plain import Gate

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from logdoctor.model import Finding, Item, Verdict

__all__ = ["annotation_lines", "column_of"]

# What a CI server would take for an order when it stands in a console: `::order ...` and `##order[...]`.
_ORDER_AT_START = re.compile(r"^\s*:{2,}")
_ORDER_ANYWHERE = re.compile(r"#(?=#[^\[\]]{0,80}\[)")


def annotation_lines(verdict: Verdict) -> list[str]:
    """One line an error; none for a log that succeeded."""
    gate = Gate(verdict)
    if verdict.outcome == "succeeded":
        return []
    findings = [f for f in (verdict.root, *verdict.others) if f is not None and f.role in ("root", "separate")]
    first: list[str] = []
    if verdict.worth_reading:  # no root, or one that only says that something failed
        findings = [f for f in findings if f.role != "root"]
        said = f"{verdict.headline} Worth reading: {verdict.worth_reading[0].text}"
        first = [_row(verdict.source.name, verdict.worth_reading[0].line, None, said, verdict, gate)]
    lines = first + [line for finding in findings for line in _of_finding(finding, verdict, gate)]
    return list(dict.fromkeys(lines))


def _of_finding(finding: Finding, verdict: Verdict, gate: Gate) -> Iterator[str]:
    placed = [item for item in finding.items if item.file and item.line]
    texts = [e.text for e in (*finding.evidence, *finding.excerpt)]
    for item in placed:
        says = f"{item.text} [{finding.failure.id}]"
        yield _row(item.file or "", item.line or 1, column_of(item, texts), says, None, gate)
    if not placed or len(placed) < max(len(finding.items), 1):
        says = f"{finding.failure.title} [{finding.failure.id}]"
        yield _row(verdict.source.name, finding.line, None, says, verdict, gate)


def _row(  # noqa: PLR0913, PLR0917 - the parts of one line
    name: str, line: int, column: int | None, says: str, log: Verdict | None, gate: Gate
) -> str:
    """One line; with a log, `line` is one of the log's and is told in the part that holds it."""
    if log is not None:
        part, line = log.source.place(line)
        name = name if part is None else f"{name}/{part}"
    place = f"{line}:{column}" if column else f"{line}"
    file = _ORDER_AT_START.sub("", gate.text(name)).strip() or "log"
    return _ORDER_ANYWHERE.sub("# ", f"{file}:{place}: error: {gate.text(says)}")


def column_of(item: Item, texts: Iterable[str]) -> int | None:
    """The column that the log gives beside an item's file and line; None where it gives none."""
    if not item.file or not item.line:
        return None
    place = re.compile(re.escape(item.file) + rf"(?::|:?\[|:? ?\(){item.line}[,:] ?(\d{{1,5}})(?!\d)")
    for text in texts:
        found = place.search(text)
        if found and int(found[1]) > 0:
            return int(found[1])
    return None
