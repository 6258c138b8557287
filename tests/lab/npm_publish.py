"""npm runs that fail while a package goes out."""

from __future__ import annotations

from collections.abc import Callable

from tests.lab.npm_registry import HOST, Package, manifest, serve_npm, use_npm
from tests.lab.other_support import Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

_JSON = "application/json"
Prepare = Callable[[Stage], str]


def _publish(
    npm: str, status: int, body: str, *, token: bool = True, headers: tuple[tuple[str, str], ...] = ()
) -> Prepare:
    """A package whose upload the registry answers with this status; other requests work."""
    answer = Answer(status=status, body=body, kind=_JSON, headers=headers)
    return _send(npm, [Rule(path="fares", method="PUT", answer=answer)], token=token)


def _send(
    npm: str, rules: list[Rule], *, token: bool = True, version: str = "1.4.0", name: str = "@brackwater/fares"
) -> Prepare:
    def prepare(stage: Stage) -> str:
        url = serve_npm(stage, rules, packages={"@brackwater/fares": Package(versions=("1.3.0",))})
        use_npm(stage, npm, url, settings=f"//{url.split('//')[1]}/:_authToken=${{NPM_TOKEN}}\n" if token else "")
        if token:
            stage.env["NPM_TOKEN"] = "made-up-for-the-lab"
        manifest(
            stage,
            {"tide-tables": "^4.0.0"},
            name=name,
            version=version,
            scripts={"build": "echo built fares", "prepublishOnly": "npm run build"},
        )
        stage.write("index.js", "module.exports = {};\n")
        return "npm install --no-progress\nnpm run build\nnpm publish\n"

    return prepare


def _published_before(npm: str) -> Prepare:
    """The registry's own list holds the version, so that the client itself may refuse."""
    said = '{"error": "You cannot publish over the previously published versions: 4.1.0."}'
    answer = Answer(status=403, body=said, kind=_JSON)
    return _send(npm, [Rule(path="tide-tables", method="PUT", answer=answer)], version="4.1.0", name="tide-tables")


def _down(npm: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        use_npm(stage, npm, stage.closed(HOST))
        manifest(stage)
        port = next(iter(stage.ports))
        stage.at_home(
            ".npmrc",
            f"registry=https://localhost:{port}/\n//localhost:{port}/:_authToken=made-up\nfetch-retries=0\nupdate-notifier=false\n",
        )
        return "npm pack --silent\nnpm publish\n"

    return prepare


_OTP = '{"error": "This operation requires a one-time password from your authenticator."}'
_ERR = r"npm (ERR!|error) "


def _row(npm: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:  # noqa: PLR0917 - the columns of a table
    return Scenario(tool="npm", slug=f"publish-{slug}", prepare=prepare, failure=failure, line=line, frame=frame)


SCENARIOS = (
    _row("8", "not-found", _publish("8", 404, '{"error": "Not found"}'), "deploy-repository-not-found", _ERR + "404 Not Found - PUT", "iso"),
    _row("11", "not-found", _publish("11", 404, '{"error": "Not found"}'), "deploy-repository-not-found", _ERR + "404 Not Found - PUT"),
    _row("6", "over-existing", _published_before("6"), "deploy-redeploy-refused", _ERR + ".*cannot publish over the previously", "clock"),
    _row("10", "over-existing", _published_before("10"), "deploy-redeploy-refused", _ERR + ".*cannot publish over"),
    _row("11", "over-existing", _published_before("11"), "deploy-redeploy-refused", _ERR + ".*cannot publish over", "iso"),
    _row("8", "conflict", _publish("8", 409, '{"error": "this package is already present"}'), "deploy-redeploy-refused", _ERR + "(code E409|409)"),
    _row("6", "unauthorized", _publish("6", 401, '{"error": "bad token"}'), "deploy-unauthorized", _ERR + ".*(401|authenticat)", "job"),
    _row("11", "unauthorized", _publish("11", 401, '{"error": "bad token"}'), "deploy-unauthorized", _ERR + ".*(401|authenticat)"),
    _row("10", "forbidden", _publish("10", 403, '{"error": "no write right on this scope"}'), "deploy-forbidden", _ERR + "403 403 Forbidden", "clock"),
    _row("8", "needs-login", _publish("8", 200, "{}", token=False), "deploy-login-required", _ERR + ".*(ENEEDAUTH|need auth)"),
    _row("11", "needs-login", _publish("11", 200, "{}", token=False), "deploy-login-required", _ERR + ".*(ENEEDAUTH|need auth)", "iso"),
    _row("10", "one-time-password", _publish("10", 401, _OTP, headers=(("WWW-Authenticate", "OTP"),)), "deploy-second-factor-required", _ERR + ".*(EOTP|one-time password)"),
    _row("8", "too-large", _publish("8", 413, "{}"), "deploy-too-large", _ERR + "(code E413|413)"),
    _row("10", "server-error", _publish("10", 500, '{"error": "storage full"}'), "deploy-server-error", _ERR + "(code E500|500)", "iso"),
    _row("10", "refused", _down("10"), "deploy-host-unreachable", _ERR + ".*reason.*ECONNREFUSED"),
    _row("10", "bad-request", _publish("10", 400, '{"error": "invalid package name"}'), "deploy-rejected-as-invalid", _ERR + "(code E400|400)", "job"),
)  # fmt: skip
