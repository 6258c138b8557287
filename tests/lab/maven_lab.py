"""All Maven scenarios together: what each must show, and how a run of it is kept as a fixture."""

from __future__ import annotations

import collections
import re
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import yaml

from tests.lab import maven_tools
from tests.lab.maven_build import BUILD
from tests.lab.maven_deploy import DEPLOY
from tests.lab.maven_ok import OK
from tests.lab.maven_resolve import RESOLVE
from tests.lab.maven_setup import SETUP
from tests.lab.maven_stage import Played, Scenario, play
from tests.lab.scrub import leaks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

__all__ = ["FIXTURES", "SCENARIOS", "available", "expectation", "keep", "play_all", "problems", "refresh"]

SCENARIOS: tuple[Scenario, ...] = (*DEPLOY, *RESOLVE, *SETUP, *BUILD, *OK)
FIXTURES = Path(__file__).resolve().parents[1] / "fixtures" / "lab"
_AT_ONCE = 2

available = maven_tools.available


def expectation(scenario: Scenario, played: Played) -> dict[str, object]:
    """What a reader of this log must find."""
    return {
        "failure": scenario.failure,
        "line": played.line_of(scenario.root) if scenario.root else None,
        "phase": scenario.phase,
        "outcome": scenario.outcome,
        "seen_by": f"Maven {scenario.maven}, JDK {scenario.jdk}",
        "command": re.sub(r"\{(\w+)\}", r"https://repo.brackwater.example/repository/maven-\1", scenario.command),
    }


def problems(scenario: Scenario, played: Played) -> list[str]:
    """Why this run does not show what its row says; empty when it does."""
    found = [f"leaks: {leak}" for leak in leaks(played.output)]
    if played.run.timed_out != (scenario.killed_after is not None):
        found.append("the run took too long" if played.run.timed_out else "the run ended before it was to be killed")
    if (played.run.status == 0) != (scenario.outcome == "succeeded"):
        found.append(f"exit status {played.run.status} for outcome {scenario.outcome}")
    patterns = [each for each in (scenario.root, scenario.also) if each is not None]
    found += [f"no line matches {each!r}" for each in patterns if played.line_of(each) is None]
    if scenario.failure is not None and scenario.root is None:
        found.append("the row names no root line")
    return found


def keep(scenario: Scenario, played: Played) -> None:
    """Write the log and its expectation."""
    FIXTURES.mkdir(parents=True, exist_ok=True)
    (FIXTURES / f"{scenario.name}.log").write_bytes(played.output.encode())
    text = yaml.safe_dump(expectation(scenario, played), sort_keys=False, allow_unicode=True, width=1000)
    (FIXTURES / f"{scenario.name}.yaml").write_text(text, encoding="utf-8")


def play_all(
    scenarios: Iterable[Scenario], *, player: Callable[[Scenario], Played] = play
) -> Iterator[tuple[Scenario, Future[Played]]]:
    """Start all runs, a few at once, and hand them out in order."""
    pool = ThreadPoolExecutor(_AT_ONCE)
    try:
        yield from [(each, pool.submit(player, each)) for each in scenarios]
    finally:
        pool.shutdown(cancel_futures=True)


def refresh(words: list[str]) -> int:
    """Play the scenarios whose name holds one of the words (all without words) and keep those that went as planned."""
    chosen = [each for each in SCENARIOS if not words or any(word in each.name for word in words)]
    counts: collections.Counter[str] = collections.Counter()
    for scenario, future in play_all(chosen):
        played = future.result()
        found = problems(scenario, played)
        counts["refused" if found else "kept"] += 1
        if found:
            print(f"{scenario.name}: {'; '.join(found)}\n{_tail(played)}")
        else:
            keep(scenario, played)
            print(f"{scenario.name}: kept, {played.run.seconds:.1f} s")
    print(f"{counts['kept']} kept, {counts['refused']} refused")
    return 1 if counts["refused"] else 0


def _tail(played: Played) -> str:
    return "\n".join(f"    {line[:200]}" for line in played.output.splitlines()[-12:])
