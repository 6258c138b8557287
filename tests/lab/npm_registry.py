"""A package registry for the JavaScript labs: serves made-up packages, takes or refuses what is published."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import tarfile
import urllib.parse
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tests.lab.rule_server import Answer, Request, Rule

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tests.lab.other_support import Stage

__all__ = ["HOST", "Package", "manifest", "serve_npm", "use_npm"]

HOST = "registry.brackwater.example"
_JSON = "application/json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """A made-up package; `extra` goes into every version's manifest."""

    versions: Sequence[str] = ("1.0.0",)
    extra: Mapping[str, object] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    integrity: str | None = None
    """A wrong digest, to be announced instead of the real one."""


PACKAGES: Mapping[str, Package] = {
    "@brackwater/tariff-core": Package(versions=("1.2.0", "1.3.0", "2.0.0")),
    "@brackwater/berth-map": Package(
        versions=("3.1.4",), extra={"peerDependencies": {"@brackwater/tariff-core": "^1.2.0"}}
    ),
    "@brackwater/old-tides": Package(
        versions=("0.9.1",), extra={"deprecated": "old-tides is no longer maintained, use tides"}
    ),
    "tide-tables": Package(versions=("4.0.0", "4.1.0"), extra={"engines": {"node": ">=14"}}),
    "quay-clock": Package(versions=("5.0.0",), extra={"engines": {"node": ">=24.4.0"}}),
    "ferry-log": Package(versions=("2.2.2",), integrity="sha512-" + base64.b64encode(b"x" * 64).decode()),
}


def serve_npm(
    stage: Stage, rules: Sequence[Rule] = (), *, packages: Mapping[str, Package] | None = None, tls: str = "good"
) -> str:
    """Start the registry; the given rules come first. Gives its address."""
    shelf = {**PACKAGES, **(packages or {})}
    address: list[str] = []

    def answer(request: Request) -> Answer:
        return _answer(shelf, request, address[0])

    address.append(stage.serve(HOST, [*rules, Rule(path="^/", method="GET|HEAD|PUT|POST", answer=answer)], tls=tls))
    return address[0]


def use_npm(stage: Stage, version: str, url: str, *, settings: str = "") -> None:
    """Put one npm on PATH and point it at the registry."""
    stage.use(stage.chest.system("node").parent)
    stage.use(stage.chest.npm(f"npm@{version}"))
    retry = "fetch-retry-mintimeout=50\nfetch-retry-maxtimeout=100\nupdate-notifier=false\naudit=false\nfund=false\n"
    # Named outright, since a machine's own npm settings may name another file.
    trust = f"cafile={stage.env['NODE_EXTRA_CA_CERTS']}\n"
    stage.at_home(".npmrc", f"registry={url}/\n{trust}{retry}{settings}")


def manifest(stage: Stage, dependencies: Mapping[str, str] | None = None, **more: object) -> None:
    """The project's package.json."""
    content = {"name": "@brackwater/fares", "version": "1.4.0", "license": "UNLICENSED", "description": "Fares",
               "repository": "https://git.brackwater.example/fares.git", "dependencies": dict(dependencies or {}), **more}  # fmt: skip
    stage.write("package.json", json.dumps(content, indent=2) + "\n")


def _answer(shelf: Mapping[str, Package], request: Request, url: str) -> Answer:
    path = urllib.parse.unquote(request.path.split("?")[0]).strip("/")
    if request.method in {"PUT", "POST"}:
        return Answer(status=201, body='{"ok": true}', kind=_JSON)
    name, _, tail = path.partition("/-/")
    package = shelf.get(name)
    if package is None:
        return Answer(status=404, body='{"error": "Not found"}', kind=_JSON)
    if tail:
        version = tail.removesuffix(".tgz").rsplit("-", 1)[-1]
        return Answer(body=_tarball(name, version, package), kind="application/octet-stream")
    return Answer(body=json.dumps(_document(name, package, url)), kind=_JSON)


def _document(name: str, package: Package, url: str) -> dict[str, object]:
    versions = {version: _listed(name, version, package, url) for version in package.versions}
    return {"name": name, "dist-tags": {"latest": package.versions[-1]}, "versions": versions,
            "time": dict.fromkeys(package.versions, "2026-02-03T04:05:06.000Z")}  # fmt: skip


def _listed(name: str, version: str, package: Package, url: str) -> dict[str, object]:
    body = _tarball(name, version, package)
    integrity = package.integrity or "sha512-" + base64.b64encode(hashlib.sha512(body).digest()).decode()
    shasum = hashlib.sha1(b"wrong" if package.integrity else body).hexdigest()
    dist = {
        "tarball": f"{url}/{name}/-/{name.rsplit('/', maxsplit=1)[-1]}-{version}.tgz",
        "integrity": integrity,
        "shasum": shasum,
    }
    return {"name": name, "version": version, **package.extra, "dist": dist}


def _tarball(name: str, version: str, package: Package) -> bytes:
    files = {"package.json": json.dumps({"name": name, "version": version, "main": "index.js", **package.extra}),
             "index.js": "module.exports = {};\n", **package.files}  # fmt: skip
    raw = io.BytesIO()
    with tarfile.open(fileobj=raw, mode="w:gz", compresslevel=1) as archive:
        for path, text in files.items():
            entry = tarfile.TarInfo(f"package/{path}")
            entry.size, entry.mode = len(text.encode()), 0o644
            archive.addfile(entry, io.BytesIO(text.encode()))
    # The gzip header holds the time of writing, which would change the digest from request to request.
    body = bytearray(raw.getvalue())
    body[4:8] = b"\0\0\0\0"
    return bytes(body)
