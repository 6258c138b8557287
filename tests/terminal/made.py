"""Verdicts made by hand, so that what the screens show does not change with the catalogue. The log is a sample."""

from __future__ import annotations

from dataclasses import replace

from logdoctor.diagnosis import rerank
from logdoctor.model import (
    Cause,
    Check,
    Clue,
    Elsewhere,
    Evidence,
    ExposedSecret,
    Failure,
    FailureId,
    Finding,
    Item,
    Nearest,
    Phase,
    Segment,
    Source,
    Speaks,
    State,
    Verdict,
    WorthReading,
)
from logdoctor.reports.plain import Gate
from logdoctor.terminal.answering import Standing
from logdoctor.terminal.desk import Case
from tests.terminal.pilot import FORBIDDEN

LOG = FORBIDDEN.read_text(encoding="utf-8")
LINES = LOG.splitlines()
NAME = "fares-snapshot-212.log"


def clue(is_: str, speaks: Speaks, why: str) -> Clue:
    return Clue(fact="request", accepts=(is_,), matches=None, speaks=speaks, group="direction", why=why)


CAUSES = (
    Cause(
        id="read-right-missing",
        says="The account may store files in this repository but not read them, and the upload first reads metadata there.",
        usual="common",
        rerun="useless",
        clues=(clue("read", "strongly-for", "the refused request was a read"),),
        owner="repository-admin",
        fix=("Give the account the right to read this repository.", "Run the job again."),
        caution="Read on this repository is enough; no wider right is needed.",
        proof="The next log shows the metadata as downloaded or as not found, followed by uploads.",
    ),
    Cause(
        id="write-right-missing",
        says="The account is known, but may not store files under this path.",
        usual="common",
        rerun="useless",
        clues=(clue("read", "strongly-against", "a read needs no right to write"),),
        owner="repository-admin",
        fix=("Give the account the right to write below this path.",),
        caution=None,
        proof="The next log shows the file as uploaded.",
    ),
    Cause(
        id="rule-before-the-server",
        says="A rule of the network refuses this address before the server is asked.",
        usual="rare",
        rerun="may",
        clues=(),
        owner="network-admin",
        fix=("Let the agent's address pass.",),
        caution="Let one address pass, not a range, and by the rules of your organisation.",
        proof="The next log shows any answer of the server.",
    ),
)
CHECKS = (
    Check(
        id="read-by-hand",
        ask="Can the job's account open this repository in a browser?",
        how="Log in with the account and open the address of the failing line.",
        effort="minutes",
        yes={"read-right-missing": "strongly-against"},
        no={"read-right-missing": "for"},
    ),
    Check(
        id="other-agent",
        ask="Does the same upload work from another agent?",
        how="Start the job on an agent of another network.",
        effort="someone-else",
        yes={"rule-before-the-server": "strongly-for"},
        no={"rule-before-the-server": "against"},
    ),
)
REFUSED = Failure(
    id=FailureId("deploy-forbidden"),
    phase="deploy",
    title="The repository refused the upload",
    meaning="The repository knows who is asking, and does not let this account store this file there.",
    causes=CAUSES,
    checks=CHECKS,
)
ENDED = replace(
    REFUSED, id=FailureId("agent-step-exit-code"), title="A step ended with an exit code", causes=(), checks=()
)


def finding(failure: Failure, line: int, role: str, **more: object) -> Finding:
    made = Finding(
        failure=failure,
        signature="made",
        tool="maven",
        role=role,  # type: ignore[arg-type]
        line=line,
        last_line=line,
        count=1,
        struck_in=failure.phase,
        evidence=(Evidence(line=line, text=LINES[line - 1]),),
        facts={"request": "read"},
    )
    return rerank(replace(made, **more), {})  # type: ignore[arg-type]


def segment(phase: Phase, start: int, end: int, state: State = "passed", seconds: float | None = None) -> Segment:
    return Segment(
        phase=phase, lane=None, module=None, start=start, end=end, lines=end - start + 1, state=state, seconds=seconds
    )


SEGMENTS = (
    segment("agent", 1, 2),
    segment("checkout", 3, 25, seconds=2.1),
    segment("setup", 26, 32),
    segment("deploy", 33, 33),
    segment("setup", 34, 40),
    segment("resolve", 41, 84, seconds=22.4),
    segment("compile", 85, 100, seconds=7.0),
    segment("test", 101, 118, seconds=75.0),
    segment("package", 119, 125),
    segment("deploy", 126, 142, "failed", 3.2),
    segment("post", 143, 149),
)
ITEMS = (
    Item(text="fares-core-4.7.0.jar", file="/home/ci/agent/work/fares-snapshot/pom.xml", line=12),
    Item(text="Failed to retrieve remote metadata", file=None, line=None),
)

VERDICT = Verdict(
    source=Source(name=NAME, bytes=len(LOG), lines=len(LINES), encoding="utf-8", cut="none"),
    outcome="failed",
    headline="Stopped on deploy: the repository refused the upload (line 135), 2 in all.",
    fingerprint="0f1e2d3c4b5a6978",
    segments=SEGMENTS,
    root=finding(REFUSED, 135, "root", items=ITEMS, items_total=2),
    others=(finding(ENDED, 148, "follow-on"), finding(ENDED, 60, "background", count=3, last_line=66)),
    others_left_out=0,
    worth_reading=(),
    nearest=(),
    elsewhere=(Elsewhere(what="the upload's own report", where="target/upload.txt"),),
    exposed_secrets=(ExposedSecret(line=12, kind="password in a URL"),),
    notices=("one pattern was not valid and was left out",),
)


def case(verdict: Verdict = VERDICT) -> Case:
    """A case that was read, as a list hands it on: the verdict is known, the log is still to be opened."""
    standing = Standing(diagnosed=verdict.root) if verdict.root else None
    return Case(
        source=LOG.encode(),
        name=verdict.source.name,
        stage="done",
        verdict=verdict,
        standing=standing,
        gate=Gate(verdict),
    )


def unknown() -> Case:
    """No entry explains it."""
    worth = (
        WorthReading(line=135, text=LINES[134], why="says that something failed"),
        WorthReading(line=130, text=LINES[129], why="stands just before the end"),
    )
    nearest = (
        Nearest(failure=FailureId("deploy-forbidden"), title="The repository refused the upload", closeness=0.61),
    )
    told = "The build was stopped by something not in the catalogue. It got as far as deploy."
    return case(replace(VERDICT, root=None, headline=told, others=(), worth_reading=worth, nearest=nearest))


def aborted() -> Case:
    """Ended from outside while a phase was running."""
    segments = (*SEGMENTS[:7], segment("test", 101, 142, "unfinished", 3600), segment("post", 143, 149))
    told = "Aborted: the CI server ended the build at its time limit (line 135)."
    root = replace(VERDICT.root, items=(), items_total=0) if VERDICT.root else None
    return case(replace(VERDICT, outcome="aborted", segments=segments, headline=told, root=root))


def succeeded() -> Case:
    """Nothing to explain."""
    told = replace(VERDICT, outcome="succeeded", headline="The build succeeded.", root=None, others=(), elsewhere=())
    segments = tuple(replace(s, state="passed") for s in SEGMENTS)
    return case(replace(told, segments=segments, exposed_secrets=(), notices=()))
