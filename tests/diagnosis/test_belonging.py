"""Whose names are: by code host, image and group; and rows of disk listings."""

from __future__ import annotations

import pytest

from logdoctor.diagnosis.belonging import belonging_facts, owner_in, owner_of_groups
from logdoctor.diagnosis.surroundings import disk_listings

REMOTE = " > git config remote.origin.url https://git.brackwater.example/fares/core.git # timeout=10"


@pytest.mark.parametrize(
    ("line", "domains"),
    [
        (REMOTE, {"brackwater.example"}),
        ("Cloning into 'x' from git@code.brackwater.example:fares/core.git", {"brackwater.example"}),
        ("git clone https://brackwater.example/x.git", set()),
        ("Using docker image sha256:77aa for registry.brackwater.example/base/jdk:17 ...", set()),
        ("Downloading from central: https://repo.public.example/maven2/a/b/1/b-1.pom", set()),
    ],
)
def test_the_domain_of_the_owner(line: str, domains: set[str]) -> None:
    assert owner_in([line]).domains == domains


def test_an_image_tells_nothing_of_the_owner() -> None:
    lines = ["Using docker image sha256:77aa for images.elsewhere.example/base/jdk:17 ...", REMOTE]
    assert owner_in(lines).domains == {"brackwater.example"}


@pytest.mark.parametrize(
    ("name", "ours"),
    [
        ("example.brackwater.fares:core:jar:1.0", True),
        ("example/brackwater/fares/RuleEngine", True),
        ("example.brackwaterside:core:1", False),
        ("org.slf4j:slf4j-api:2.0.9", False),
        ("org/slf4j/Logger$Inner", False),
        ("@brackwater/tickets", True),
        ("@else/tickets", False),
        ("git.brackwater.example/ops/gatebus", True),
        ("lodash", None),
        ("requests", None),
    ],
)
def test_whose_a_name_is(name: str, ours: bool | None) -> None:
    assert owner_in([REMOTE]).owns_name(name) is ours


def test_groups_that_many_share_are_taken_longer() -> None:
    owner = owner_of_groups(["io.github.brackwater.fares", "example.brackwater.tides.core"])
    assert owner.prefixes == {"io.github.brackwater", "example.brackwater"}
    assert owner.owns_name("io.github.other:lib:1") is False


def test_nothing_is_said_where_nothing_is_known() -> None:
    assert dict(belonging_facts(owner_in(["Finished: FAILURE"]), {"artifact": "a.b:c:1", "host": "x.y.example"})) == {}


def test_one_own_host_among_those_asked_is_enough() -> None:
    asked = ["repo.public.example", "repo.brackwater.example"]
    assert dict(belonging_facts(owner_in([REMOTE]), {}, asked)) == {"host_is_ours": True}
    assert dict(belonging_facts(owner_in([REMOTE]), {}, asked[:1])) == {"host_is_ours": False}


def test_rows_of_a_listing_and_nothing_else() -> None:
    text = [
        "/dev/sda1 100G 100G 0 100% /",
        "Filesystem     1K-blocks      Used Available Use% Mounted on",
        "/dev/sda1      102400000 102400000         0 100% /",
        "tmpfs              65536         0     65536   0% /dev/shm",
        "+ make",
        "tmpfs              65536         0     65536   0% /run",
        "Filesystem      Inodes  IUsed   IFree IUse% Mounted on",
        "overlay        6553600 120000 6433600    2% /var/lib/x",
    ]
    rows = [(m.mount, m.percent, m.inodes) for m in disk_listings(text)]
    assert rows == [("/", 100, False), ("/dev/shm", 0, False), ("/var/lib/x", 2, True)]
