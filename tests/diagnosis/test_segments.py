from __future__ import annotations

from tests.support import verdict_of

GIT = "Cloning into 'fares'...\n"
MAVEN = "[INFO] Scanning for projects...\n"


def goal(plugin: str, name: str, module: str) -> str:
    return f"[INFO] --- maven-{plugin}-plugin:3.1.0:{name} (default-{name}) @ {module} ---\n"


def downloads(count: int) -> str:
    return "".join(
        f"[INFO] Downloading from brackwater: https://repo.brackwater.example/m/a{n}.pom\n" for n in range(count)
    )


def phases(log: str) -> list[tuple[str, int, int]]:
    return [(s.phase, s.start, s.end) for s in verdict_of(log).segments]


def test_lines_before_the_first_mark_are_the_agent_s() -> None:
    assert phases("Running on agent-7\n" + GIT) == [("agent", 1, 1), ("checkout", 2, 2)]


def test_run_of_downloads_is_a_resolve_segment() -> None:
    log = (
        MAVEN
        + goal("compiler", "compile", "fares")
        + downloads(5)
        + "[INFO] Compiling 3 source files\n[INFO] BUILD SUCCESS\n"
    )
    assert phases(log) == [("setup", 1, 1), ("compile", 2, 2), ("resolve", 3, 7), ("compile", 8, 9)]


def test_few_downloads_belong_to_the_open_goal() -> None:
    log = MAVEN + goal("compiler", "compile", "fares") + downloads(4) + "[INFO] BUILD SUCCESS\n"
    assert phases(log) == [("setup", 1, 1), ("compile", 2, 7)]


def test_downloads_of_an_upload_goal_are_deploy() -> None:
    log = MAVEN + goal("deploy", "deploy", "fares") + downloads(9) + "[INFO] BUILD SUCCESS\n"
    assert phases(log) == [("setup", 1, 1), ("deploy", 2, 12)]


def test_modules_have_segments_of_their_own() -> None:
    log = (
        MAVEN
        + goal("compiler", "compile", "fares-core")
        + goal("compiler", "compile", "fares-web")
        + "[INFO] BUILD SUCCESS\n"
    )
    assert [s.module for s in verdict_of(log).segments] == [None, "fares-core", "fares-web"]


def test_states_tell_how_far_it_got() -> None:
    log = (
        GIT
        + MAVEN
        + goal("compiler", "compile", "fares")
        + "[ERROR] /home/ci/fares/Fare.java:[12,8] cannot find symbol\n[INFO] BUILD FAILURE\n"
        + "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-compiler-plugin:3.1.0:compile (default-compile) on project fares: Compilation failure\n"
    )
    assert [(s.phase, s.state) for s in verdict_of(log).segments] == [
        ("checkout", "passed"),
        ("setup", "passed"),
        ("compile", "failed"),
    ]


def test_time_stamps_give_seconds() -> None:
    log = (
        "2026-03-02T10:11:12.500Z + git clone https://git.brackwater.example/fares.git\n"
        "2026-03-02T10:11:15.000Z + npm ci\n"
        "2026-03-02T10:11:45.000Z + npm test\n"
        "2026-03-02T10:11:46.000Z Finished: SUCCESS\n"
    )
    assert [(s.phase, s.seconds) for s in verdict_of(log).segments][:2] == [("checkout", 2.5), ("resolve", 30.0)]


def test_interleaved_lanes_have_segments_of_their_own_and_count_their_lines() -> None:
    log = (
        "[linux] + npm ci\n[windows] + npm ci\n[linux] added 12 packages in 3s\n[windows] added 12 packages in 4s\n"
        "[linux] + npm test\n[windows] + npm test\nFinished: SUCCESS\n"
    )
    segments = [(s.lane, s.phase, s.start, s.lines) for s in verdict_of(log).segments if s.lane]
    assert segments == [
        ("linux", "resolve", 1, 2),
        ("windows", "resolve", 2, 2),
        ("linux", "test", 5, 1),
        ("windows", "test", 6, 1),
    ]
