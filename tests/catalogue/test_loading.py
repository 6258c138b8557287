from __future__ import annotations

from pathlib import Path

import pytest

from logdoctor.catalogue import load_catalogue
from logdoctor.catalogue.reading import read_folder
from tests.support import ROOT, catalogue

ENTRY = """\
id: checkout-tide-too-low
phase: checkout
title: The tide was too low
meaning: The ferry that carries the sources could not land.
signatures:
  - id: harbour
    tool: git
    line: 'tide too low at (?<pier>\\w+)'
    examples: [{text: 'fatal: tide too low at northpier', seen: memory}]
causes:
  - id: moon
    says: It is new moon.
    usual: common
    rerun: helps
    owner: network-admin
    fix: [Wait for the flood.]
    proof: The next log lands.
"""


def folder_with(tmp_path: Path, text: str, name: str = "tide-too-low.yaml") -> Path:
    folder = tmp_path / "checkout"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(text)
    return tmp_path


def test_user_s_entry_joins_the_built_in_ones(tmp_path: Path) -> None:
    loaded = load_catalogue(user=folder_with(tmp_path, ENTRY), built_in=ROOT / "knowledge")
    assert loaded.failure("checkout-tide-too-low").layer == "user"
    assert len(loaded) == len(catalogue()) + 1


def test_same_id_merges_signatures_by_id_and_replaces_scalars(tmp_path: Path) -> None:
    base = folder_with(tmp_path / "base", ENTRY)
    (base / "facts.yaml").write_text("computed: {}\n")
    more = ENTRY.replace("The tide was too low", "Low water").replace("id: harbour", "id: pier")
    merged = load_catalogue(user=folder_with(tmp_path / "user", more), built_in=base).failure("checkout-tide-too-low")
    assert merged.title == "Low water"
    assert [s.id for s in merged.signatures] == ["harbour", "pier"]
    assert [c.id for c in merged.causes] == ["moon"]


def test_project_layer_is_read_only_when_asked_for(tmp_path: Path) -> None:
    folder_with(tmp_path / ".logdoctor", ENTRY)
    nowhere = tmp_path / "nowhere"
    assert "checkout-tide-too-low" not in load_catalogue(user=nowhere, built_in=ROOT / "knowledge")
    with_project = load_catalogue(project=tmp_path, user=nowhere, built_in=ROOT / "knowledge")
    assert with_project.failure("checkout-tide-too-low").layer == "project"


@pytest.mark.parametrize(
    ("text", "word"),
    [
        pytest.param("id: [", "YAML", id="not YAML"),
        pytest.param(ENTRY.replace("owner: network-admin", "owner: nobody"), "owner", id="unknown owner"),
        pytest.param(ENTRY + "colour: blue\n", "colour", id="unknown key"),
        pytest.param(ENTRY.replace("phase: checkout", "phase: deploy"), "phase", id="id of another phase"),
        pytest.param("a: &x [1]\nb: *x\n", "alias", id="aliases"),
        pytest.param("!!python/object/apply:os.system ['true']", "YAML", id="tags"),
        pytest.param(ENTRY.replace("tide too low at (?<pier>\\w+)", "\\w+ \\d+"), "literal", id="no literal"),
    ],
)
def test_bad_entry_is_left_out_and_named(text: str, word: str, tmp_path: Path) -> None:
    knowledge = read_folder(folder_with(tmp_path, text))
    assert knowledge.entries == []
    assert any("tide-too-low.yaml" in str(p) and word in str(p) for p in knowledge.problems)


def test_all_problems_of_a_file_are_told_together(tmp_path: Path) -> None:
    text = ENTRY.replace("usual: common", "usual: always").replace("rerun: helps", "rerun: never")
    assert len(read_folder(folder_with(tmp_path, text)).problems) == 2


def test_cache_gives_the_same_and_notices_a_change(tmp_path: Path) -> None:
    folder, cache = folder_with(tmp_path / "k", ENTRY), tmp_path / "cache"
    first = read_folder(folder, cache_dir=cache)
    assert read_folder(folder, cache_dir=cache).entries == first.entries
    folder_with(tmp_path / "k", ENTRY.replace("The tide was too low", "Low water"))
    assert read_folder(folder, cache_dir=cache).entries[0]["title"] == "Low water"


@pytest.mark.parametrize("damage", [b"", b"{", b'{"format": "other"}', b"[]", b"\xff\xfe"])
def test_damaged_cache_is_as_if_it_were_empty(damage: bytes, tmp_path: Path) -> None:
    folder, cache = folder_with(tmp_path / "k", ENTRY), tmp_path / "cache"
    read_folder(folder, cache_dir=cache)
    (path,) = cache.glob("knowledge-*.json")
    path.write_bytes(damage)
    assert len(read_folder(folder, cache_dir=cache).entries) == 1
