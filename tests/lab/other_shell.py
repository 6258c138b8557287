"""Plain shell steps, curl and wget, and what the system says about processes, files and libraries."""

from __future__ import annotations

from collections.abc import Callable

from tests.lab.git_site import serve_ssh
from tests.lab.other_compilers import files
from tests.lab.other_support import Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]
HOST = "files.brackwater.example"


def _plain(script: str, **content: str) -> Prepare:
    return files(script, {name.replace("__", "."): text for name, text in content.items()})


def _not_executable(stage: Stage) -> str:
    stage.write("deploy.sh", "#!/bin/sh\necho deploying\n")
    return "ls -l deploy.sh | cut -c1-10\n./deploy.sh staging\n"


def _crlf(stage: Stage) -> str:
    stage.write("build.sh", "#!/usr/bin/env bash\r\necho building\r\n", mode=0o755)
    return "echo start\n./build.sh\n"


def _crlf_bash(stage: Stage) -> str:
    stage.write("build.sh", "#!/bin/bash\r\necho building\r\n", mode=0o755)
    return "echo start\n./build.sh --all\n"


def _architecture(stage: Stage) -> str:
    header = bytearray(64)
    header[:20] = b"\x7fELF\x02\x01\x01" + bytes(9) + (2).to_bytes(2, "little") + (243).to_bytes(2, "little")
    stage.write("bin/tide-tool", bytes(header), mode=0o755)
    return "ls bin\n./bin/tide-tool --version\n"


def _library(stage: Stage) -> str:
    stage.chest.system("gcc")
    stage.write("tides.c", "int tides(void) { return 4; }\n")
    stage.write("tool.c", "int tides(void);\nint main(void) { return tides() - 4; }\n")
    stage.quiet("gcc -shared -fPIC -o libtides.so.3 tides.c && gcc -o tide-tool tool.c ./libtides.so.3 -Wl,-soname=x 2>/dev/null;"
                "gcc -shared -fPIC -Wl,-soname,libtides.so.3 -o libtides.so tides.c && gcc -o tide-tool tool.c -L. -ltides && rm libtides*")  # fmt: skip
    return "echo 'checking the tides'\n./tide-tool\n"


def _open_files(stage: Stage) -> str:
    python = stage.chest.system("python3")
    stage.write("many.py", "kept = [open('many.py') for _ in range(100)]\n")
    stage.use(python.parent)
    return "ulimit -n 40\npython3 many.py\n"


def _port(stage: Stage) -> str:
    stage.use(stage.chest.system("python3").parent)
    stage.write(
        "serve.py",
        "import http.server\na = http.server.HTTPServer(('127.0.0.1', 0), None)\nb = http.server.HTTPServer(a.server_address, None)\n",
    )
    return "echo 'starting the fare service'\npython3 serve.py\n"


def _module(stage: Stage) -> str:
    stage.use(stage.chest.system("python3").parent)
    stage.write("tools/render.py", "import os\nimport brackwater_templates\n\nprint(os.getcwd())\n")
    return "python3 --version\npython3 tools/render.py\n"


def _curl(options: str, path: str, status: int, reason: str | None = None, tool: str = "curl") -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system(tool)
        url = stage.serve(
            HOST, [Rule(path=path, method="GET|HEAD|PUT|POST", answer=Answer(status=status, reason=reason, body="no"))]
        )
        stage.write("dist/fares-1.4.0.tgz", "x" * 2000)
        trust = f" --ca-certificate={stage.env['SSL_CERT_FILE']}" if tool == "wget" else ""
        return f"ls dist\n{tool}{trust} {options} {url}{path}\n"

    return prepare


def _curl_at(kind: str, options: str = "-fsSLO") -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system("curl")
        if kind == "down":
            url = stage.closed(HOST)
        elif kind == "unknown":
            url = f"https://mirror.{HOST}"
        elif kind == "slow":
            url = stage.serve(HOST, [Rule(path=".", answer=Answer(delay=4))])
        else:
            url = stage.serve(HOST, [], tls=kind)
        return f"mkdir -p tools\ncd tools\ncurl {options} {url}/tools/tide-tool-3.2.tgz\n"

    return prepare


def _ssh(stage: Stage) -> str:
    port = serve_ssh(stage).split("localhost:")[1].split("/")[0]
    stage.texts += [(f"-p {port} deploy@localhost", "-p 2222 deploy@quay-1.brackwater.example"), ("deploy@localhost", "deploy@quay-1.brackwater.example"),
                    (f"[localhost]:{port}", "[quay-1.brackwater.example]:2222")]  # fmt: skip
    options = (
        f"-o StrictHostKeyChecking=accept-new -o UserKnownHostsFile={stage.world.home}/known_hosts -o BatchMode=yes"
    )
    return f"ls\nssh {options} -p {port} deploy@localhost systemctl restart fares\n"


def _row(  # noqa: PLR0917 - the columns of a table
    slug: str,
    prepare: Prepare,
    failure: str,
    line: str,
    frame: str = "plain",
    shell: str = "bash -ex",
    tool: str = "shell",
) -> Scenario:
    version = ("bash", "--version") if tool == "shell" else None
    return Scenario(
        tool=tool, slug=slug, prepare=prepare, failure=failure, line=line, frame=frame, shell=shell, version=version
    )


SCENARIOS = (
    _row("command-not-found", _plain("echo building\ntide-render --all charts"), "agent-command-not-found", "tide-render: command not found", "iso"),
    _row("command-not-found-dash", _plain("echo building\ntide-render --all charts"), "agent-command-not-found", "tide-render: not found", shell="sh -e"),
    _row("not-executable", _not_executable, "agent-script-not-executable", "deploy.sh: Permission denied", "clock"),
    _row("line-ends-env", _crlf, "agent-script-line-endings", r"env: .bash\\r"),
    _row("line-ends-interpreter", _crlf_bash, "agent-script-line-endings", "bad interpreter|cannot execute: required file not found", "job"),
    _row("syntax-end-of-file", _plain("echo start\nif [ -f pom.xml ]; then\n  echo found\n"), "agent-shell-script-error", "syntax error: unexpected end of file", "iso"),
    _row("syntax-dash", _plain("echo start\nfor f in a b; do echo $f; done done\n"), "agent-shell-script-error", "Syntax error|syntax error", shell="sh -e"),
    _row("bad-substitution", _plain("VERSION=1.4.0\necho ${VERSION^^}\n"), "agent-shell-script-error", "Bad substitution", "clock", shell="sh -e"),
    _row("unbound", _plain('set -u\necho "releasing $RELEASE_VERSION"'), "agent-variable-missing", "RELEASE_VERSION: unbound variable"),
    _row("unset-dash", _plain('set -u\necho "releasing $RELEASE_VERSION"'), "agent-variable-missing", "RELEASE_VERSION: parameter not set", "job", shell="sh -e"),
    _row("variable-required", _plain(': "${DEPLOY_TOKEN:?must be set by the job}"'), "agent-variable-missing", "DEPLOY_TOKEN: must be set", "iso"),
    _row("folder-missing", _plain("cd frontend\nnpm ci"), "agent-path-not-found", "cd: frontend: No such file or directory"),
    _row("file-missing", _plain("cat VERSION\ncp config/release.yaml build/"), "agent-path-not-found", "VERSION: No such file", "clock"),
    _row("script-missing", _plain("ls\n./ci/deploy.sh staging"), "agent-path-not-found", "ci/deploy.sh: No such file or directory"),
    _row("exit-code-only", _plain("ls\n./verify.sh charts", verify__sh="#!/bin/sh\nexit 3\n"), "agent-step-exit-code", "exit status 3", "job"),
    _row("killed", _plain("echo 'rendering charts'\n./render.sh", render__sh="#!/bin/bash\nbash -c 'kill -9 $$'\necho 'renderer ended with' $?\nkill -9 $$\n"), "agent-memory-killed", "Killed", "job"),
    _row("terminated", _plain("echo 'rendering charts'\n./render.sh", render__sh="#!/bin/bash\nkill -TERM $$\nsleep 5\n"), "agent-tool-process-vanished", "Terminated|exit status 143", "job"),
    _row("segmentation-fault", _plain("echo 'rendering charts'\n./render.sh", render__sh="#!/bin/bash\nkill -SEGV $$\n"), "agent-tool-crashed", "Segmentation fault", "iso"),
    _row("wrong-architecture", _architecture, "agent-wrong-architecture", "Exec format error", "iso"),
    _row("library-missing", _library, "agent-system-library-missing", "error while loading shared libraries"),
    _row("open-files", _open_files, "agent-open-files-exhausted", "Too many open files", "job"),
    _row("disk-full", _plain("ls\nhead -c 200000 /dev/zero > /dev/full"), "agent-disk-full", "No space left on device", "clock"),
    _row("disk-full-cp", _plain("mkdir -p out\ncp VERSION /dev/full", VERSION="1.4.0\n"), "agent-disk-full", "No space left on device"),
    _row("port-in-use", _port, "test-port-in-use", "Address already in use", "iso"),
    _row("python-module", _module, "setup-python-module-missing", "ModuleNotFoundError", "job"),
    _row("ssh-login", _ssh, "deploy-remote-login-failed", r"Permission denied \(publickey", "clock"),
    _row("download-404", _curl("-fsSLO", "/tools/tide-tool-3.2.tgz", 404), "resolve-artifact-not-found", r"curl: \(22\)", tool="curl"),
    _row("download-403", _curl("--fail --location --remote-name", "/tools/tide-tool-3.2.tgz", 403), "resolve-forbidden", r"curl: \(22\)", "iso", tool="curl"),
    _row("download-401", _curl("-fSsL -o tool.tgz", "/tools/tide-tool-3.2.tgz", 401), "resolve-unauthorized", r"curl: \(22\)", tool="curl"),
    _row("download-503", _curl("-fSsL --retry 1 --retry-delay 1 -o tool.tgz", "/tools/tide-tool-3.2.tgz", 503), "resolve-server-error", r"503", "clock", tool="curl"),
    _row("upload-401", _curl("-fsS -T dist/fares-1.4.0.tgz", "/releases/fares-1.4.0.tgz", 401), "deploy-unauthorized", r"curl: \(22\)", tool="curl"),
    _row("upload-403", _curl("-fsS --upload-file dist/fares-1.4.0.tgz", "/releases/fares-1.4.0.tgz", 403), "deploy-forbidden", r"curl: \(22\)", "job", tool="curl"),
    _row("upload-405", _curl("--fail -sS -T dist/fares-1.4.0.tgz", "/releases/fares-1.4.0.tgz", 405), "deploy-method-not-allowed", r"curl: \(22\)", "iso", tool="curl"),
    _row("upload-413", _curl("-f -sS -T dist/fares-1.4.0.tgz", "/releases/fares-1.4.0.tgz", 413), "deploy-too-large", r"curl: \(22\)", tool="curl"),
    _row("host-unknown", _curl_at("unknown"), "resolve-host-unknown", r"curl: \(6\)", "clock", tool="curl"),
    _row("refused", _curl_at("down"), "resolve-connection-refused", r"curl: \(7\)", tool="curl"),
    _row("untrusted", _curl_at("stranger"), "resolve-tls-untrusted", r"curl: \(60\)", "iso", tool="curl"),
    _row("expired", _curl_at("expired"), "resolve-tls-expired", r"curl: \(60\)", tool="curl"),
    _row("wrong-name", _curl_at("name"), "resolve-tls-name-mismatch", r"curl: \(60\)", "job", tool="curl"),
    _row("timed-out", _curl_at("slow", "-fsSLO --max-time 1"), "resolve-connection-timed-out", r"curl: \(28\)", tool="curl"),
    _row("download-404", _curl("-nv", "/tools/tide-tool-3.2.tgz", 404, tool="wget"), "resolve-artifact-not-found", "ERROR 404", tool="wget"),
    _row("download-401", _curl("-q -O tool.tgz --server-response", "/tools/tide-tool-3.2.tgz", 401, tool="wget"), "resolve-unauthorized", "401", "iso", tool="wget"),
)  # fmt: skip
