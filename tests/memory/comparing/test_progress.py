from __future__ import annotations

import pytest

from tests.memory.comparing.pairs import compared, sample
from tests.support import FIXTURES

TABLE = [
    # old, new, failure, what became of the old one, further, words of the sentence
    ("timetable-java-home-bin", "fares-deploy-403", "other", "fixed", "further", "Tool setup is fixed; the build now reaches deploy"),
    ("fares-test-failing", "fares-deploy-403", "other", "fixed", "further", "The tests are fixed; the build now reaches deploy"),
    ("loyalty-git-auth", "fares-test-failing", "other", "fixed", "further", "Checkout is fixed; the build now reaches the tests"),
    ("fares-deploy-403", "fares-test-failing", "other", "not reached", "less far", "did not come to deploy"),
    ("fares-test-failing", "loyalty-git-auth", "other", "not reached", "less far", "stops earlier, at checkout"),
    ("fares-ok-parallel", "fares-deploy-403", "new", "none", "less far", "The old run succeeded; the new one stops on deploy"),
    ("fares-test-failing", "fares-ok-parallel", "gone", "fixed", "further", "the build now succeeds"),
    ("fares-deploy-403", "fares-deploy-403", "same", "same", "same", "No progress: both runs stop on deploy"),
    ("fares-ok-parallel", "harbour-web-ok-colours", "none", "none", "same", "Both runs succeeded."),
]  # fmt: skip


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]}-{row[1]}")
def test_the_failure_and_the_progress(row: tuple[str, ...]) -> None:
    old, new, failure, became, further, words = row
    found = compared(sample(old), sample(new))
    assert (found.failure, found.old_failure, found.further) == (failure, became, further)
    assert words in found.progress
    assert found.progress.endswith(".")


def test_the_same_failure_for_another_file_says_so() -> None:
    text = sample("loyalty-artifact-not-found")
    root = compared(text, text).old.root
    assert root is not None
    artifact = str(root.facts["artifact"]).split(":")[1]
    found = compared(text, text.replace(artifact, "harbour-tides"))
    assert found.failure == "same"
    assert any("harbour-tides" in value for change in found.differs_in for value in change.new)
    assert "harbour-tides" in found.progress


def test_a_log_that_breaks_off_is_not_called_fixed() -> None:
    text = sample("fares-deploy-403")
    cut = "\n".join(text.split("\n")[:60])
    found = compared(text, cut)
    assert found.failure == "gone"
    assert found.old_failure in ("not reached", "gone")
    assert "fixed" not in found.progress.split(",")[0]


def test_two_unknown_failures_are_the_same_only_when_worded_alike() -> None:
    one = (FIXTURES / "logs" / "q05-importer.log").read_text(encoding="utf-8")
    two = (FIXTURES / "logs" / "q11-feedcount.log").read_text(encoding="utf-8")
    assert compared(one, one).failure == "same"
    assert compared(one, two).failure == "other"
