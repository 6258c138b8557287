"""pip runs of an old and of the newest generation that fail while packages come in."""

from __future__ import annotations

from collections.abc import Callable

from tests.lab.other_support import MissingToolError, Scenario, Stage
from tests.lab.pip_index import HOST, serve_index, use_pip
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]
_OLD = ("3.8", "pip==20.0.2")
_NEW = ("3.12", "pip==26.3")
_BUILD = ("setuptools==69.5.1", "wheel==0.43.0")


def _install(
    which: tuple[str, str],
    needs: str,
    *rules: Rule,
    tls: str = "good",
    options: str = "",
    account: str = "",
    more: tuple[str, ...] = (),
) -> Prepare:
    """A project with these requirements, installed from an index with these rules."""

    def prepare(stage: Stage) -> str:
        url = serve_index(stage, rules, tls=tls)
        use_pip(stage, *which, url.replace("://", f"://{account}@"), *more) if account else use_pip(
            stage, *which, url, *more
        )
        stage.write("requirements.txt", needs.replace("https://INDEX", url.removesuffix("/simple")))
        return f"python --version\npip --version\npip install {options}-r requirements.txt\npython -m fares.main\n"

    return prepare


def _down(which: tuple[str, str], *, unknown: bool = False) -> Prepare:
    def prepare(stage: Stage) -> str:
        url = f"https://packages.{HOST}/simple" if unknown else stage.closed(HOST) + "/simple"
        use_pip(stage, *which, url)
        return "pip --version\npip install tide-tables==4.1.0\n"

    return prepare


def _proxy(stage: Stage) -> str:
    refuse = Rule(path=".", method="CONNECT", answer=Answer(status=407, reason="Proxy Authentication Required"))
    proxy = stage.serve("proxy.brackwater.example", [refuse], tls="none")
    use_pip(stage, *_NEW, f"https://packages.{HOST}/simple")
    return f"export HTTPS_PROXY={proxy}\npip install --retries 1 tide-tables\n"


def _managed(stage: Stage) -> str:
    python = stage.chest.system("/usr/bin/python3")
    if "EXTERNALLY" not in stage.quiet(f"ls $({python} -c 'import sysconfig; print(sysconfig.get_path(\"stdlib\"))')"):
        raise MissingToolError("the system's Python is not managed by the system")
    folder = stage.chest.venv(*_NEW)
    stage.quiet(f"mkdir -p ../pip && cp -r {folder}/lib/python3*/site-packages/pip ../pip/")
    stage.env["PYTHONPATH"] = str(stage.project.parent / "pip")
    return f"{python} --version\n{python} -m pip install tide-tables\n"


def _local(which: tuple[str, str], files: dict[str, str], script: str, more: tuple[str, ...] = ()) -> Prepare:
    def prepare(stage: Stage) -> str:
        use_pip(stage, *which, serve_index(stage), *more)
        for name, text in files.items():
            stage.write(name, text)
        return script

    return prepare


def _no_compiler(which: tuple[str, str]) -> Prepare:
    def prepare(stage: Stage) -> str:
        script = _install(
            which, "tide-tables\ntide-gauge\n", options="--no-build-isolation " if which == _NEW else "", more=_BUILD
        )(stage)
        stage.quiet("mkdir -p ../bin; for c in sh bash env uname cat; do ln -s $(command -v $c) ../bin/$c; done")
        stage.env["PATH"] = f"{stage.project / '.venv' / 'bin'}:{stage.project.parent / 'bin'}"
        return script

    return prepare


def _row(slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:
    return Scenario(tool="pip", slug=slug, prepare=prepare, failure=failure, line=line, frame=frame)


_WRONG = "tide-tables==4.1.0 --hash=sha256:" + "7d" * 32 + "\n"
_PROJECT = "[project]\nname = 'fares'\nversion = '1.4.0'\nrequires-python = '>=3.13'\n[build-system]\nrequires = ['setuptools']\nbuild-backend = 'setuptools.build_meta'\n"
_SETUP = "from setuptools import setup\nsetup(name='fares', version='1.4.0', python_requires='>=3.11')\n"
_NONE = "ERROR: Could not find a version that satisfies the requirement"

SCENARIOS = (
    _row("package-not-found", _install(_OLD, "tide-tables\nbrackwater-berths>=1\n"), "resolve-artifact-not-found", _NONE),
    _row("package-not-found", _install(_NEW, "tide-tables\nbrackwater-berths>=1\n"), "resolve-artifact-not-found", _NONE, "iso"),
    _row("version-not-found", _install(_OLD, "tide-tables==9.1\n"), "resolve-version-not-found", _NONE, "clock"),
    _row("version-not-found", _install(_NEW, "tariff-core==3.0.0\n"), "resolve-version-not-found", _NONE),
    _row("file-unauthorized", _install(_OLD, "tide-tables\n", Rule(path="^/files", answer=Answer(status=401)), options="--no-input "), "resolve-unauthorized", "ERROR:.* 401", "job"),
    _row("unauthorized", _install(_NEW, "tide-tables\n", Rule(path="^/simple", answer=Answer(status=401)), options="--no-input ", account="fares-reader:not-it"), "resolve-unauthorized", "401 Error"),
    _row("file-forbidden", _install(_OLD, "tide-tables\n", Rule(path="^/files", answer=Answer(status=403))), "resolve-forbidden", "ERROR:.* 403", "iso"),
    _row("file-forbidden", _install(_NEW, "tariff-core\n", Rule(path="^/files", answer=Answer(status=403, reason="Forbidden"))), "resolve-forbidden", "ERROR:.* 403"),
    _row("connection-refused", _down(_OLD), "resolve-connection-refused", "Connection refused", "clock"),
    _row("connection-refused", _down(_NEW), "resolve-connection-refused", "Connection refused|NewConnectionError"),
    _row("host-unknown", _down(_OLD, unknown=True), "resolve-host-unknown", "Name or service not known|getaddrinfo|Name.*resolution"),
    _row("host-unknown", _down(_NEW, unknown=True), "resolve-host-unknown", "Name or service not known|getaddrinfo|NameResolution|Name.*resolution", "iso"),
    _row("timed-out", _install(_NEW, "tide-tables\n", Rule(path="^/simple", answer=Answer(delay=4, pass_on=True)), options="--retries 1 --timeout 1 "), "resolve-connection-timed-out", "[Rr]ead timed out|ReadTimeout", "job"),
    _row("file-server-error", _install(_NEW, "tide-tables\n", Rule(path="^/files", answer=Answer(status=503)), options="--retries 1 "), "resolve-server-error", "503"),
    _row("certificate-untrusted", _install(_OLD, "tide-tables\n", tls="stranger", options="--retries 1 "), "resolve-tls-untrusted", "CERTIFICATE_VERIFY_FAILED|certificate verify failed", "iso"),
    _row("certificate-untrusted", _install(_NEW, "tide-tables\n", tls="stranger", options="--retries 1 "), "resolve-tls-untrusted", "CERTIFICATE_VERIFY_FAILED|certificate verify failed"),
    _row("certificate-expired", _install(_NEW, "tide-tables\n", tls="expired", options="--retries 0 "), "resolve-tls-expired", "certificate has expired", "clock"),
    _row("certificate-name", _install(_OLD, "tide-tables\n", tls="name", options="--retries 0 "), "resolve-tls-name-mismatch", "[Hh]ostname mismatch|doesn't match"),
    _row("proxy-407", _proxy, "resolve-proxy-auth-required", "407", "iso"),
    _row("hash-mismatch", _install(_OLD, _WRONG, options="--require-hashes "), "resolve-checksum-mismatch", "DO NOT MATCH THE HASHES", "job"),
    _row("hash-mismatch", _install(_NEW, _WRONG), "resolve-checksum-mismatch", "DO NOT MATCH THE HASHES"),
    _row("externally-managed", _managed, "setup-python-environment-managed", "error: externally-managed-environment", "clock"),
    _row("python-too-old", _install(_NEW, "quay-clock\n"), "setup-python-version-unsupported", "require a different python version"),
    _row("python-too-old-for-project", _local(_OLD, {"setup.py": _SETUP}, "pip --version\npip install .\n", _BUILD), "setup-python-version-unsupported", "requires a different Python", "iso"),
    _row("python-too-old-for-project", _local(_NEW, {"pyproject.toml": _PROJECT, "fares.py": ""}, "pip --version\npip install --no-build-isolation -e .\n", _BUILD), "setup-python-version-unsupported", "requires a different Python"),
    _row("conflict", _install(_NEW, "berth-map\nwinter-plan\n"), "resolve-version-conflict", "ERROR: Cannot install", "iso"),
    _row("wrong-platform", _install(_NEW, "https://INDEX/files/harbour_native-2.0.0-cp27-cp27m-win32.whl\n"), "resolve-no-file-for-platform", "not a supported wheel on this platform"),
    _row("compiler-missing", _no_compiler(_OLD), "setup-native-compiler-missing", "command '.*gcc.*' failed|unable to execute", "clock"),
    _row("compiler-missing", _no_compiler(_NEW), "setup-native-compiler-missing", "command '.*gcc.*' failed|unable to execute"),
    _row("header-missing", _install(_NEW, "depth-sounder\n", options="--no-build-isolation ", more=_BUILD), "compile-header-missing", "fatal error: sonar/depth.h", "iso"),
    _row("requirements-missing", _local(_OLD, {}, "pip --version\npip install -r requirements/ci.txt\n"), "setup-build-file-missing", "ERROR: Could not open requirements file"),
    _row("requirements-missing", _local(_NEW, {}, "pip --version\npip install -r requirements/ci.txt\n"), "setup-build-file-missing", "ERROR: Could not open requirements file", "job"),
    _row("not-installable", _local(_NEW, {"README.md": "Fares\n"}, "ls\npip install .\n"), "setup-build-file-missing", "is not installable"),
    _row("requirement-invalid", _install(_NEW, "tide-tables=>4.0\n"), "setup-build-file-invalid", "ERROR: Invalid requirement", "clock"),
)  # fmt: skip
