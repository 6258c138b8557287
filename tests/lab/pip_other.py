"""Runs of poetry, uv and twine that fail."""

from __future__ import annotations

from collections.abc import Callable

from tests.lab.other_support import Scenario, Stage
from tests.lab.pip_index import HOST, serve_index, write_wheel
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]
_POETRY, _UV, _TWINE = "poetry==2.2.1", "uv==0.9.9", "twine==6.2.0"
_OLD_TWINE = "twine==3.8.0"


def _tool(stage: Stage, requirement: str, *more: str) -> None:
    stage.use(stage.chest.venv("3.11", requirement, *more) / "bin")
    stage.env |= {
        "POETRY_NO_INTERACTION": "1",
        "UV_PYTHON_DOWNLOADS": "never",
        "UV_HTTP_RETRIES": "1",
        "TWINE_NON_INTERACTIVE": "1",
    }
    stage.env |= {"PYTHON_KEYRING_BACKEND": "keyring.backends.null.Keyring", "POETRY_REQUESTS_TIMEOUT": "3"}


def _poetry(
    script: str,
    *rules: Rule,
    needs: str = "tide-tables = '^4.0'\n",
    python: str = ">=3.11",
    lock: bool = False,
    down: bool = False,
) -> Prepare:
    """A project whose only source is the lab's index; `lock`: it was locked before the last requirement came."""

    def prepare(stage: Stage) -> str:
        _tool(stage, _POETRY)
        url = stage.closed(HOST) + "/simple" if down else serve_index(stage, rules)
        head = (
            "[tool.poetry]\nname = 'fares'\nversion = '1.4.0'\ndescription = ''\nauthors = []\npackage-mode = false\n"
        )
        source = f"[[tool.poetry.source]]\nname = 'brackwater'\nurl = '{url}/'\npriority = 'primary'\n"
        if lock:
            stage.write("pyproject.toml", f"{head}[tool.poetry.dependencies]\npython = '{python}'\n{source}")
            stage.quiet("poetry lock")
        stage.write("pyproject.toml", f"{head}[tool.poetry.dependencies]\npython = '{python}'\n{needs}{source}")
        return f"poetry --version\n{script}\n"

    return prepare


def _poetry_nothing(stage: Stage) -> str:
    _tool(stage, _POETRY)
    return "poetry --version\npoetry install\n"


def _uv(
    script: str,
    *rules: Rule,
    needs: str = "'tide-tables>=4'",
    python: str = ">=3.11",
    lock: bool = False,
    down: bool = False,
    tls: str = "good",
) -> Prepare:
    def prepare(stage: Stage) -> str:
        _tool(stage, _UV)
        url = stage.closed(HOST) + "/simple" if down else serve_index(stage, rules, tls=tls)
        stage.env |= {
            "UV_DEFAULT_INDEX": url,
            "UV_NATIVE_TLS": "1",
            "UV_CACHE_DIR": str(stage.world.home / ".cache/uv"),
        }
        stage.env["UV_PYTHON"] = str(stage.chest.python("3.11"))
        if lock:
            stage.write(
                "pyproject.toml",
                f"[project]\nname = 'fares'\nversion = '1.4.0'\nrequires-python = '{python}'\ndependencies = []\n",
            )
            stage.quiet("uv lock")
        stage.write(
            "pyproject.toml",
            f"[project]\nname = 'fares'\nversion = '1.4.0'\nrequires-python = '{python}'\ndependencies = [{needs}]\n",
        )
        return f"uv --version\n{script}\n"

    return prepare


def _uv_python(stage: Stage) -> str:
    script = _uv("uv venv --python 3.9.99\nuv sync")(stage)
    del stage.env["UV_PYTHON"]
    return script


def _twine(status: int, body: str, *, reason: str | None = None, old: bool = False) -> Prepare:
    """A built wheel whose upload is answered with this status."""

    def prepare(stage: Stage) -> str:
        # The old client was written for the dependencies of its day.
        _tool(
            stage,
            *((_OLD_TWINE, "importlib-metadata<5", "urllib3<2", "packaging<24", "setuptools<70") if old else (_TWINE,)),
        )
        url = serve_index(
            stage,
            [
                Rule(
                    path="^/upload",
                    method="POST",
                    answer=Answer(status=status, reason=reason, body=body, kind="text/plain"),
                )
            ],
        )
        write_wheel(stage.project / "dist", "fares", "1.4.0")
        stage.env |= {
            "TWINE_USERNAME": "fares-release",
            "TWINE_PASSWORD": "made-up-for-the-lab",
            "UPLOAD": url.replace("/simple", "/upload/"),
        }
        check = "" if old else "twine check dist/*\n"
        return f"ls dist\n{check}twine upload --disable-progress-bar --repository-url $UPLOAD dist/*\n"

    return prepare


def _twine_down(stage: Stage) -> str:
    _tool(stage, _TWINE)
    write_wheel(stage.project / "dist", "fares", "1.4.0")
    stage.env |= {"TWINE_USERNAME": "fares-release", "TWINE_PASSWORD": "made-up-for-the-lab"}
    return f"twine upload --disable-progress-bar --repository-url {stage.closed(HOST)}/upload/ dist/*\n"


def _twine_nothing(stage: Stage) -> str:
    _tool(stage, _TWINE)
    return "mkdir -p dist\ntwine upload --repository-url https://pypi.brackwater.example/upload/ dist/*.whl\n"


def _twine_no_credentials(stage: Stage) -> str:
    _tool(stage, _TWINE)
    write_wheel(stage.project / "dist", "fares", "1.4.0")
    return "twine upload --non-interactive --repository-url https://pypi.brackwater.example/upload/ dist/*\n"


def _row(tool: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:  # noqa: PLR0917 - the columns of a table
    return Scenario(tool=tool, slug=slug, prepare=prepare, failure=failure, line=line, frame=frame)


_401 = Rule(path="^/simple", answer=Answer(status=401))

SCENARIOS = (
    _row("poetry", "lock-out-of-date", _poetry("poetry install", lock=True), "resolve-lockfile-out-of-date", "pyproject.toml changed significantly"),
    _row("poetry", "conflict", _poetry("poetry lock", needs="berth-map = '*'\nwinter-plan = '*'\n"), "resolve-version-conflict", "Because ", "iso"),
    _row("poetry", "unauthorized", _poetry("poetry lock", _401), "resolve-unauthorized", "[Aa]uthorization error|401", "clock"),
    _row("poetry", "no-project", _poetry_nothing, "setup-build-file-missing", "could not find a pyproject.toml"),
    _row("poetry", "python-unsupported", _poetry("poetry install", python=">=3.14", needs=""), "setup-python-version-unsupported", r"Current Python version|not (allowed|supported)", "job"),
    _row("poetry", "project-invalid", _poetry("sed -i 's/^version/verzion/' pyproject.toml\npoetry check\npoetry install", needs="tide-tables = \n"), "setup-build-file-invalid", "Invalid TOML|not a valid TOML|Invalid value|Unexpected"),
    _row("poetry", "host-down", _poetry("poetry lock", down=True), "resolve-connection-refused", "Connection refused|All attempts to connect", "iso"),
    _row("uv", "package-not-found", _uv("uv sync", needs="'brackwater-berths'"), "resolve-artifact-not-found", "was not found in the package registry"),
    _row("uv", "version-not-found", _uv("uv sync", needs="'tide-tables>=9'"), "resolve-version-not-found", "Because (only|there)", "iso"),
    _row("uv", "lock-out-of-date", _uv("uv sync --locked", lock=True), "resolve-lockfile-out-of-date", "The lockfile at .*needs to be updated"),
    _row("uv", "lock-missing", _uv("uv sync --frozen"), "resolve-lockfile-out-of-date", "Unable to find lockfile", "clock"),
    _row("uv", "unauthorized", _uv("uv sync", _401), "resolve-unauthorized", "401|[Uu]nauthorized", "job"),
    _row("uv", "host-down", _uv("uv sync", down=True), "resolve-connection-refused", "Connection refused|tcp connect error", "iso"),
    _row("uv", "certificate-untrusted", _uv("uv sync", tls="stranger"), "resolve-tls-untrusted", "invalid peer certificate|UnknownIssuer"),
    _row("uv", "interpreter-missing", _uv_python, "setup-interpreter-missing", "No interpreter found"),
    _row("uv", "python-unsupported", _uv("uv sync", python=">=3.14", needs=""), "setup-python-version-unsupported", "is incompatible with|not compatible", "clock"),
    _row("uv", "conflict", _uv("uv lock", needs="'berth-map', 'winter-plan'"), "resolve-version-conflict", "Because "),
    _row("twine", "unauthorized", _twine(401, "bad credentials", reason="Unauthorized"), "deploy-unauthorized", "HTTPError: 401"),
    _row("twine", "forbidden", _twine(403, "no write right on this project", reason="Forbidden"), "deploy-forbidden", "HTTPError: 403", "iso"),
    _row("twine", "forbidden-credentials", _twine(403, "", reason="Invalid or non-existent authentication information."), "deploy-unauthorized", "HTTPError: 403", "clock"),
    _row("twine", "file-exists", _twine(400, "", reason="File already exists"), "deploy-redeploy-refused", "HTTPError: 400", "job"),
    _row("twine", "conflict", _twine(409, "this version is there already", reason="Conflict"), "deploy-redeploy-refused", "HTTPError: 409"),
    _row("twine", "too-large", _twine(413, "", reason="Request Entity Too Large"), "deploy-too-large", "HTTPError: 413", "iso"),
    _row("twine", "not-found", _twine(404, "no such repository", reason="Not Found"), "deploy-repository-not-found", "HTTPError: 404"),
    _row("twine", "server-error", _twine(503, "", reason="Service Unavailable"), "deploy-server-error", "(HTTPError|Received).*503"),
    _row("twine", "method-not-allowed", _twine(405, "", reason="Method Not Allowed"), "deploy-method-not-allowed", "HTTPError: 405", "clock"),
    _row("twine", "old-forbidden", _twine(403, "", reason="Forbidden", old=True), "deploy-forbidden", "HTTPError: 403"),
    _row("twine", "connection-refused", _twine_down, "deploy-host-unreachable", "Connection refused", "iso"),
    _row("twine", "nothing-built", _twine_nothing, "package-no-artifact", "Cannot find file"),
    _row("twine", "no-credentials", _twine_no_credentials, "deploy-credentials-undeclared", "Credential not found|NonInteractive", "job"),
)  # fmt: skip
