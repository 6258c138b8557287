"""Mirror matching against the table in Maven's guide to mirror settings, and its less obvious ends."""

from __future__ import annotations

import pytest

from logdoctor.setup_files.maven_mirrors import mirror_for, mirrors_of, takes, takes_layout
from logdoctor.setup_files.maven_settings import Mirror
from logdoctor.setup_files.maven_text import Filled

REMOTE = "https://tides.public.example/m2"


@pytest.mark.parametrize(
    ("pattern", "name", "url", "taken"),
    [
        ("*", "tides", REMOTE, True),
        ("*", "tides", "file:///srv/libs", True),
        ("external:*", "tides", REMOTE, True),
        ("external:*", "tides", "http://localhost:8081/m2", False),
        ("external:*", "tides", "http://127.0.0.1/m2", False),
        ("external:*", "tides", "file:///srv/libs", False),
        ("external:http:*", "tides", "http://tides.public.example/m2", True),
        ("external:http:*", "tides", REMOTE, False),
        ("external:http:*", "tides", "http://localhost/m2", False),
        ("tides,crew", "crew", REMOTE, True),
        ("tides,crew", "docks", REMOTE, False),
        ("*,!tides", "tides", REMOTE, False),
        ("*,!tides", "crew", REMOTE, True),
        ("!tides,*", "tides", REMOTE, False),
        ("tides,!tides", "tides", REMOTE, True),
        ("!tides", "crew", REMOTE, False),
        ("external:*,!tides", "tides", REMOTE, False),
        ("tides, crew", "crew", REMOTE, False),
        ("Tides", "tides", REMOTE, False),
        ("", "tides", REMOTE, False),
    ],
)
def test_pattern_takes(pattern: str, name: str, url: str, taken: bool) -> None:
    assert takes(pattern, name, url) is taken


@pytest.mark.parametrize(
    ("layouts", "layout", "taken"),
    [
        ("", "default", True),
        ("*", "p2", True),
        ("default,legacy", "p2", False),
        ("default,legacy", "legacy", True),
        ("*,!p2", "p2", False),
        ("!p2", "default", False),
    ],
)
def test_layouts_take(layouts: str, layout: str, taken: bool) -> None:
    assert takes_layout(layouts, layout) is taken


def _mirror(name: str, of: str, *, layouts: str = "default,legacy") -> Mirror:
    return Mirror(
        id=name, url=Filled(text=f"https://{name}.example/"), of=of, layouts=layouts, blocked=False, place=None
    )


def test_exact_id_wins_over_an_earlier_wildcard() -> None:
    found = mirror_for("tides", REMOTE, "default", [_mirror("all", "*"), _mirror("one", "tides")])
    assert found is not None
    assert found.id == "one"


def test_first_of_two_patterns_wins() -> None:
    found = mirror_for("tides", REMOTE, "default", [_mirror("list", "tides,crew"), _mirror("all", "*")])
    assert found is not None
    assert found.id == "list"


def test_mirror_of_another_layout_is_passed_over() -> None:
    found = mirror_for("tides", REMOTE, "default", [_mirror("p2", "tides", layouts="p2"), _mirror("all", "*")])
    assert found is not None
    assert found.id == "all"


@pytest.mark.parametrize(
    ("version", "count"), [("3.8.1", 1), ("3.9.9", 1), ("4.0.0-rc-4", 1), ("3.8.0", 0), ("3.6.3", 0), (None, 0)]
)
def test_blocker_comes_with_the_versions_that_have_it(version: str | None, count: int) -> None:
    assert len(mirrors_of([], version)) == count


def test_old_versions_do_not_know_the_http_wildcard() -> None:
    (old,) = mirrors_of([_mirror("m", "external:http:*,tides")], "3.6.3")
    assert old.of == "tides"
