"""The history as JSON lines, out and in: to move it, to keep it, to bring several together."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from logdoctor.memory.history.plain import entry_of, plain_entry

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from logdoctor.memory.history.ledger import Ledger
    from logdoctor.memory.history.model import Remark, Run

__all__ = ["SCHEMA", "exported", "imported"]

SCHEMA = "logdoctor-history-lines/1"
_AT_ONCE = 500


def exported(ledger: Ledger) -> Iterator[str]:
    """The lines of a history, the first with the schema's name; all remarks, also those that count no more."""
    yield json.dumps({"schema": SCHEMA})
    for run in ledger.runs():
        yield json.dumps(plain_entry(run), ensure_ascii=False)
    for remark in ledger.remarks(latest=False):
        yield json.dumps(plain_entry(remark), ensure_ascii=False)


def imported(ledger: Ledger, lines: Iterable[str], problems: list[str]) -> tuple[int, int]:
    """Take lines in; how many entries were new, and how many there were. A bad line is a problem, the others still come.

    ValueError where the first line tells another schema, or none.
    """
    entries = _entries(lines, problems)
    new = total = 0
    while batch := [entry for _, entry in zip(range(_AT_ONCE), entries, strict=False)]:
        new += ledger.add(batch)
        total += len(batch)
    return new, total


def _entries(lines: Iterable[str], problems: list[str]) -> Iterator[Run | Remark]:
    told = False
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            plain = json.loads(line)
            if told:
                yield entry_of(plain)
                continue
        except (ValueError, RecursionError) as error:
            if not told:
                raise ValueError(f"line {number} is no JSON") from error
            what = "is no JSON" if isinstance(error, json.JSONDecodeError | RecursionError) else str(error)
            problems.append(f"line {number}: {what}")
            continue
        if not isinstance(plain, dict) or plain.get("schema") != SCHEMA:
            raise ValueError(f'does not begin with {{"schema": "{SCHEMA}"}}')
        told = True
