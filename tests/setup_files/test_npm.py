"""npm's files: routes, credentials, remarks, and correct set-ups that get none."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from logdoctor.setup_files.npm import read_npm
from logdoctor.setup_files.npm_files import nerf_dart, nerf_walk
from logdoctor.setup_files.values import BUILT_IN, Route, Setup
from logdoctor.setup_files.work_tree import WorkTree

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

HOST = "npm.brackwater.example"
HOSTED = f"https://{HOST}/repository/npm-hosted/"
GROUP = f"https://{HOST}/repository/npm-group/"
PUBLISHED = {"name": "@brackwater/fares", "version": "1.2.0", "publishConfig": {"registry": HOSTED}}
APPLICATION = {"name": "crossings", "version": "1.0.0", "private": True}


def set_up(
    folder: Path,
    *,
    project: str | None = None,
    user: str | None = None,
    package: object = None,
    environment: Mapping[str, str] | None = None,
) -> Setup:
    """What npm's files tell when they hold these texts."""
    tree, home = folder / "tree", folder / "home"
    rcs = []
    for place, text in ((home, user), (tree, project)):
        place.mkdir(exist_ok=True)
        if text is not None:
            (place / ".npmrc").write_text(text)
            rcs.append(place / ".npmrc")
    packages = []
    if package is not None:
        packages.append(tree / "package.json")
        packages[0].write_text(package if isinstance(package, str) else json.dumps(package, indent=2))
    return read_npm(rcs, packages, tree=WorkTree.of(tree), environment=environment)


def codes(setup: Setup, *severities: str) -> list[str]:
    """The remarks' codes, all or of some severities."""
    return [r.code for r in setup.remarks if not severities or r.severity in severities]


def route(setup: Setup, name: str, direction: str = "download") -> Route:
    """The one route of that name."""
    (found,) = [r for r in setup.routes if r.repository_id == name and r.direction == direction]
    return found


TOKEN = f"//{HOST}/repository/npm-hosted/:_authToken=${{NPM_TOKEN}}\n"

CORRECT: dict[str, dict[str, object]] = {
    "token in the user's file": {"user": TOKEN, "package": PUBLISHED, "environment": {"NPM_TOKEN": "x"}},
    "token as a variable in the project": {"project": TOKEN, "package": PUBLISHED},
    "scope from the group, no login": {"project": f"@brackwater:registry={GROUP}\n", "package": APPLICATION},
    "default from the group, login for the host": {
        "project": f"registry={GROUP}\n//{HOST}/:_authToken=${{NPM_TOKEN}}\n",
        "package": APPLICATION,
    },
    "no settings at all": {"package": APPLICATION},
    "public package without settings": {"package": {"name": "fares-widgets", "version": "2.0.0"}},
    "scope's target in publishConfig": {
        "user": TOKEN + f"@brackwater:registry={GROUP}\n",
        "package": {**PUBLISHED, "publishConfig": {"@brackwater:registry": HOSTED}},
    },
    "user and password": {
        "user": f"//{HOST}/repository/npm-hosted/:username=deployer\n//{HOST}/repository/npm-hosted/:_password=c2VjcmV0\n",
        "package": PUBLISHED,
    },
    "client certificate": {
        "user": f"//{HOST}/repository/npm-hosted/:certfile=/etc/c.pem\n//{HOST}/repository/npm-hosted/:keyfile=/etc/k.pem\n",
        "package": PUBLISHED,
    },
    "optional variable that is not there": {
        "project": "cache = ${NPM_CACHE?}\n",
        "package": APPLICATION,
        "environment": {"HOME": "/home/agent"},
    },
    "plain token in the user's own file": {
        "user": f"//{HOST}/repository/npm-hosted/:_authToken=aaaabbbbccccdddd\n",
        "package": PUBLISHED,
    },
    "registry on this machine": {"project": "registry=http://localhost:4873/\n", "package": APPLICATION},
    "monorepo root that publishes its workspaces": {
        "project": TOKEN,
        "package": {
            "name": "root",
            "private": True,
            "workspaces": ["packages/*"],
            "scripts": {"release": "npm run build && npm publish --workspaces"},
        },
    },
    "published from another folder": {
        "package": {"name": "x", "private": True, "scripts": {"release": "cd dist && npm publish"}}
    },
    "quoted values, comments, windows line ends": {
        "project": f"; ours\r\n# more\r\nregistry = \"{GROUP}\"\r\n//{HOST}/:_authToken = '${{NPM_TOKEN}}'\r\n",
        "package": APPLICATION,
        "environment": {"NPM_TOKEN": "x"},
    },
}


@pytest.mark.parametrize("given", CORRECT.values(), ids=list(CORRECT))
def test_a_correct_set_up_gets_no_error_and_no_warning(tmp_path: Path, given: dict[str, object]) -> None:
    assert codes(set_up(tmp_path, **given), "error", "warning") == []  # type: ignore[arg-type]


WRONG: dict[str, tuple[dict[str, object], str, str]] = {
    "no token": ({"user": "fund=false\n", "package": PUBLISHED}, "error", "npm-publish-without-credential"),
    "no token that was seen": (
        {"project": "fund=false\n", "package": PUBLISHED},
        "warning",
        "npm-publish-without-credential",
    ),
    "token for the group": (
        {"user": f"//{HOST}/repository/npm-group/:_authToken=${{T}}\n", "package": PUBLISHED},
        "error",
        "npm-credential-other-path",
    ),
    "token for the host only": (
        {"user": f"//{HOST}/:_authToken=${{T}}\n", "package": PUBLISHED},
        "warning",
        "npm-publish-credential-not-exact",
    ),
    "registry without its slash": (
        {"user": TOKEN, "package": {**PUBLISHED, "publishConfig": {"registry": HOSTED.rstrip("/")}}},
        "warning",
        "npm-publish-credential-not-exact",
    ),
    "the scope's registry comes first": (
        {
            "user": TOKEN + f"@brackwater:registry={GROUP}\n//{HOST}/repository/npm-group/:_authToken=x\n",
            "package": PUBLISHED,
        },
        "warning",
        "npm-publish-scope-wins",
    ),
    "undefined variable": (
        {"user": TOKEN, "package": PUBLISHED, "environment": {"HOME": "/h"}},
        "error",
        "npm-variable-undefined",
    ),
    "plain token in the tree": (
        {"project": TOKEN.replace("${NPM_TOKEN}", "aaaabbbbccccdddd"), "package": PUBLISHED},
        "warning",
        "npm-secret-in-work-tree",
    ),
    "private with a target": ({"package": {**PUBLISHED, "private": True}}, "warning", "npm-publish-private"),
    "private with a script": (
        {"package": {**APPLICATION, "scripts": {"release": "npm run build && npm publish --tag next"}}},
        "error",
        "npm-publish-private",
    ),
    "plain http": ({"project": f"registry=http://{HOST}/\n", "package": APPLICATION}, "warning", "npm-plain-http"),
    "certificates unchecked": (
        {"project": "strict-ssl=false\n", "package": APPLICATION},
        "warning",
        "npm-certificates-unchecked",
    ),
    "credential without registry": ({"user": "_auth=YTpi\n"}, "warning", "npm-credential-without-registry"),
    "credential key with protocol": (
        {"user": f"https://{HOST}/:_authToken=${{T}}\n"},
        "warning",
        "npm-credential-key-form",
    ),
    "password in an address": (
        {"project": f"registry=https://a:hunter22@{HOST}/\n", "package": APPLICATION},
        "warning",
        "credentials-in-url",
    ),
    "broken package.json": ({"package": "{\n  'name': 1\n}"}, "error", "npm-package-invalid"),
    "package.json that is a list": ({"package": "[]"}, "error", "npm-package-invalid"),
    "package.json nested too deeply": ({"package": "[" * 200_000}, "error", "npm-package-invalid"),
}


@pytest.mark.parametrize(("given", "severity", "code"), WRONG.values(), ids=list(WRONG))
def test_a_wrong_set_up_gets_its_remark(tmp_path: Path, given: dict[str, object], severity: str, code: str) -> None:
    assert code in codes(set_up(tmp_path, **given), severity)  # type: ignore[arg-type]


def test_routes_of_default_scope_and_publish(tmp_path: Path) -> None:
    project = (
        f"registry={GROUP}\n@ferries:registry=https://other.example/npm/\n//{HOST}/repository/:_authToken=${{T}}\n"
    )
    setup = set_up(tmp_path, project=project, package=PUBLISHED)
    assert (route(setup, "default").url, route(setup, "default").server_id) == (
        GROUP,
        f"//{HOST}/repository/:_authToken",
    )
    assert (route(setup, "@ferries").url, route(setup, "@ferries").server_id) == ("https://other.example/npm/", None)
    upload = route(setup, "@brackwater/fares", "upload")
    assert upload.url == HOSTED
    assert upload.declared is not None
    assert (upload.declared.file.rpartition("/")[2], upload.declared.line) == ("package.json", 5)


def test_the_project_beats_the_user_and_the_environment_beats_both(tmp_path: Path) -> None:
    user, project = "registry=https://user.example/\n", "registry=https://project.example/\n"
    assert (
        route(set_up(tmp_path, user=user, project=project, package=APPLICATION), "default").url
        == "https://project.example/"
    )
    stronger = set_up(
        tmp_path,
        user=user,
        project=project,
        package=APPLICATION,
        environment={"NPM_CONFIG_REGISTRY": "https://env.example/"},
    )
    assert route(stronger, "default").url == "https://env.example/"


def test_without_settings_the_built_in_registry_is_read(tmp_path: Path) -> None:
    assert route(set_up(tmp_path, package=APPLICATION), "default").url == BUILT_IN


def test_a_variable_without_environment_is_incomplete_and_no_remark(tmp_path: Path) -> None:
    setup = set_up(tmp_path, user=TOKEN, package=PUBLISHED)
    assert "NPM_TOKEN" in (route(setup, "@brackwater/fares", "upload").incomplete or "")
    assert setup.remarks == ()


def test_publish_without_any_npmrc_is_incomplete(tmp_path: Path) -> None:
    setup = set_up(tmp_path, package=PUBLISHED)
    assert route(setup, PUBLISHED["name"], "upload").incomplete == "no .npmrc was read"  # type: ignore[arg-type]
    assert setup.remarks == ()


def test_no_value_of_this_room_holds_a_secret(tmp_path: Path) -> None:
    project = f"registry=https://bob:Tr0ubad0ur@{HOST}/\n//{HOST}/:_authToken=npm_Zx9Qw8Er7Ty6Ui5Op4\n_auth=Ym9iOlRyMHViYWQwdXI=\n"
    shown = repr(set_up(tmp_path, project=project, package=PUBLISHED, environment={}))
    assert not [secret for secret in ("Tr0ubad0ur", "npm_Zx9Qw8Er7Ty6Ui5Op4", "Ym9iOlRyMHViYWQwdXI") if secret in shown]


@pytest.mark.parametrize(
    ("url", "key"),
    [
        ("https://npm.example/a/b/", "//npm.example/a/b/"),
        ("https://npm.example/a/b", "//npm.example/a/"),
        ("https://npm.example", "//npm.example/"),
        ("https://npm.example:443/a/", "//npm.example/a/"),
        ("http://NPM.example:8081/a/", "//npm.example:8081/a/"),
        ("http://[::1]:4873/", "//[::1]:4873/"),
    ],
)
def test_the_key_of_a_registry(url: str, key: str) -> None:
    assert nerf_dart(url) == key


def test_the_longest_address_is_looked_at_first() -> None:
    assert list(nerf_walk("https://h.example/a/b/")) == [
        "//h.example/a/b/",
        "//h.example/a/b",
        "//h.example/a/",
        "//h.example/a",
        "//h.example/",
        "//h.example",
    ]


@pytest.mark.parametrize(
    "data", [b"\xff\xfe\x00", b"\x00" * 100, b"=\n=\n[a]\n@:registry=\n", b"registry=http://[::\n"]
)
def test_bad_bytes_are_no_failure(tmp_path: Path, data: bytes) -> None:
    (tmp_path / ".npmrc").write_bytes(data)
    assert isinstance(read_npm([tmp_path / ".npmrc"], [], tree=WorkTree.of(tmp_path)), Setup)


def test_a_file_that_is_too_large_or_missing_gets_a_remark(tmp_path: Path) -> None:
    (tmp_path / ".npmrc").write_bytes(b"#" * (8 * 1024 * 1024 + 1))
    setup = read_npm([tmp_path / ".npmrc", tmp_path / "none"], [])
    assert codes(setup, "error") == ["file-unreadable"] * 2
