"""A catalogue entry as text, and the table of failures by tools."""

from __future__ import annotations

import textwrap
from collections import defaultdict
from typing import TYPE_CHECKING

from logdoctor.intake import printable
from logdoctor.reports.text import OWNER_WORDS, RERUN_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from logdoctor.model import Cause, Failure

__all__ = ["coverage_table", "entry_text"]

WIDTH = 80


def entry_text(failure: Failure) -> str:
    """The whole entry, for reading."""
    lines = [f"{failure.title}  ({failure.id})", *_wrap(failure.meaning), ""]
    if failure.layer != "built in":
        lines.insert(1, f"from the {failure.layer} layer")
    lines.append("Wordings")
    for signature in failure.signatures:
        for example in signature.examples:
            lines += [f"  {signature.tool}: {printable(line)}" for line in example.text.splitlines()]
    for number, cause in enumerate(failure.causes, start=1):
        lines += ["", *_cause(number, cause)]
    for check in failure.checks:
        lines += ["", *_wrap(f"Check {check.id}: {check.ask}"), *_wrap(check.how, "  ")]
    if failure.references:
        lines += ["", "References", *(f"  {reference}" for reference in failure.references)]
    return "\n".join(lines)


def _cause(number: int, cause: Cause) -> Iterator[str]:
    yield from _wrap(f"Cause {number} ({cause.usual}): {cause.says}")
    yield from _wrap(RERUN_WORDS[cause.rerun], "  ")
    yield from _wrap(f"Fix, by {OWNER_WORDS[cause.owner]}:", "  ")
    for step in cause.fix:
        yield from _wrap(f"- {step}", "    ")
    if cause.caution:
        yield from _wrap(f"Caution: {cause.caution}", "  ")
    yield from _wrap(f"Fixed when: {cause.proof}", "  ")


def _wrap(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def coverage_table(failures: Sequence[Failure]) -> str:
    """Each failure with the tools whose wordings are known, and the number of (failure, tool) cells."""
    cells: dict[str, set[str]] = defaultdict(set)
    for failure in failures:
        for signature in failure.signatures:
            for failure_id in (failure.id, *failure.becomes.values()):
                cells[failure_id].add(signature.tool)
    width = max(map(len, cells), default=0)
    rows = [f"{failure_id:<{width}}  {', '.join(sorted(tools))}" for failure_id, tools in cells.items()]
    rows.append(f"{sum(map(len, cells.values()))} cells of a failure and a tool")
    return "\n".join(rows)
