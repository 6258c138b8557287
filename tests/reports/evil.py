"""Lines that a format could trip over, and verdicts that hold one in every text that comes from a log."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from logdoctor.model import Elsewhere, Evidence, Finding, Item, Verdict, WorthReading
from tests.reports.hostile import HOSTILE, hostile_logs
from tests.support import verdict_of

EVIL = HOSTILE | {
    "cdata": "]]> <![CDATA[ ]]&gt; <!-- -- -->",
    "script": "</script><script>alert(1)</script><img src=x onerror=alert(1)>",
    "entity": "&lt;&#x41;&amp;&undefined; <!DOCTYPE x [<!ENTITY e SYSTEM 'file:///etc/hostname'>]>&e;",
    "table": "| a | b |\n|---|---|\n`x` ``y`` ```",
    "colours": "\x1b[31mred\x1b[0m \x1b]0;title\x07 \x9b1m",
    "controls": "a\x00b\x01c\x08d\x0be\x0cf\x1fg\x7fh\x85i",
    "line-ends": "one\rtwo\r\nthree\u2028four\u2029five",
    "no-characters": "a\ufffeb\uffffc\ud800d\udfffe\U0001fffff",
    "directions": "\u202egnp.exe\u2066x\u2069\u200b\ufeff",
    "link": "[click](https://evil.example/) {0} {1} \\[x\\](1) ![i](y)",
    "quotes": '"\'`\\" ${x} $(y) %s %n {{z}}',
    "order": "::set-output name=x::y ##[error]z ##vso[task.setvariable variable=a]b",
    "long": "x" * 5000,
    "astral": "\U0001f6a2 Fähre 渡船 עברית",
}

LOGS = {
    "items-with-files": (
        "[INFO] --- maven-compiler-plugin:3.11.0:compile (default-compile) @ fares ---\n"
        "[ERROR] /home/ci/work/fares/src/main/java/example/brackwater/fares/Tariff.java:[12,34] incompatible types: String cannot be converted to int\n"
        "[ERROR] /home/ci/work/fares/src/main/java/example/brackwater/fares/Rate.java:[7,1] ';' expected\n"
        "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-compiler-plugin:3.11.0:compile (default-compile) "
        "on project fares: Compilation failure\n[INFO] BUILD FAILURE\n"
    ),
    "refused": (
        "+ curl -T a.jar https://repo.brackwater.example/x\ncurl: (22) The requested URL returned error: 403\n"
        "ERROR: script returned exit code 22\nFinished: FAILURE\n"
    ),
    "unknown": "+ ./run\nbad moon rising: giving up\nERROR: script returned exit code 3\nFinished: FAILURE\n",
    "no-end": "+ ./run\nall is quiet\n",
    "succeeded": "[INFO] --- maven-jar-plugin:3.3.0:jar (default-jar) @ fares ---\n[INFO] BUILD SUCCESS\n",
    "nothing": "",
}


def poisoned(verdict: Verdict, evil: str) -> Verdict:
    """The verdict with the evil text in every place that a log's text can reach."""
    return replace(
        verdict,
        source=replace(verdict.source, name=f"{evil}/build.log"),
        headline=f"{verdict.headline} {evil}",
        segments=tuple(replace(s, lane=evil, module=evil, goal=evil) for s in verdict.segments),
        root=_finding(verdict.root, evil) if verdict.root else None,
        others=tuple(_finding(f, evil) for f in verdict.others),
        worth_reading=(*verdict.worth_reading, WorthReading(line=1, text=evil, why="odd"))
        if verdict.worth_reading
        else (),
        elsewhere=(Elsewhere(what="a report", where=evil),),
        notices=(f"notice {evil}",),
    )


def _finding(finding: Finding, evil: str) -> Finding:
    items = tuple(replace(i, text=f"{evil}{i.text}", file=f"{evil}{i.file}") for i in finding.items)
    return replace(
        finding,
        tool=evil,
        evidence=tuple(Evidence(line=e.line, text=f"{e.text}{evil}") for e in finding.evidence),
        excerpt=tuple(Evidence(line=e.line, text=f"{evil}{e.text}") for e in finding.excerpt),
        facts={**finding.facts, "url": evil, "file": evil},
        items=(*items, Item(text=evil, file=evil, line=3), Item(text=evil, file=None, line=None)),
    )


@cache
def verdict_named(log: str) -> Verdict:
    """The verdict of one of the logs above."""
    return verdict_of(LOGS[log])


@cache
def hostile_verdicts(name: str) -> tuple[Verdict, ...]:
    """The verdicts of the logs that are made of one hostile line."""
    return tuple(verdict_of(log) for log in hostile_logs(HOSTILE[name]).values())
