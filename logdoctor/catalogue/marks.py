"""What a file of marks may hold: ``knowledge/phases/<tool>.yaml``.

A mark is a line that tells where a build is. Keys: ``id``, ``does``, ``line``, ``literal`` (as in a signature),
``examples`` and ``lookalikes`` (lists of whole lines), and by ``does``:

- ``open``: a segment begins. ``phase``, or ``table`` from the text of the groups ``goal`` or ``command`` (first pattern that
  matches wins) to a phase; ``phase: same`` keeps the phase that is open. Groups: ``module``, ``goal``, ``command``. ``depth: inner`` for a build inside a build; ``keeps: commands`` for work after
  the build whose commands belong to it, ``keeps: all`` where nothing but such work can follow.
- ``skip``: the segment that was just opened is not done after all.
- ``close``: the open segment ends; ``outcome`` passed or failed.
- ``conclude``: the last word of a tool (``by: tool``) or of the CI server (``by: ci``), of its step (``by: step``), of its cleaning up (``by: cleanup``), or that a step is over (``by: over``); ``outcome`` failed, succeeded, aborted. ``together: true``: rows of one table, of which one that failed decides.
- ``state``: a tool's closing statement begins. ``refers: yes`` when it only points to what was said before. Groups: ``goal``,
  ``module``. ``lasts`` is the number of lines it may take, ``until`` a pattern that ends it. ``at_end: N``: it counts only
  within the last N lines before the log's end or the CI server's closing line.
- ``download``: the tool reads a file; ``upload``: it writes one. Only their literals are looked at.
- ``elsewhere``: the reason, or more of it, is in another place: group ``where``; ``what`` is a text.
- ``cut``: the log was cut here: ``part`` is head, middle or tail.
- ``background``: a region in which other programs talk begins (``until`` ends it): the output of tests, a diff.
- ``repair``: the tool says that what failed before worked after all, or was allowed to fail.
"""

from __future__ import annotations

__all__ = ["DOES", "MARK_KEYS"]

DOES = frozenset(
    {"open", "close", "skip", "conclude", "state", "download", "upload", "elsewhere", "cut", "background", "repair"}
)
MARK_KEYS = frozenset(
    {
        "id",
        "tool",
        "does",
        "line",
        "literal",
        "phase",
        "table",
        "outcome",
        "by",
        "examples",
        "lookalikes",
        "refers",
        "lasts",
        "until",
        "what",
        "part",
        "depth",
        "keeps",
        "at_end",
        "together",
        "needs",
        "table_needs",
    }
)
