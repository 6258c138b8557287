"""Runs of the classic yarn, of its later generations, and of pnpm."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tests.lab.npm_registry import HOST, manifest, serve_npm
from tests.lab.other_support import Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

_GOOD = {"@brackwater/tariff-core": "^1.2.0", "tide-tables": "^4.0.0"}
_JSON = "application/json"
_BODY = {401: '{"error": "unauthorized: no valid token"}', 403: '{"error": "no read right on this scope"}'}
Prepare = Callable[[Stage], str]


def _ready(stage: Stage, package: str, url: str, settings: str = "") -> None:
    """Put one package manager on PATH, with the registry in the settings file that it reads."""
    stage.use(stage.chest.system("node").parent)
    stage.use(stage.chest.npm(package))
    trust = stage.env["NODE_EXTRA_CA_CERTS"]
    if package.startswith("@yarnpkg"):
        key = "caFilePath" if package.endswith("@3") else "httpsCaFilePath"
        # In CI these generations refuse to write a lock file unless told otherwise.
        settings += "" if "immutable" in settings else "enableImmutableInstalls: false\n"
        stage.write(
            ".yarnrc.yml",
            f'npmRegistryServer: "{url}"\nenableTelemetry: false\nhttpRetry: 0\n{key}: "{trust}"\nnodeLinker: node-modules\n{settings}',
        )
        return
    fast = "fetch-retries=1\nfetch-retry-mintimeout=50\nfetch-retry-maxtimeout=100\nupdate-notifier=false\n"
    stage.at_home(".npmrc", f"registry={url}/\ncafile={trust}\n{fast}{settings}")
    if package.startswith("yarn@"):
        stage.at_home(".yarnrc", f'registry "{url}/"\ncafile "{trust}"\nnetwork-timeout 3000\n')


def _with(
    package: str, command: str, dependencies: Mapping[str, str] = _GOOD, *rules: Rule, tls: str = "good", lock: bool = False,
    settings: str = "", **more: object,
) -> Prepare:  # fmt: skip
    """A project with these dependencies; `lock`: a lock file from before the last dependency came."""

    def prepare(stage: Stage) -> str:
        _ready(stage, package, serve_npm(stage, rules, tls=tls), settings)
        name = "yarn" if "yarn" in package else "pnpm"
        if lock:
            manifest(stage, dict(list(dependencies.items())[:-1]), **more)
            stage.env["CI"] = "false"
            stage.quiet(f"{name} install >&2; rm -rf node_modules .yarn")
            stage.env["CI"] = "true"
        manifest(stage, dependencies, **more)
        return f"{name} --version\n{command}\n"

    return prepare


def _down(package: str, command: str, unknown: bool = False) -> Prepare:
    def prepare(stage: Stage) -> str:
        _ready(stage, package, f"https://packages.{HOST}" if unknown else stage.closed(HOST))
        manifest(stage, _GOOD)
        return command + "\n"

    return prepare


def _status(status: int, path: str = "tariff-core") -> Rule:
    return Rule(path=path, answer=Answer(status=status, body=_BODY[status], kind=_JSON))


def _row(tool: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:  # noqa: PLR0917 - the columns of a table
    return Scenario(tool=tool, slug=slug, prepare=prepare, failure=failure, line=line, frame=frame)


_NONE = {"@brackwater/berths": "^1.0.0", **_GOOD}
_NEW = {**_GOOD, "@brackwater/old-tides": "^0.9.1"}
_FAR = {"tide-tables": "^9.0.0"}
_ENGINE = {"quay-clock": "5.0.0"}
_BROKEN = {"ferry-log": "2.2.2"}
_PEER = {"@brackwater/berth-map": "^3.1.0", "@brackwater/tariff-core": "^2.0.0"}
_Y3, _Y4 = "@yarnpkg/cli-dist@3", "@yarnpkg/cli-dist@4"

SCENARIOS = (
    _row("yarn", "package-not-found", _with("yarn@1", "yarn install", _NONE), "resolve-artifact-not-found", "error .*(Not found|404)"),
    _row("yarn", "version-not-found", _with("yarn@1", "yarn install --non-interactive", _FAR), "resolve-version-not-found", "error? ?Couldn't find any versions", "iso"),
    _row("yarn", "lock-out-of-date", _with("yarn@1", "yarn install --frozen-lockfile", _NEW, lock=True), "resolve-lockfile-out-of-date", "error Your lockfile needs to be updated", "clock"),
    _row("yarn", "script-missing", _with("yarn@1", "yarn install --silent\nyarn bundle"), "setup-goal-unknown", 'error Command "bundle" not found'),
    _row("yarn", "engine", _with("yarn@1", "yarn install", _ENGINE), "setup-node-version-unsupported", "error quay-clock.*engine .node. is incompatible", "iso"),
    _row("yarn", "integrity", _with("yarn@1", "yarn install", _BROKEN), "resolve-checksum-mismatch", "error .*[Ii]ntegrity"),
    _row("yarn", "unauthorized", _with("yarn@1", "yarn install", _GOOD, _status(401)), "resolve-unauthorized", "error .*unauthorized", "job"),
    _row("yarn", "certificate-untrusted", _with("yarn@1", "yarn install", tls="stranger"), "resolve-tls-untrusted", "error .*(certificate|unable to verify)"),
    _row("yarn", "test-failed", _with("yarn@1", "yarn install --silent\nyarn test", scripts={"test": "node -e \"require('assert').strictEqual(12.5, 14)\""}), "test-failed", r"AssertionError \[", "clock"),
    _row("yarn", "berry3-lock-out-of-date", _with(_Y3, "yarn install --immutable", _NEW, lock=True), "resolve-lockfile-out-of-date", "YN0028.*lockfile would have been modified", "iso"),
    _row("yarn", "berry3-package-not-found", _with(_Y3, "yarn install", _NONE), "resolve-artifact-not-found", "YN0035.*(not found|404)"),
    _row("yarn", "berry4-lock-out-of-date", _with(_Y4, "yarn install --immutable", _NEW, lock=True), "resolve-lockfile-out-of-date", "YN0028.*lockfile would have been modified"),
    _row("yarn", "berry4-lock-missing", _with(_Y4, "yarn install", settings="# immutable by default in CI\n"), "resolve-lockfile-out-of-date", "YN0028.*lockfile would have been created", "clock"),
    _row("yarn", "berry4-package-not-found", _with(_Y4, "yarn install", _NONE), "resolve-artifact-not-found", "YN0035.*(not found|404)", "clock"),
    _row("yarn", "berry4-version-not-found", _with(_Y4, "yarn install", _FAR), "resolve-version-not-found", "YN0082|No candidates found"),
    _row("yarn", "berry4-unauthorized", _with(_Y4, "yarn install", _GOOD, _status(401)), "resolve-unauthorized", "YN0041|401", "iso"),
    _row("yarn", "berry4-host-unknown", _down(_Y4, "yarn install", unknown=True), "resolve-host-unknown", "ENOTFOUND|EAI_AGAIN"),
    _row("yarn", "berry4-script-missing", _with(_Y4, "yarn install\nyarn bundle"), "setup-goal-unknown", "Couldn't find a script named", "job"),
    _row("yarn", "berry3-refused", _down(_Y3, "yarn install"), "resolve-connection-refused", "ECONNREFUSED"),
    _row("pnpm", "lock-out-of-date", _with("pnpm@9", "pnpm install --frozen-lockfile", _NEW, lock=True), "resolve-lockfile-out-of-date", "ERR_PNPM_OUTDATED_LOCKFILE"),
    _row("pnpm", "lock-missing", _with("pnpm@8", "pnpm install --frozen-lockfile"), "resolve-lockfile-out-of-date", "ERR_PNPM_NO_LOCKFILE", "iso"),
    _row("pnpm", "package-not-found", _with("pnpm@8", "pnpm install --no-frozen-lockfile", _NONE), "resolve-artifact-not-found", "ERR_PNPM_FETCH_404"),
    _row("pnpm", "package-not-found", _with("pnpm@10", "pnpm install --no-frozen-lockfile", _NONE), "resolve-artifact-not-found", "ERR_PNPM_FETCH_404", "clock"),
    _row("pnpm", "version-not-found", _with("pnpm@9", "pnpm install --no-frozen-lockfile", _FAR), "resolve-version-not-found", "ERR_PNPM_NO_MATCHING_VERSION"),
    _row("pnpm", "unauthorized", _with("pnpm@10", "pnpm install --no-frozen-lockfile", _GOOD, _status(401)), "resolve-unauthorized", "ERR_PNPM_FETCH_401", "iso"),
    _row("pnpm", "forbidden", _with("pnpm@8", "pnpm install --no-frozen-lockfile", _GOOD, _status(403)), "resolve-forbidden", "ERR_PNPM_FETCH_403"),
    _row("pnpm", "refused", _down("pnpm@9", "pnpm install --no-frozen-lockfile"), "resolve-connection-refused", "ECONNREFUSED", "job"),
    _row("pnpm", "integrity", _with("pnpm@10", "pnpm install --no-frozen-lockfile", _BROKEN), "resolve-checksum-mismatch", "ERR_PNPM_TARBALL_INTEGRITY.*Got unexpected"),
    _row("pnpm", "script-missing", _with("pnpm@9", "pnpm install --no-frozen-lockfile --silent\npnpm run bundle"), "setup-goal-unknown", "ERR_PNPM_NO_SCRIPT", "clock"),
    _row("pnpm", "engine", _with("pnpm@10", "pnpm install --no-frozen-lockfile", _GOOD, engines={"node": ">=24"}, settings="engine-strict=true\n"), "setup-node-version-unsupported", "ERR_PNPM_UNSUPPORTED_ENGINE"),
    _row("pnpm", "peer-conflict", _with("pnpm@8", "pnpm install --no-frozen-lockfile", _PEER, settings="strict-peer-dependencies=true\nauto-install-peers=false\n"), "resolve-version-conflict", "ERR_PNPM_PEER_DEP_ISSUES", "iso"),
)  # fmt: skip
