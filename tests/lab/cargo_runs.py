"""Cargo runs that fail, with a made-up registry beside the code."""

from __future__ import annotations

import hashlib
import io
import json
import tarfile
from collections.abc import Callable
from pathlib import Path

from tests.lab.other_support import Scenario, Stage
from tests.lab.rule_server import Answer, Request, Rule

__all__ = ["SCENARIOS", "ready"]

Prepare = Callable[[Stage], str]
HOST = "crates.brackwater.example"
_HEAD = '[package]\nname = "fares"\nversion = "1.4.0"\nedition = "2021"\n'
_LIB = "pub fn winter() -> u32 {\n    12\n}\n"
_TESTS = (
    _LIB
    + "\n#[cfg(test)]\nmod tests {\n    #[test]\n    fn summer() {}\n\n    #[test]\n    fn winter_fare() {\n        assert_eq!(super::winter(), 14);\n    }\n}\n"
)


def ready(stage: Stage) -> None:
    """Put cargo on PATH as the machine has it, with a home folder of its own."""
    cargo = stage.chest.system("cargo")
    stage.use(cargo.parent)
    stage.env |= {"CARGO_HOME": str(stage.world.home / ".cargo"), "CARGO_TERM_COLOR": "never", "CARGO_NET_RETRY": "1"}
    if (Path.home() / ".rustup").exists():
        stage.env["RUSTUP_HOME"] = str(Path.home() / ".rustup")


def _project(
    script: str,
    lib: str = _LIB,
    needs: str = "",
    head: str = _HEAD,
    *,
    rules: tuple[Rule, ...] = (),
    lock: bool = False,
    tls: str = "good",
    down: bool = False,
) -> Prepare:
    """A library that uses the registry; `lock`: it was locked before the last dependency came."""

    def prepare(stage: Stage) -> str:
        ready(stage)
        url = _closed(stage) if down else _registry(stage, rules, tls)
        stage.at_home(".cargo/config.toml", f'[registries.brackwater]\nindex = "sparse+{url}/index/"\n')
        stage.write("src/lib.rs", lib)
        if lock:
            stage.write("Cargo.toml", f"{head}[dependencies]\n")
            stage.quiet("cargo generate-lockfile --offline")
        stage.write("Cargo.toml", f"{head}[dependencies]\n{needs}")
        return f"cargo --version\n{script}\n"

    return prepare


def _closed(stage: Stage) -> str:
    return stage.closed(HOST)


def _registry(stage: Stage, rules: tuple[Rule, ...], tls: str) -> str:
    address: list[str] = []

    def answer(request: Request) -> Answer:
        return _answer(request, address[0])

    address.append(stage.serve(HOST, [*rules, Rule(path="^/", answer=answer)], tls=tls))
    return address[0]


def _answer(request: Request, url: str) -> Answer:
    if request.path == "/index/config.json":
        return Answer(body=json.dumps({"dl": f"{url}/dl"}), kind="application/json")
    if request.path == "/index/ti/de/tides":
        lines = [json.dumps({"name": "tides", "vers": version, "deps": [], "cksum": hashlib.sha256(_crate(version)).hexdigest(),
                             "features": {}, "yanked": False}) for version in ("1.0.0", "1.1.0")]  # fmt: skip
        return Answer(body="\n".join(lines) + "\n", kind="text/plain")
    if request.path.startswith("/dl/tides/"):
        return Answer(body=_crate(request.path.split("/")[3]), kind="application/octet-stream")
    return Answer(status=404, body="no such crate")


def _crate(version: str) -> bytes:
    raw = io.BytesIO()
    with tarfile.open(fileobj=raw, mode="w:gz", compresslevel=1) as archive:
        for name, text in (
            ("Cargo.toml", f'[package]\nname = "tides"\nversion = "{version}"\n'),
            ("src/lib.rs", "pub fn high() -> u32 { 4 }\n"),
        ):
            entry = tarfile.TarInfo(f"tides-{version}/{name}")
            entry.size = len(text)
            archive.addfile(entry, io.BytesIO(text.encode()))
    body = bytearray(raw.getvalue())
    body[4:8] = b"\0\0\0\0"
    return bytes(body)


def _no_manifest(stage: Stage) -> str:
    ready(stage)
    return "cargo --version\ncargo build --release\n"


def _row(slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:
    return Scenario(tool="cargo", slug=slug, prepare=prepare, failure=failure, line=line, frame=frame)


_TIDES = 'tides = {version = "1", registry = "brackwater"}\n'

SCENARIOS = (
    _row("package-not-found", _project("cargo build", needs='berths = {version = "1", registry = "brackwater"}\n'), "resolve-artifact-not-found", "error: no matching package", "iso"),
    _row("version-not-found", _project("cargo build", needs=_TIDES.replace('"1"', '"9"')), "resolve-version-not-found", "error: failed to select a version"),
    _row("lock-out-of-date", _project("cargo build --locked", needs=_TIDES, lock=True), "resolve-lockfile-out-of-date", "error: .*lock file", "clock"),
    _row("lock-missing", _project("cargo test --locked", needs=_TIDES), "resolve-lockfile-out-of-date", "error: .*lock file"),
    _row("offline", _project("cargo build --offline", needs=_TIDES), "resolve-offline-miss", "error: (no matching package|failed)|offline", "job"),
    _row("checksum", _project("cargo build", needs=_TIDES, rules=(Rule(path="^/dl/", answer=Answer(body=b"<html>sign in</html>")),)), "resolve-checksum-mismatch", "failed to verify the checksum"),
    _row("unauthorized", _project("cargo fetch", needs=_TIDES, rules=(Rule(path="^/index/ti", answer=Answer(status=401)),)), "resolve-unauthorized", "401|authenticate|unauthorized", "iso"),
    _row("registry-down", _project("cargo fetch", needs=_TIDES, down=True), "resolve-connection-refused", "(Could not|Failed to) connect"),
    _row("registry-untrusted", _project("cargo fetch", needs=_TIDES, tls="stranger"), "resolve-tls-untrusted", "SSL certificate|certificate", "clock"),
    _row("registry-503", _project("cargo fetch", needs=_TIDES, rules=(Rule(path="^/index/ti", answer=Answer(status=503)),)), "resolve-server-error", "503"),
    _row("name-not-found", _project("cargo build", _LIB.replace("12", "12 + surcharge")), "compile-symbol-not-found", r"error\[E0425\]"),
    _row("import-not-found", _project("cargo build", "use tides::high;\n" + _LIB), "compile-symbol-not-found", r"error\[E0432\]", "iso"),
    _row("type-mismatch", _project("cargo build", _LIB.replace("12", '"twelve"')), "compile-source-error", r"error\[E0308\]", "job"),
    _row("borrow", _project("cargo check", "pub fn winter() -> String {\n    let fare = String::new();\n    drop(fare);\n    fare\n}\n"), "compile-source-error", r"error\[E0382\]"),
    _row("warnings-denied", _project("export RUSTFLAGS='-D warnings'\ncargo build", "fn unused() {}\n" + _LIB), "compile-warning-as-error", "error: function `unused` is never used", "clock"),
    _row("test-failed", _project("cargo test", _TESTS), "test-failed", "thread 'tests::winter_fare'.* panicked at"),
    _row("rust-version", _project("cargo build", head=_HEAD + 'rust-version = "1.999"\n'), "setup-rust-version-unsupported", "rustc .* is not supported", "iso"),
    _row("edition", _project("cargo build", head=_HEAD.replace("2021", "2048")), "setup-rust-version-unsupported", "edition"),
    _row("manifest-missing", _no_manifest, "setup-build-file-missing", "could not find `Cargo.toml`", "job"),
    _row("manifest-invalid", _project("cargo build", head=_HEAD.replace("version =", "version")), "setup-build-file-invalid", "error: "),
    _row("linker-missing", _project("export CARGO_TARGET_X86_64_UNKNOWN_LINUX_GNU_LINKER=brackwater-ld\nexport CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=brackwater-ld\ncargo test", _TESTS), "compile-link-error", "linker `brackwater-ld` not found", "clock"),
)  # fmt: skip
