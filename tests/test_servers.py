"""A tool's output in the frames of many CI servers: the same root, and the outcome that the frame's own last lines tell.

The frames: what such servers print around a command, from memory. The ordinary command takes a few outputs, the long run all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.support import verdict_of
from tests.test_replay import NAMES, OPEN, expected, verdict

SAMPLE_OF = 60
LONGEST = 60_000
Frame = Callable[[Sequence[str], bool], list[str]]


def iso(lines: Sequence[str]) -> list[str]:
    return [f"2026-03-02T10:{n // 60 % 60:02}:{n % 60:02}.1234567Z {text}" for n, text in enumerate(lines)]


def clocked(lines: Sequence[str], form: str) -> list[str]:
    return [form.format(f"10:{n // 60 % 60:02}:{n % 60:02}") + text for n, text in enumerate(lines)]


def grouped(body: Sequence[str], good: bool) -> list[str]:
    end = [] if good else ["##[error]Process completed with exit code 1."]
    after = ["##[group]Run actions/upload-artifact@v4", "with:", "  name: logs", "##[endgroup]"]
    last = ["Post job cleanup.", "Cleaning up orphan processes"]
    return iso(["##[group]Run ./build.sh", "./build.sh", "##[endgroup]", *body, *end, *after, *last])


def sections(body: Sequence[str], good: bool) -> list[str]:
    end = [] if good else ["##[error]Bash exited with code '1'."]
    names = ("PublishTestResults", "Checkout fares@main to s", "Finalize Job")
    after = [f"##[section]{word}: {name}" for name in names for word in ("Starting", "Finishing")]
    return iso(["##[section]Starting: Bash", *body, *end, "##[section]Finishing: Bash", *after])


def stages(body: Sequence[str], good: bool) -> list[str]:
    end = [] if good else ["ERROR: script returned exit code 1"]
    last = "Finished: SUCCESS" if good else "Finished: FAILURE"
    head = ["[Pipeline] { (Work)", "[Pipeline] sh", "+ ./build.sh"]
    return [*head, *body, "[Pipeline] }", "[Pipeline] // stage", "[Pipeline] End of Pipeline", *end, last]


def numbered(body: Sequence[str], good: bool) -> list[str]:
    code = 0 if good else 1
    after = [f": [Step 1/2] Process exited with code {code}", *([] if good else [" : Step 2/2: Publish was skipped"])]
    last = [" : Publishing internal artifacts", " : Build finished"]
    return clocked([" : Step 1/2: Work (Command Line)", *[f": [Step 1/2] {x}" for x in body], *after, *last], "[{}]")


def tasks(body: Sequence[str], good: bool) -> list[str]:
    told = "Success" if good else "Failed"
    after = [f"Finished task 'Work' with result: {told}", "Running post build plugin 'Artifact Copier'"]
    return clocked(["... running command line: ./build.sh", *body, *after], "build\t02-Mar-2026 {}\t")


def builder(body: Sequence[str], good: bool) -> list[str]:
    bad = 'ERROR: build step 0 "builder" failed: step exited with non-zero status: 1'
    return [*[f"Step #0: {text}" for text in body], "Finished Step #0", *(["PUSH", "DONE"] if good else ["ERROR", bad])]


def commands(body: Sequence[str], good: bool) -> list[str]:
    told = ["", f'The command "./build.sh" exited with {0 if good else 1}.', ""]
    return ["$ ./build.sh", *body, *told, f"Done. Your build exited with {0 if good else 1}."]


def runner(body: Sequence[str], good: bool) -> list[str]:
    last = "Job succeeded" if good else "ERROR: Job failed: exit code 1"
    head = ['Executing "step_script" stage of the job script', "$ ./build.sh"]
    return [*head, *body, "Cleaning up project directory and file based variables", last]


def own_words(body: Sequence[str], good: bool) -> list[str]:
    told = "OK" if good else "FAILED"
    return [
        ">>> step 3: ./build.sh",
        *body,
        f">>> step 3 ended with status {0 if good else 1}",
        f"job fares-nightly: {told} after 3m",
    ]


FRAMES = [grouped, sections, stages, numbered, tasks, builder, commands, runner, own_words]


def bare(outcome: str) -> list[Any]:
    """Outputs of real tools that no server had framed."""
    found = [p for p in NAMES if p.parent.name == "lab" and expected(p)["outcome"] == outcome]
    kept = [p for p in found if p.stat().st_size < LONGEST and p.stem not in {*OPEN["failure"], *OPEN["cut"]}]
    return [
        pytest.param(p, id=p.stem, marks=[] if n % SAMPLE_OF == 0 else [pytest.mark.long]) for n, p in enumerate(kept)
    ]


def framed(path: Path, frame: Frame, *, good: bool) -> bytes:
    text = path.read_bytes().decode("utf-8", "surrogateescape").replace("\r\n", "\n").rstrip("\n")
    return ("\n".join(frame(text.split("\n"), good)) + "\n").encode("utf-8", "surrogateescape")


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("path", bare("failed"))
def test_frame_does_not_change_the_root(path: Path, frame: Frame) -> None:
    root, told = verdict(path).root, verdict_of(framed(path, frame, good=False))
    assert told.outcome == "failed"
    if root is not None and root.failure.stand_in == "no":
        assert told.root is not None
        assert told.root.failure.id == root.failure.id


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("path", bare("succeeded"))
def test_frame_of_a_succeeded_build_makes_no_blame(path: Path, frame: Frame) -> None:
    told = verdict_of(framed(path, frame, good=True))
    assert (told.outcome, told.root) == ("succeeded", None)
