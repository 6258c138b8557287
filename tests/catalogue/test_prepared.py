"""The catalogue prepared for quick reading says the same as the knowledge files, and is kept only while they stay as they are."""

from __future__ import annotations

from pathlib import Path

import pytest

from logdoctor.catalogue import Catalogue, kept, load_catalogue, loading
from logdoctor.catalogue.kept import stamp_of
from logdoctor.catalogue.packing import bundle, for_the_wheel
from logdoctor.catalogue.picking import listed
from logdoctor.catalogue.prepared import packed, unpacked
from logdoctor.catalogue.windows import LENGTH, chosen_windows
from logdoctor.scan import RuleBook
from tests.catalogue.test_loading import ENTRY, folder_with
from tests.support import ROOT

KNOWLEDGE = ROOT / "knowledge"


@pytest.fixture(scope="module")
def plain() -> Catalogue:
    """From the YAML files."""
    data = bundle(KNOWLEDGE)
    return Catalogue({entry["id"]: entry for entry in data["entries"]}, data["marks"], data["facts"])


@pytest.fixture(scope="module")
def quick(plain: Catalogue) -> Catalogue:
    """The same prepared."""
    found = unpacked(packed(plain, (KNOWLEDGE / "ordinary.txt").read_bytes().splitlines()))
    return Catalogue(found.entries, (), found.head["facts"], prepared=found)


def test_it_says_the_same(plain: Catalogue, quick: Catalogue) -> None:
    assert quick.rules() == plain.rules()
    assert list(quick) == list(plain)
    assert list(quick.marks) == list(plain.marks)
    assert dict(quick.marks) == dict(plain.marks)
    assert quick.facts == plain.facts
    assert len(quick) == len(plain)
    key = next(iter(plain.marks))
    assert quick.mark_examples(key) == plain.mark_examples(key)


def test_it_picks_the_same_rules(plain: Catalogue, quick: Catalogue) -> None:
    slow, fast = RuleBook(listed(plain.rules())), RuleBook(quick.picking())
    tried = 0
    for log in sorted((ROOT / "tests" / "fixtures").rglob("*.log"))[::9]:
        for line in log.read_bytes().splitlines()[:300]:
            wanted = slow.candidates(line)
            found = fast.candidates(line)
            assert (found.literals, [r.key for r in found.rules]) == (wanted.literals, [r.key for r in wanted.rules])
            tried += len(wanted.rules)
    assert tried > 5_000


def test_the_wheel_s_file_is_the_same() -> None:
    assert unpacked(for_the_wheel(KNOWLEDGE)).rules() == load_catalogue(user=Path("/nowhere")).rules()


def test_each_literal_holds_its_window() -> None:
    literals = [b"gave up on the tide", b"gave up on the quay", b"tide", b"[INFO] harbour"]
    windows = chosen_windows(literals, [b"gave up on the bus"])
    for literal, (window, before) in zip(literals, windows, strict=True):
        assert literal[before : before + len(window)] == window
        assert len(window) == min(LENGTH, len(literal))
    assert b"gave up" not in windows[0][0]  # it stands in an ordinary line


@pytest.mark.parametrize("damage", [b"", b"{}", b"[]\n", b"\0" * 4000, b'{"format": "other"}\n', b"\xff"])
def test_a_file_of_another_kind_is_refused(damage: bytes) -> None:
    with pytest.raises(ValueError, match=r"."):
        unpacked(damage)


def test_a_file_that_was_cut_is_refused(plain: Catalogue) -> None:
    whole = packed(plain)
    with pytest.raises(ValueError, match="cut"):
        unpacked(whole[: len(whole) // 2])


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A knowledge folder whose files were written long ago, and a cache folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(kept, "MOMENT", -1)
    folder = folder_with(tmp_path / "k", ENTRY)
    (folder / "facts.yaml").write_text("computed: {}\n")
    return folder


def read(folder: Path) -> Catalogue:
    return load_catalogue(built_in=folder, user=folder / "nowhere")


def is_kept(folder: Path) -> bool:
    cache = loading.cache_folder()
    assert cache is not None
    return kept.kept(cache, folder, stamp_of(folder)) is not None


def test_it_is_kept_until_a_file_changes_comes_or_goes(checkout: Path) -> None:
    assert not is_kept(checkout)
    first = read(checkout)
    assert is_kept(checkout)
    assert list(read(checkout)) == list(first)
    folder_with(checkout, ENTRY.replace("The tide was too low", "Now the tide is low!"))  # of the same size
    assert not is_kept(checkout)
    assert read(checkout).failure("checkout-tide-too-low").title == "Now the tide is low!"
    folder_with(checkout, ENTRY.replace("tide-too-low", "tide-too-high"), "tide-too-high.yaml")
    assert len(read(checkout)) == 2
    (checkout / "checkout" / "tide-too-high.yaml").unlink()
    assert len(read(checkout)) == 1


def test_a_file_changed_a_moment_ago_is_not_trusted(checkout: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "MOMENT", 3_600_000_000_000)
    read(checkout)
    assert not is_kept(checkout)


def test_problems_are_kept_too(checkout: Path) -> None:
    folder_with(checkout, "id: [", "broken.yaml")
    told = [str(problem) for problem in read(checkout).problems]
    assert is_kept(checkout)
    assert [str(problem) for problem in read(checkout).problems] == told != []


@pytest.mark.parametrize("damage", [b"", b"{", b"\0" * 9000, b"[" * 100_000])
def test_a_damaged_file_is_as_if_there_were_none(damage: bytes, checkout: Path, tmp_path: Path) -> None:
    first = read(checkout)
    (path,) = (tmp_path / "cache" / "logdoctor").glob("catalogue-*.jsonl")
    path.write_bytes(damage)
    assert list(read(checkout)) == list(first)
    assert is_kept(checkout)


def test_other_layers_are_merged_over_it(checkout: Path, tmp_path: Path) -> None:
    read(checkout)
    user = folder_with(tmp_path / "user", ENTRY.replace("The tide was too low", "Low water").replace("harbour", "pier"))
    merged = load_catalogue(built_in=checkout, user=user)
    assert merged.failure("checkout-tide-too-low").title == "Low water"
    assert {rule.key for rule in merged.rules()} == {"checkout-tide-too-low/harbour", "checkout-tide-too-low/pier"}


def test_a_folder_that_can_not_be_read_has_no_stamp(tmp_path: Path) -> None:
    assert stamp_of(tmp_path / "nowhere") == []
    (tmp_path / "loop").symlink_to(tmp_path)
    assert stamp_of(tmp_path) == []
