"""A code host for the git labs: bare repositories served over smart HTTP, or over SSH by a server of its own."""

from __future__ import annotations

import os
import subprocess
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.lab.other_support import MissingToolError, Stage
from tests.lab.rule_server import Answer, Request, Rule, closed_port

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["HOST", "checkout", "origin", "serve_git", "serve_ssh"]

HOST = "git.brackwater.example"
_IDENTITY = {
    "GIT_AUTHOR_NAME": "Mara Quay", "GIT_AUTHOR_EMAIL": "mara@brackwater.example",
    "GIT_COMMITTER_NAME": "Mara Quay", "GIT_COMMITTER_EMAIL": "mara@brackwater.example",
    "GIT_AUTHOR_DATE": "2026-03-02T09:10:11Z", "GIT_COMMITTER_DATE": "2026-03-02T09:10:11Z",
}  # fmt: skip


def origin(stage: Stage, name: str = "fares") -> Path:
    """A bare repository with a main branch, a release branch and a tag; the folder of all repositories."""
    top = stage.world.base / "srv" / "git"
    top.mkdir(parents=True, exist_ok=True)
    script = f"""
        git init -q -b main ../seed-{name} && cd ../seed-{name}
        printf 'Fares of the Brackwater ferries\\n' > README.md
        printf '#!/bin/sh\\necho build fares\\n' > build.sh; chmod +x build.sh
        git add . && git commit -qm 'Add fares' && git tag v1.4.0
        git checkout -qb release/1.4 && printf 'winter: 12.50\\n' > tariff.yaml && git add . && git commit -qm 'Winter tariff'
        git checkout -q main && printf 'summer: 14.00\\n' > tariff.yaml && git add . && git commit -qm 'Summer tariff'
        git clone -q --bare . {top}/{name}.git
        git -C {top}/{name}.git config http.receivepack true
    """
    with_identity(stage, script)
    return top


def with_identity(stage: Stage, script: str) -> str:
    """Run preparations as a committer with fixed name and date."""
    kept = stage.env
    stage.env = kept | _IDENTITY
    try:
        return stage.quiet(script)
    finally:
        stage.env = kept


def serve_git(stage: Stage, rules: Sequence[Rule] = (), *, top: Path | None = None, tls: str = "good") -> str:
    """Serve the repositories by ``git http-backend``; the given rules come first. Gives the address."""
    root = top or origin(stage)

    def backend(request: Request) -> Answer:
        return _backend(root, request, stage.env)

    return stage.serve(HOST, [*rules, Rule(path="^/", method="GET|POST", answer=backend)], tls=tls)


def _backend(root: Path, request: Request, base: dict[str, str]) -> Answer:
    path, _, query = request.path.partition("?")
    env = base | {
        "GIT_PROJECT_ROOT": str(root), "GIT_HTTP_EXPORT_ALL": "1", "PATH_INFO": path, "QUERY_STRING": query,
        "REQUEST_METHOD": request.method, "CONTENT_LENGTH": str(len(request.body)), "REMOTE_ADDR": "192.0.2.7",
        "CONTENT_TYPE": f"application/x-{path.rsplit('/', 1)[-1]}-request", "REMOTE_USER": request.user or "",
    }  # fmt: skip
    if "upload-pack" in request.path:
        env["GIT_PROTOCOL"] = "version=2"
    if request.body[:2] == b"\x1f\x8b":
        env["HTTP_CONTENT_ENCODING"] = "gzip"
    done = subprocess.run(["git", "http-backend"], input=request.body, env=env, capture_output=True, check=False)
    head, _, body = done.stdout.partition(b"\r\n\r\n")
    fields = dict(line.split(": ", 1) for line in head.decode().split("\r\n") if ": " in line)
    status = int(fields.get("Status", "200").split()[0])
    return Answer(status=status, body=body, kind=fields.get("Content-Type", "text/plain"))


def checkout(stage: Stage, url: str, folder: str = ".") -> None:
    """A work tree that an earlier build left in the workspace."""
    stage.quiet(f"git clone -q {url}/fares.git {folder}")


def serve_ssh(stage: Stage) -> str:
    """Start an SSH server on a free port; gives the address of the repositories' folder on it."""
    sshd = stage.chest.system("sshd")
    top = origin(stage)
    folder, port = stage.world.base / "etc" / "ssh", closed_port()
    folder.mkdir(parents=True)
    stage.quiet(
        f"ssh-keygen -q -t ed25519 -N '' -f {folder}/host_key && ssh-keygen -q -t ed25519 -N '' -f {folder}/user_key"
    )
    Path("/run/sshd").mkdir(exist_ok=True) if os.geteuid() == 0 else None
    server = subprocess.Popen(
        [str(sshd), "-D", "-e", "-p", str(port), "-f", "/dev/null", "-h", f"{folder}/host_key", "-o", "ListenAddress=127.0.0.1",
         "-o", f"PidFile={folder}/pid", "-o", "AuthorizedKeysFile=/dev/null", "-o", "PasswordAuthentication=no",
         "-o", "KbdInteractiveAuthentication=no", "-o", "UsePAM=no"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    stage.stack.callback(server.wait)
    stage.stack.callback(server.terminate)
    time.sleep(0.5)
    if server.poll() is not None:
        raise MissingToolError("the SSH server did not start")
    stage.show(port, HOST, 2222)
    stage.texts.append(("git@localhost", f"git@{HOST}"))
    return f"ssh://git@localhost:{port}{top}"
