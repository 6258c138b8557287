"""npm runs of four generations that fail while packages come in, or before."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from tests.lab.npm_registry import Package, manifest, serve_npm, use_npm
from tests.lab.other_support import MissingToolError, Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

_GOOD = {"@brackwater/tariff-core": "^1.2.0", "tide-tables": "^4.0.0"}
_JSON = "application/json"
_HEAD = "node --version\nnpm --version\n"
Prepare = Callable[[Stage], str]


def _install(
    npm: str, dependencies: Mapping[str, str], *rules: Rule, command: str = "npm install --no-progress", tls: str = "good",
    settings: str = "", packages: Mapping[str, Package] | None = None, **more: object,
) -> Prepare:  # fmt: skip
    """A project with these dependencies, installed from a registry with these rules."""

    def prepare(stage: Stage) -> str:
        use_npm(stage, npm, serve_npm(stage, rules, packages=packages, tls=tls), settings=settings)
        manifest(stage, dependencies, **more)
        return f"{_HEAD}{command}\nnpm run build\n"

    return prepare


def _stale_lock(npm: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        use_npm(stage, npm, serve_npm(stage))
        manifest(stage, {"tide-tables": "^4.0.0"})
        stage.quiet("npm install --package-lock-only --silent")
        manifest(stage, {**_GOOD, "tide-tables": "4.0.0"})
        return _HEAD + "npm ci\nnpm test\n"

    return prepare


def _no_lock(npm: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        use_npm(stage, npm, serve_npm(stage))
        manifest(stage, _GOOD)
        return _HEAD + "npm ci --no-audit\n"

    return prepare


def _at(npm: str, where: Callable[[Stage], str], *, command: str = "npm install --no-progress") -> Prepare:
    """A project whose registry is at an address that does not answer."""

    def prepare(stage: Stage) -> str:
        use_npm(stage, npm, where(stage))
        manifest(stage, _GOOD)
        return f"{_HEAD}{command}\n"

    return prepare


def _unknown_host(stage: Stage) -> str:
    return "https://packages.brackwater.example/npm"


def _closed(stage: Stage) -> str:
    return stage.closed("registry.brackwater.example")


def _scripted(npm: str, script: str, **more: object) -> Prepare:
    """A project whose install works and whose next command fails."""

    def prepare(stage: Stage) -> str:
        use_npm(stage, npm, serve_npm(stage))
        manifest(stage, _GOOD, **more)
        return f"{_HEAD}npm install --no-progress\n{script}"

    return prepare


def _with_file(inner: Prepare, name: str, text: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        script = inner(stage)
        stage.write(name, text)
        return script

    return prepare


def _no_manifest(npm: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        use_npm(stage, npm, serve_npm(stage))
        return _HEAD + "npm install\nnpm run build\n"

    return prepare


def _proxy(npm: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        refuse = Rule(path=".", method="CONNECT", answer=Answer(status=407, reason="Proxy Authentication Required"))
        proxy = stage.serve("proxy.brackwater.example", [refuse], tls="none")
        use_npm(
            stage, npm, "https://packages.brackwater.example/npm", settings=f"https-proxy={proxy}\nfetch-retries=0\n"
        )
        manifest(stage, _GOOD)
        return _HEAD + "npm install --no-progress\n"

    return prepare


def _native(npm: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        package = Package(
            extra={"scripts": {"install": "node-gyp rebuild"}, "gypfile": True},
            files={
                "binding.gyp": "{'targets': [{'target_name': 'gauge', 'sources': ['gauge.c']}]}",
                "gauge.c": "int gauge;\n",
            },
        )
        use_npm(stage, npm, serve_npm(stage, packages={"tide-gauge": package}))
        manifest(stage, {"tide-gauge": "1.0.0"})
        stage.quiet(
            "mkdir -p ../bin; for c in sh bash node env uname python3; do ln -s $(command -v $c) ../bin/$c; done"
        )
        if not Path("/usr/include/node/node.h").exists():
            raise MissingToolError("the headers of Node.js are not below /usr")
        stage.env |= {
            "PATH": f"{stage.chest.npm(f'npm@{npm}')}:{stage.project.parent / 'bin'}",
            "npm_config_nodedir": "/usr",
        }
        return _HEAD + "npm install --no-progress\n"

    return prepare


def _status(status: int, body: str, path: str = "tariff-core", reason: str | None = None) -> Rule:
    return Rule(path=path, answer=Answer(status=status, body=body, kind=_JSON, reason=reason))


def _row(npm: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:  # noqa: PLR0917 - the columns of a table
    return Scenario(tool="npm", slug=slug, prepare=prepare, failure=failure, line=line, frame=frame)


_ERR = r"npm (ERR!|error) "
_MISSING = {"@brackwater/berths": "^1.0.0", **_GOOD}
_CONFLICT = {"@brackwater/berth-map": "^3.1.0", "@brackwater/tariff-core": "^2.0.0"}
_PAGE = Answer(body="<!DOCTYPE html>\n<html><head><title>Sign in</title></head></html>", kind="text/html")
_CLOCK = {"quay-clock": "^5.0.0"}
_TESTS = "const test = require('node:test');\nconst assert = require('node:assert');\ntest('winter fare', () => { assert.strictEqual(12.5, 14); });\n"

SCENARIOS = (
    _row("6", "package-not-found", _install("6", _MISSING), "resolve-artifact-not-found", _ERR + "404 Not Found"),
    _row("8", "package-not-found", _install("8", _MISSING), "resolve-artifact-not-found", _ERR + "404 Not Found", "iso"),
    _row("11", "package-not-found", _install("11", _MISSING), "resolve-artifact-not-found", _ERR + "404 Not Found", "clock"),
    _row("6", "version-not-found", _install("6", {"tide-tables": "^9.0.0"}), "resolve-version-not-found", _ERR + "notarget No matching version", "iso"),
    _row("10", "version-not-found", _install("10", {"tide-tables": "^9.0.0"}), "resolve-version-not-found", _ERR + "notarget No matching version"),
    _row("6", "unauthorized", _install("6", _GOOD, _status(401, '{"error": "unauthorized"}')), "resolve-unauthorized", _ERR + ".*(401|authenticate|authentication)", "clock"),
    _row("10", "unauthorized", _install("10", _GOOD, _status(401, '{"error": "unauthorized"}')), "resolve-unauthorized", _ERR + ".*(401|authenticate)"),
    _row("8", "forbidden", _install("8", _GOOD, _status(403, '{"error": "no read right"}')), "resolve-forbidden", _ERR + "403 403 Forbidden", "job"),
    _row("11", "forbidden", _install("11", _GOOD, _status(403, '{"error": "blocked by policy"}')), "resolve-forbidden", _ERR + "403 403 Forbidden"),
    _row("10", "rate-limited", _install("10", _GOOD, _status(429, "{}")), "resolve-rate-limited", _ERR + ".*429", "iso"),
    _row("8", "server-error", _install("8", _GOOD, _status(502, "{}")), "resolve-server-error", _ERR + ".*502"),
    _row("6", "lock-out-of-date", _stale_lock("6"), "resolve-lockfile-out-of-date", _ERR + ".*(in sync|out of sync)"),
    _row("8", "lock-out-of-date", _stale_lock("8"), "resolve-lockfile-out-of-date", _ERR + ".*can only install packages when", "clock"),
    _row("11", "lock-out-of-date", _stale_lock("11"), "resolve-lockfile-out-of-date", _ERR + ".*can only install packages when", "iso"),
    _row("6", "lock-missing", _no_lock("6"), "resolve-lockfile-out-of-date", _ERR + ".*can only install packages with an existing"),
    _row("10", "lock-missing", _no_lock("10"), "resolve-lockfile-out-of-date", _ERR + ".*can only install with an existing"),
    _row("8", "peer-conflict", _install("8", _CONFLICT), "resolve-version-conflict", _ERR + "ERESOLVE unable to resolve", "iso"),
    _row("11", "peer-conflict", _install("11", _CONFLICT), "resolve-version-conflict", _ERR + "ERESOLVE unable to resolve"),
    _row("6", "host-unknown", _at("6", _unknown_host), "resolve-host-unknown", _ERR + ".*(ENOTFOUND|EAI_AGAIN).*packages.brackwater"),
    _row("10", "host-unknown", _at("10", _unknown_host), "resolve-host-unknown", _ERR + ".*(getaddrinfo|request to)", "clock"),
    _row("8", "connection-refused", _at("8", _closed), "resolve-connection-refused", _ERR + ".*reason.*ECONNREFUSED", "job"),
    _row("11", "connection-refused", _at("11", _closed), "resolve-connection-refused", _ERR + ".*reason.*ECONNREFUSED"),
    _row("10", "connection-reset", _install("10", _GOOD, Rule(path="tariff-core", answer=Answer(drop="reset"))), "resolve-connection-reset", _ERR + ".*(ECONNRESET|socket hang up|network)", "iso"),
    _row("6", "certificate-untrusted", _install("6", _GOOD, tls="stranger"), "resolve-tls-untrusted", _ERR + ".*(certificate|UNABLE_TO)"),
    _row("10", "certificate-untrusted", _install("10", _GOOD, tls="stranger"), "resolve-tls-untrusted", _ERR + ".*(certificate|UNABLE_TO)", "iso"),
    _row("11", "certificate-expired", _install("11", _GOOD, tls="expired"), "resolve-tls-expired", _ERR + ".*(certificate has expired|CERT_HAS_EXPIRED)"),
    _row("8", "certificate-name", _install("8", _GOOD, tls="name"), "resolve-tls-name-mismatch", _ERR + ".*(altnames|ALTNAME)"),
    _row("10", "proxy-407", _proxy("10"), "resolve-proxy-auth-required", _ERR + ".*(407|[Pp]roxy)", "clock"),
    _row("6", "integrity", _install("6", {"ferry-log": "2.2.2"}), "resolve-checksum-mismatch", _ERR + ".*(EINTEGRITY|integrity checksum failed)", "iso"),
    _row("10", "integrity", _install("10", {"ferry-log": "2.2.2"}), "resolve-checksum-mismatch", _ERR + ".*(EINTEGRITY|integrity checksum failed)"),
    _row("10", "not-cached", _install("10", _GOOD, command="npm install --offline"), "resolve-offline-miss", _ERR + ".*(ENOTCACHED|no cached response)"),
    _row("11", "web-page", _install("11", _GOOD, Rule(path=".", answer=_PAGE)), "resolve-not-a-repository-answer", _ERR + ".*(invalid json|Unexpected token)", "job"),
    _row("6", "script-missing", _scripted("6", "npm run bundle\n"), "setup-goal-unknown", _ERR + "missing script"),
    _row("8", "script-missing", _scripted("8", "npm run bundle\n"), "setup-goal-unknown", _ERR + "Missing script", "clock"),
    _row("11", "script-missing", _scripted("11", "npm run bundle\n"), "setup-goal-unknown", _ERR + "Missing script", "iso"),
    _row("6", "manifest-not-json", _with_file(_install("6", _GOOD), "package.json", '{"name": "fares",\n "version": "1.0.0"\n "license": "MIT"}\n'), "setup-build-file-invalid", _ERR + ".*(Failed to parse|JSON)"),
    _row("10", "manifest-conflict-marks", _with_file(_install("10", _GOOD), "package.json", '{\n<<<<<<< HEAD\n  "name": "fares"\n=======\n  "name": "fare"\n>>>>>>> main\n}\n'), "setup-build-file-invalid", _ERR + ".*(EJSONPARSE|Merge conflict|JSON)", "iso"),
    _row("6", "manifest-missing", _no_manifest("6"), "setup-build-file-missing", _ERR + ".*(ENOENT|enoent).*package.json", "job"),
    _row("10", "manifest-missing", _with_file(_no_manifest("10"), "README", "fares\n"), "setup-build-file-missing", _ERR + ".*(ENOENT|enoent|Could not read).*package.json", "clock"),
    _row("8", "engine-strict", _install("8", _GOOD, settings="engine-strict=true\n", devDependencies=_CLOCK), "setup-node-version-unsupported", _ERR + ".*(EBADENGINE|Unsupported engine)"),
    _row("11", "engine-strict", _install("11", _GOOD, settings="engine-strict=true\n", devDependencies=_CLOCK), "setup-node-version-unsupported", _ERR + ".*(EBADENGINE|Unsupported engine)", "iso"),
    _row("6", "engine-strict", _install("6", _GOOD, settings="engine-strict=true\n", devDependencies=_CLOCK), "setup-node-version-unsupported", _ERR + ".*(ENOTSUP|Unsupported engine)"),
    _row("10", "module-missing", _with_file(_scripted("10", "npm start\n", scripts={"start": "node server.js"}), "server.js", "const express = require('express');\nexpress().listen(0);\n"), "setup-node-module-missing", "Error: Cannot find module 'express'"),
    _row("8", "test-failed", _with_file(_scripted("8", "npm test\n", scripts={"test": "node --test"}), "fares.test.js", _TESTS), "test-failed", "not ok 1 - winter fare|✖ winter fare", "iso"),
    _row("11", "command-missing", _scripted("11", "npm run lint\n", scripts={"lint": "eslint ."}), "setup-node-module-missing", "eslint: (command )?not found"),
    _row("10", "native-build-tools", _native("10"), "setup-native-compiler-missing", "gyp ERR! .*not found: make", "clock"),
)  # fmt: skip
