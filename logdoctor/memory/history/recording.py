"""A verdict as a run to remember: only what the history keeps, each text masked, made printable and clipped."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from logdoctor.intake import printable
from logdoctor.masking import Masker
from logdoctor.memory.history.model import Run

if TYPE_CHECKING:
    from logdoctor.memory.history.model import Job
    from logdoctor.model import Finding, Verdict

__all__ = ["cleaned", "identity", "run_of"]

CLIP = 300


def run_of(verdict: Verdict, job: Job, now: float) -> Run | None:
    """The run to remember; None where nothing could be learned from it.

    A success tells something only of a job that has a name, a log without end and failure tells nothing.
    """
    root = verdict.root
    if verdict.outcome == "succeeded":
        root = None
        if job.job is None:
            return None
    if verdict.outcome == "unknown" and root is None:
        return None
    gate = _gate(verdict)
    named = {
        "job": job.job,
        "run": job.run,
        "branch": job.branch,
        "revision": job.commit,
        "agent": job.agent or _fact(root, "agent_name"),
        **(_of_root(root) if root else _of_unknown(verdict)),
    }
    return Run(
        id=identity(verdict, job, now),
        at=now,
        outcome=verdict.outcome,
        fingerprint=verdict.fingerprint,
        **{key: cleaned(text, gate) for key, text in named.items()},
    )


def identity(verdict: Verdict, job: Job, now: float) -> str:
    """The same for the same log: a log that is diagnosed again counts once.

    With a run's number that is exact. Without one, the log's name and size and the day must do: the same log counts again
    on another day, and two runs of one day whose logs are as long, byte for byte and line for line, count once.
    """
    told: tuple[str, ...]
    if job.job and job.run:
        told = ("run", job.job, job.run, job.branch or "", verdict.outcome, verdict.fingerprint)
    else:
        source = verdict.source
        day = datetime.fromtimestamp(now, UTC).strftime("%Y-%m-%d")
        size = (source.name, str(source.bytes), str(source.lines))
        known = [part or "" for part in (job.job, job.run, job.branch, job.commit, job.agent)]
        told = ("log", *known, *size, day, verdict.outcome, verdict.fingerprint)
    return hashlib.sha256("\0".join(told).encode("utf-8", "replace")).hexdigest()[:32]


def cleaned(text: str | None, gate: Masker | None = None) -> str | None:
    """A text fit to be kept and shown; None for an empty one."""
    if not text or not text.strip():
        return None
    shown = printable((gate or Masker()).mask(text)).encode("utf-8", "replace").decode("utf-8")
    return shown.strip()[:CLIP]


def _of_root(root: Finding) -> dict[str, str | None]:
    return {
        "failure": str(root.failure.id),
        "title": root.failure.title,
        "phase": root.struck_in,
        "tool": root.tool,
        "wording": root.signature,
        "evidence": root.evidence[0].text if root.evidence else None,
        "host": _fact(root, "host"),
    }


def _of_unknown(verdict: Verdict) -> dict[str, str | None]:
    """A failure without an entry is known by the line most worth reading."""
    if verdict.outcome == "succeeded" or not verdict.worth_reading:
        return {}
    return {"evidence": verdict.worth_reading[0].text}


def _fact(root: Finding | None, name: str) -> str | None:
    value = root.facts.get(name) if root else None
    return value if isinstance(value, str) else None


def _gate(verdict: Verdict) -> Masker:
    """A gate that knows the secrets of all the verdict's lines, so that one known from a line is masked in the others."""
    gate = Masker()
    gate.learn_apart(verdict.log_texts)
    return gate
