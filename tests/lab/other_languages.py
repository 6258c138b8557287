"""Composer, Bundler and Subversion runs that fail."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping

from tests.lab.other_support import Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]


def _composer(
    script: str,
    requires: Mapping[str, str],
    *,
    text: str | None = None,
    lock: bool = False,
    status: int = 200,
    down: bool = False,
) -> Prepare:
    """A project whose only repository is the lab's, with one package."""

    def prepare(stage: Stage) -> str:
        stage.chest.system("composer")
        package = {
            "brackwater/tides": {"1.0.0": {"name": "brackwater/tides", "version": "1.0.0", "type": "metapackage"}}
        }
        body = json.dumps({"packages": package})
        rule = Rule(path="packages.json", answer=Answer(status=status, body=body, kind="application/json"))
        url = stage.closed("php.brackwater.example") if down else stage.serve("php.brackwater.example", [rule])
        stage.env |= {"COMPOSER_ALLOW_SUPERUSER": "1", "COMPOSER_NO_INTERACTION": "1", "COLUMNS": "200"}
        content = {"name": "brackwater/fares", "require": {}, "repositories": [{"type": "composer", "url": url}, {"packagist": False}],
                   "config": {"cafile": stage.env["SSL_CERT_FILE"]}}  # fmt: skip
        if lock:
            stage.write("composer.json", json.dumps(content))
            stage.quiet("composer update --quiet")
        stage.write(
            "composer.json", json.dumps({**content, "require": dict(requires)}, indent=2) if text is None else text
        )
        return f"composer --version\n{script}\n"

    return prepare


def _nothing(tool: str, script: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system(tool)
        stage.env |= {"COMPOSER_ALLOW_SUPERUSER": "1"}
        return script + "\n"

    return prepare


def _bundle(script: str, gemfile: str, lock: str = "", *, down: bool = False) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system("bundle")
        url = stage.closed("gems.brackwater.example") if down else "https://gems.brackwater.example"
        stage.env |= {
            "BUNDLE_RETRY": "1",
            "BUNDLE_PATH": "vendor/bundle",
            "BUNDLE_SILENCE_ROOT_WARNING": "1",
            "BUNDLE_USER_HOME": str(stage.world.home),
        }
        stage.write("Gemfile", gemfile.replace("SOURCE", url))
        if lock:
            stage.write("Gemfile.lock", lock.replace("SOURCE", url))
        return f"ruby --version\n{script}\n"

    return prepare


def _svn(script: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system("svn")
        top = stage.world.base / "srv" / "svn"
        stage.quiet(
            f"mkdir -p {top} && svnadmin create {top}/fares && svn -q --non-interactive mkdir -m start file://{top}/fares/trunk"
        )
        port = stage.closed("svn.brackwater.example").rsplit(":", 1)[1]
        return script.replace("TOP", f"file://{top}").replace("PORT", port) + "\n"

    return prepare


def _row(  # noqa: PLR0917 - the columns of a table
    tool: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain", *version: str
) -> Scenario:
    return Scenario(
        tool=tool, slug=slug, prepare=prepare, failure=failure, line=line, frame=frame, version=version or None
    )


_TIDES = {"brackwater/tides": "^1.0"}
_GEMS = "source 'SOURCE'\n\ngem 'tides', '~> 1.0'\n"
_LOCK = "GEM\n  remote: SOURCE/\n  specs:\n    quays (1.0.0)\n\nPLATFORMS\n  ruby\n\nDEPENDENCIES\n  quays\n\nBUNDLED WITH\n   2.3.15\n"
_INSTALL = "composer install --no-progress"

SCENARIOS = (
    _row("composer", "not-found", _composer("composer update --no-progress", {"brackwater/berths": "^2.0"}), "resolve-artifact-not-found", "could not be found", "iso"),
    _row("composer", "version-not-found", _composer("composer update --no-progress", {"brackwater/tides": "^9.0"}), "resolve-version-not-found", "does not match the constraint|found brackwater/tides"),
    _row("composer", "php-version", _composer("composer update --no-progress", {"php": ">=9.1", **_TIDES}), "setup-runtime-version-unsupported", "requires php >=9.1", "clock"),
    _row("composer", "lock-out-of-date", _composer(_INSTALL, _TIDES, lock=True), "resolve-lockfile-out-of-date", "lock file is not up to date|is not present in the lock file", "job"),
    _row("composer", "no-manifest", _nothing("composer", "composer --version\ncomposer install"), "setup-build-file-missing", "could not find a composer.json"),
    _row("composer", "manifest-invalid", _composer(_INSTALL, {}, text='{"name": "brackwater/fares",\n "require": {\n}\n'), "setup-build-file-invalid", "does not contain valid JSON|Parse error", "iso"),
    _row("composer", "repository-down", _composer("composer update --no-progress", _TIDES, down=True), "resolve-connection-refused", "curl error 7|Connection refused"),
    _row("composer", "unauthorized", _composer("composer update --no-progress", _TIDES, status=401), "resolve-unauthorized", "401|[Aa]uthentication required", "clock"),
    _row("composer", "forbidden", _composer("composer update --no-progress", _TIDES, status=403), "resolve-forbidden", "403"),
    _row("bundle", "no-gemfile", _nothing("bundle", "ruby --version\nbundle install"), "setup-build-file-missing", "Could not locate Gemfile", "iso"),
    _row("bundle", "ruby-version", _bundle("bundle install", "ruby '9.9.0'\n" + _GEMS), "setup-runtime-version-unsupported", "Your Ruby version is"),
    _row("bundle", "lock-out-of-date", _bundle("bundle config set --local frozen true\nbundle install", _GEMS, _LOCK), "resolve-lockfile-out-of-date", "frozen|deployment mode", "clock"),
    _row("bundle", "source-down", _bundle("bundle install", _GEMS, down=True), "resolve-connection-refused", "Could not fetch specs|Connection refused|refused", "job"),
    _row("bundle", "local-only", _bundle("bundle install --local", _GEMS), "resolve-offline-miss", "Could not find gem"),
    _row("bundle", "gemfile-invalid", _bundle("bundle install", "source 'SOURCE'\ngem 'tides',, '1'\n"), "setup-build-file-invalid", "There was an error parsing .Gemfile"),
    _row("svn", "repository-not-found", _svn("svn checkout --non-interactive TOP/timetable/trunk src"), "checkout-repository-not-found", "E180001|E170013", "iso"),
    _row("svn", "path-not-found", _svn("svn checkout --non-interactive TOP/fares/branches/1.6 src"), "checkout-ref-not-found", "E170000|doesn't exist"),
    _row("svn", "connection-refused", _svn("svn checkout --non-interactive svn://localhost:PORT/fares/trunk src"), "checkout-host-unreachable", "E170013|E000111", "clock"),
    _row("svn", "host-unknown", _svn("svn update . || svn info svn://svn-old.brackwater.example/fares"), "checkout-host-unreachable", "E670002|E170013"),
    _row("svn", "locked", _svn("svn checkout -q TOP/fares/trunk src\nsqlite3 src/.svn/wc.db \"insert into wc_lock values (1, '', -1)\"\nsvn update --non-interactive src"), "checkout-lock-left-behind", "E155004", "job"),
)  # fmt: skip
