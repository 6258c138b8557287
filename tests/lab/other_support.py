"""Runs a scenario: prepares a world, runs a build step's script in it, scrubs what it printed, keeps it as a fixture.

A scenario is a row of a table: what is prepared, which failure the log shows, and a pattern for the line on which
the tool explains it. The expectation stands in the table, never in what was printed.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import platform
import re
import socket
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

import yaml

from tests.lab.other_tools import Chest, MissingToolError, version_of
from tests.lab.rule_server import RuleServer
from tests.lab.rule_server_tls import Authority, server_context
from tests.lab.runner import World, run, temporary_world
from tests.lab.scrub import Scrubber, leaks

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from tests.lab.rule_server import Rule

__all__ = ["Log", "MissingToolError", "Scenario", "Stage", "keep", "perform", "problems"]

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures" / "lab"
# Texts that the scrubber would take for traces: a module of Node.js that may be called like the machine, and
# the path of a socket in the place of a host. They are masked while it works.
_TOOL_WORDS = (("node:internal/vm:", "node:internal/\N{SNOWMAN}:"), ("http://%2Fvar", "\N{UMBRELLA}%2Fvar"))
_START = dt.datetime(2026, 3, 4, 5, 6, 7, 120_000, tzinfo=dt.UTC)
_SYSTEM_TRUST = Path("/etc/ssl/certs/ca-certificates.crt")
_TRUST = ("SSL_CERT_FILE", "GIT_SSL_CAINFO", "CURL_CA_BUNDLE", "PIP_CERT", "REQUESTS_CA_BUNDLE",
          "NODE_EXTRA_CA_CERTS", "CARGO_HTTP_CAINFO")  # fmt: skip
_versions: dict[tuple[str, str], str] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One run of a tool and what its log must show."""

    tool: str
    slug: str
    prepare: Callable[[Stage], str]
    """Lays out the world and gives the step's script."""
    failure: str | None
    line: str | None = None
    """Pattern of the root line; the first line that it is found in, echoed commands aside."""
    outcome: str = "failed"
    version: tuple[str, ...] | None = None
    """Command that tells the tool's version; by default ``TOOL --version``."""
    frame: str = "plain"
    shell: str = "bash -ex"
    timeout: float = 100

    @property
    def name(self) -> str:
        """What the test run calls it; tools of several versions share it."""
        return f"{self.tool}-{self.slug}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """A scrubbed log with what a reader should find in it."""

    stem: str
    text: str
    status: int
    seconds: float
    line: int | None
    expected: dict[str, object]


@dataclass(slots=True, kw_only=True)
class Stage:
    """The world of one scenario, with what its set-up has put there so far."""

    world: World
    chest: Chest
    authority: Authority
    stack: contextlib.ExitStack
    env: dict[str, str]
    texts: list[tuple[str, str]] = field(default_factory=list)
    ports: dict[int, str] = field(default_factory=dict)

    @property
    def project(self) -> Path:
        """The step's working directory."""
        return self.world.project

    def write(self, name: str, text: str | bytes, *, mode: int = 0o644) -> Path:
        """A file of the project, or below the world's base where the name is absolute."""
        return self.world.write(name, text, mode=mode)

    def at_home(self, name: str, text: str) -> Path:
        """A file in the build account's home folder."""
        return self.world.write(f"/home/ci/{name}", text, mode=0o600)

    def use(self, folder: Path) -> None:
        """Put a folder of commands first on PATH."""
        self.env["PATH"] = f"{folder}:{self.env['PATH']}"

    def quiet(self, script: str, *, cwd: Path | None = None) -> str:
        """Run preparations that the log does not show; gives their standard output."""
        done = subprocess.run(
            ["bash", "-ec", script], cwd=cwd or self.project, env=self.env, capture_output=True, text=True, check=False
        )
        if done.returncode != 0:
            raise RuntimeError(f"preparation failed: {script}\n{done.stdout}{done.stderr}")
        return done.stdout.strip()

    def serve(self, host: str, rules: Sequence[Rule], *, tls: str = "good") -> str:
        """Start a server that the log calls `host`; `tls`: good, stranger (unknown authority), expired, name, none."""
        server = RuleServer(rules=list(rules), tls=None if tls == "none" else server_context(self._certificate(tls)))
        self.stack.enter_context(server)
        self.show(server.port, host)
        return f"{'http' if tls == 'none' else 'https'}://localhost:{server.port}"

    def closed(self, host: str) -> str:
        """The address of a server that is down."""
        # Bound but not listening: refused like a free port, and nobody else can take it meanwhile.
        held = self.stack.enter_context(socket.socket())
        held.bind(("127.0.0.1", 0))
        port = int(held.getsockname()[1])
        self.show(port, host)
        return f"https://localhost:{port}"

    def show(self, port: int, host: str, shown: int = 443) -> None:
        """Have a loopback port shown as a host (and a port, where a tool prints it apart)."""
        named = host if shown == 443 else f"{host}:{shown}"
        pairs = [
            (f"{start}{name}:{port}", f"{start}{named}")
            for start in ("://", "@")
            for name in ("localhost", "127.0.0.1")
        ]
        pairs += [
            (f"{name}{link}{port}", f"{host}{link}{shown}")
            for name in ("localhost", "127.0.0.1")
            for link in (" port ", " ", "', ")
        ]
        pairs += [(f"{start}{name}:{port}", f"{start}192.0.2.40:{shown}")
                  for start in ("ECONNREFUSED ", "connect to ", "dial tcp ", "TCP ") for name in ("127.0.0.1", "::1", "[::1]")]  # fmt: skip
        pairs += [(f"[{name}]:{port}", f"[{host}]:{shown}") for name in ("localhost", "127.0.0.1")]
        pairs += [(f"host='localhost', port={port}", f"host='{host}', port={shown}"), ("'localhost'", f"'{host}'")]
        pairs += [(f"{start}localhost.", f"{start}{host}.") for start in ("Host: ", "hostname: ")]
        self.texts += pairs
        self.ports[port] = named

    def _certificate(self, kind: str) -> Path:
        if kind == "stranger":
            return (
                Authority(folder=self.authority.folder / "stranger", name="Brackwater Proxy CA")
                .make()
                .issue("localhost")
            )
        if kind == "name":
            return self.authority.issue("ferry.brackwater.example")
        return self.authority.issue("localhost", expired=kind == "expired")


def perform(scenario: Scenario, chest: Chest, authority: Authority) -> Log:
    """Run one scenario and give its log."""
    with temporary_world() as world, contextlib.ExitStack() as stack:
        stage = Stage(world=world, chest=chest, authority=authority, stack=stack, env=_environment(world, authority))
        script = scenario.prepare(stage)
        path = world.write("/home/ci/agent/temp/step.sh", script if script.endswith("\n") else script + "\n")
        done = run([*scenario.shell.split(), str(path)], world, stage.env, timeout=scenario.timeout)
        version = version_of(_say_version(scenario, stage))
        scrub = _scrubber(stage)
        plain = _masked(scrub(_masked(done.output.replace(quote(str(world.base), safe=""), ""))), back=True)
        command = _command(plain, scrub(script))
    status = done.status if done.status >= 0 else 128 - done.status
    text = _framed(plain, scenario.frame, status, aborted=scenario.outcome == "aborted")
    line = _root_line(scenario, text)
    expected: dict[str, object] = {
        "failure": scenario.failure, "line": line,
        "phase": scenario.failure.split("-")[0] if scenario.failure else None,
        "outcome": scenario.outcome, "seen_by": f"{scenario.tool} {version}", "command": command,
    }  # fmt: skip
    stem = f"{scenario.tool}-{version}-{scenario.slug}"
    return Log(stem=stem, text=text, status=status, seconds=done.seconds, line=line, expected=expected)


def problems(scenario: Scenario, log: Log) -> list[str]:
    """What is wrong with a run: it ended otherwise than expected, shows no root line, or tells about this machine."""
    found = leaks(_masked(log.text), forbidden=[str(Path.home() / ".cache")])
    if scenario.outcome == "succeeded" and log.status != 0:
        found.append(f"ended with {log.status}, should have succeeded")
    if scenario.outcome == "failed" and log.status == 0:
        found.append("ended with 0, should have failed")
    if scenario.line is not None and log.line is None:
        found.append(f"no line shows {scenario.line!r}")
    return found


def _masked(text: str, *, back: bool = False) -> str:
    for word, mask in _TOOL_WORDS:
        text = text.replace(mask, word) if back else text.replace(word, mask)
    return text


def keep(log: Log, folder: Path = FIXTURES) -> None:
    """Write the log and its expectation."""
    (folder / f"{log.stem}.log").write_text(log.text, encoding="utf-8", newline="")
    (folder / f"{log.stem}.yaml").write_text(
        yaml.safe_dump(log.expected, sort_keys=False, allow_unicode=True, width=200)
    )


def _environment(world: World, authority: Authority) -> dict[str, str]:
    """An agent's environment that trusts the lab's authority beside the public ones."""
    public = _SYSTEM_TRUST.read_text() if _SYSTEM_TRUST.exists() else ""
    trust = world.write("/etc/ssl/certs/ca-certificates.crt", public + authority.certificate.read_text())
    env = world.environment(dict.fromkeys(_TRUST, str(trust)))
    env.pop("SSL_CERT_DIR", None)
    env["PATH"] = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"
    return env | {"GIT_CONFIG_NOSYSTEM": "1", "TERM": "dumb"}


def _scrubber(stage: Stage) -> Scrubber:
    home = Path.home()
    texts = [(str(stage.chest.root), "/opt/tools"), (f"{home}/.pyenv/versions", "/opt/python"), (f"{home}/", "/home/ci/"),
             (platform.release(), "6.1.0-28-amd64")]  # fmt: skip
    return Scrubber(base=stage.world.base, texts=[*texts, *stage.texts], ports=stage.ports)


def _say_version(scenario: Scenario, stage: Stage) -> str:
    command = " ".join(scenario.version or (scenario.tool, "--version"))
    env = stage.env | {"HOME": os.environ.get("HOME", "/")}
    # Tools outside the world say the same each time, and some take seconds for it.
    shared = str(stage.world.base) not in env["PATH"] and ".." not in command
    key = (command, env["PATH"])
    if shared and key in _versions:
        return _versions[key]
    done = subprocess.run(
        ["bash", "-c", command], cwd=stage.world.temp, env=env, capture_output=True, text=True, check=False
    )
    if shared:
        _versions[key] = done.stdout + done.stderr
    return done.stdout + done.stderr


def _command(plain: str, script: str) -> str:
    """The last command that the shell echoed, or the script's last line."""
    echoed = [line[2:] for line in plain.splitlines() if re.match(r"\+ [^\s]", line)]
    return (echoed or [line for line in script.splitlines() if line.strip()])[-1].strip()


def _root_line(scenario: Scenario, text: str) -> int | None:
    if scenario.line is None:
        return None
    for number, line in enumerate(text.split("\n"), start=1):
        if re.search(scenario.line, line) and not re.search(r"(?:^|[\]Z] )\+{1,3} ", line):
            return number
    return None


def _framed(text: str, frame: str, status: int, *, aborted: bool) -> str:
    """The log as a CI server would keep it: as it is, with its closing line, with time stamps before each line."""
    if frame == "plain":
        return text
    if text and not text.endswith("\n"):
        text += "\n"
    text += _closing(frame, status, aborted=aborted) + "\n"
    lines = text.split("\n")
    stamped = [_stamp(frame, number) + line for number, line in enumerate(lines[:-1])]
    return "\n".join([*stamped, lines[-1]])


def _closing(frame: str, status: int, *, aborted: bool) -> str:
    if frame == "clock":
        return "Finished: " + ("ABORTED" if aborted else "FAILURE" if status else "SUCCESS")
    if frame == "iso":
        return f"##[error]Process completed with exit code {status}." if status else "Job succeeded"
    return f"ERROR: Job failed: exit status {status}" if status else "Job succeeded"


def _stamp(frame: str, number: int) -> str:
    moment = _START + dt.timedelta(seconds=number * 0.37)
    if frame == "iso":
        return f"{moment:%Y-%m-%dT%H:%M:%S.%f}0Z "
    return f"[{moment:%Y-%m-%d %H:%M:%S}] " if frame == "clock" else ""
