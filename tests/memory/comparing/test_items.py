from __future__ import annotations

from tests.memory.comparing.pairs import compared, sample


def failing(*tests: str) -> str:
    """A Maven log in which these tests fail."""
    head = "[INFO] --- surefire:3.2.5:test (default-test) @ fares-core ---\n[INFO] Running example.brackwater.fares.FareTest\n"
    each = "".join(
        f"[ERROR] example.brackwater.fares.FareTest.{test}  Time elapsed: 0.0{i} s  <<< FAILURE!\n"
        f"org.opentest4j.AssertionFailedError: expected: <1> but was: <{i}>\n"
        for i, test in enumerate(tests)
    )
    tail = f"[ERROR] Tests run: 90, Failures: {len(tests)}, Errors: 0, Skipped: 0\n[INFO] BUILD FAILURE\n"
    tail += "[ERROR] Failed to execute goal org.apache.maven.plugins:maven-surefire-plugin:3.2.5:test (default-test) on project"
    return head + each + tail + " fares-core: There are test failures.\n"


def names(items: tuple[object, ...]) -> list[str]:
    return sorted(str(getattr(item, "text", "")).rsplit(".", 1)[-1] for item in items)


def test_new_still_failing_and_gone() -> None:
    found = compared(failing("child", "return_", "dog"), failing("dog", "bicycle"))
    assert found.failure == "same"
    assert (names(found.items.new), names(found.items.still), names(found.items.gone)) == (
        ["bicycle"],
        ["dog"],
        ["child", "return_"],
    )
    assert found.items.complete
    assert "1 new, 1 still failing, 2 gone" in found.progress


def test_the_same_tests_fail_again_whatever_they_expected() -> None:
    found = compared(failing("child", "dog"), failing("dog", "child"))
    assert (found.items.new, found.items.gone) == ((), ())
    assert names(found.items.still) == ["child", "dog"]
    assert found.progress.startswith("No progress")


def test_tests_that_the_new_run_did_not_come_to_are_not_called_gone() -> None:
    found = compared(sample("fares-test-failing"), sample("loyalty-git-auth"))
    assert found.items.gone == ()
    assert len(found.items.not_reached) == 2


def test_tests_that_the_new_run_passed_are_gone() -> None:
    found = compared(sample("fares-test-failing"), sample("fares-deploy-403"))
    assert len(found.items.gone) == 2
    assert found.items.not_reached == ()


def test_of_more_items_than_a_verdict_lists_none_is_called_new_or_gone_by_guess() -> None:
    many = [f"case{i:03}" for i in range(70)]
    found = compared(failing(*many), failing(*many[5:], "late"))
    assert not found.items.complete
    assert found.items.new == ()
    assert found.items.gone == ()
    assert any("more failing items" in notice for notice in found.notices)


def test_a_whole_list_against_one_that_is_cut() -> None:
    many = [f"case{i:03}" for i in range(70)]
    found = compared(failing("case001", "zone"), failing(*many))
    assert found.items.gone == ()
    assert "case002" in names(found.items.new)
    assert names(found.items.still) == ["case001"]
