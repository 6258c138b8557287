"""Go runs that fail: modules from a made-up proxy, checks of sums, the compiler, the tests."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping

from tests.lab.other_support import Scenario, Stage
from tests.lab.rule_server import Answer, Request, Rule

__all__ = ["SCENARIOS", "ready"]

Prepare = Callable[[Stage], str]
HOST = "goproxy.brackwater.example"
_TIDES = "git.brackwater.example/fares/tides"
_MAIN = 'package main\n\nimport "fmt"\n\nfunc main() {\n\tfmt.Println("fares")\n}\n'
_USES = f'package main\n\nimport (\n\t"fmt"\n\n\t"{_TIDES}"\n)\n\nfunc main() {{\n\tfmt.Println(tides.High())\n}}\n'
_MOD = "module git.brackwater.example/fares/app\n\ngo 1.20\n"
_NEEDS = _MOD + f"\nrequire {_TIDES} v1.0.0\n"


def ready(stage: Stage, proxy: str = "off") -> None:
    """Put Go on PATH, with a build cache that all runs share and no way to other toolchains."""
    stage.use(stage.chest.system("go").parent)
    stage.env |= {"GOCACHE": str(stage.chest.root / "go-build"), "GOPATH": str(stage.world.home / "go"), "GOTOOLCHAIN": "local",
                  "GOPROXY": proxy, "GONOSUMDB": "*", "GOFLAGS": "-modcacherw", "GOTELEMETRY": "off"}  # fmt: skip


def _proxy(stage: Stage, *rules: Rule, tls: str = "good") -> str:
    return stage.serve(HOST, [*rules, Rule(path="^/", answer=_answer)], tls=tls)


def _answer(request: Request) -> Answer:
    start = f"/{_TIDES}/@v/"
    path = request.path
    bodies: dict[str, str | bytes] = {
        "list": "v1.0.0\n", "v1.0.0.info": '{"Version": "v1.0.0", "Time": "2026-02-03T04:05:06Z"}',
        "v1.0.0.mod": f"module {_TIDES}\n\ngo 1.20\n", "v1.0.0.zip": _zip(),
    }  # fmt: skip
    name = path.removeprefix(start)
    if path.startswith(start) and name in bodies:
        return Answer(body=bodies[name], kind="application/octet-stream")
    return Answer(status=404, body="not found: module unknown", kind="text/plain")


def _zip() -> bytes:
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w") as archive:
        for name, text in (
            ("go.mod", f"module {_TIDES}\n\ngo 1.20\n"),
            ("tides.go", "package tides\n\n// High gives the water.\nfunc High() int { return 4 }\n"),
        ):
            archive.writestr(zipfile.ZipInfo(f"{_TIDES}@v1.0.0/{name}", (2026, 2, 3, 4, 5, 6)), text)
    return raw.getvalue()


def _build(
    files: Mapping[str, str], script: str, *rules: Rule, tls: str = "good", proxy: bool = False, setup: str = ""
) -> Prepare:
    def prepare(stage: Stage) -> str:
        ready(stage, _proxy(stage, *rules, tls=tls) if proxy else "off")
        for name, text in files.items():
            stage.write(name, text)
        if setup:
            stage.quiet(setup)
        return f"go version\n{script}\n"

    return prepare


def _down(stage: Stage) -> str:
    ready(stage, stage.closed(HOST))
    stage.write("go.mod", _NEEDS)
    stage.write("main.go", _USES)
    return "go mod download\ngo build ./...\n"


def _row(slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:
    return Scenario(
        tool="go", slug=slug, prepare=prepare, failure=failure, line=line, frame=frame, version=("go", "version")
    )


_APP = {"go.mod": _MOD, "main.go": _MAIN}
_USING = {"go.mod": _NEEDS, "main.go": _USES}
_BAD_SUM = f"{_TIDES} v1.0.0 h1:AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=\n{_TIDES} v1.0.0/go.mod h1:BBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBA=\n"
_TEST = 'package main\n\nimport "testing"\n\nfunc TestSummerFare(t *testing.T) {}\n\nfunc TestWinterFare(t *testing.T) {\n\tif got := 12; got != 14 {\n\t\tt.Errorf("winter fare: got %d, want 14", got)\n\t}\n}\n'
_SLOW = 'package main\n\nimport (\n\t"testing"\n\t"time"\n)\n\nfunc TestTides(t *testing.T) { time.Sleep(20 * time.Second) }\n'
_VET = 'package main\n\nimport "fmt"\n\nfunc main() {\n\tfmt.Printf("%d fares\\n", "many")\n}\n'

SCENARIOS = (
    _row("module-not-found", _build({"go.mod": _MOD + "\nrequire git.brackwater.example/fares/berths v0.2.0\n", "main.go": _MAIN}, "go mod download", proxy=True), "resolve-artifact-not-found", "reading https://.*: 404 Not Found", "iso"),
    _row("checksum-mismatch", _build({**_USING, "go.sum": _BAD_SUM}, "go build ./...", proxy=True), "resolve-checksum-mismatch", "checksum mismatch"),
    _row("sum-entry-missing", _build(_USING, "go build ./...", proxy=True), "resolve-lockfile-out-of-date", "missing go.sum entry", "clock"),
    _row("vendor-inconsistent", _build({**_USING, "vendor/modules.txt": "# old\n"}, "go build ./...", proxy=True), "resolve-lockfile-out-of-date", "inconsistent vendoring"),
    _row("proxy-unauthorized", _build(_USING, "go mod download", Rule(path=".", answer=Answer(status=401)), proxy=True), "resolve-unauthorized", "401 Unauthorized", "job"),
    _row("proxy-refused", _down, "resolve-connection-refused", "connection refused"),
    _row("proxy-untrusted", _build(_USING, "go mod download", proxy=True, tls="stranger"), "resolve-tls-untrusted", "certificate signed by unknown authority", "iso"),
    _row("undefined-build", _build({**_APP, "main.go": _MAIN.replace('"fares"', "tariff.Winter, fare")}, "go build -o bin/fares ."), "compile-symbol-not-found", "undefined: tariff", "iso"),
    _row("package-not-in-std", _build({**_APP, "main.go": _MAIN.replace('"fmt"', '"fmt"\n\t_ "faers/tariff"'.replace('"fmt"\n\t', '"fmt"\nimport '))}, "go build ./..."), "compile-symbol-not-found", "is not in std", "clock"),
    _row("type-error", _build({**_APP, "main.go": _MAIN.replace('fmt.Println("fares")', 'var fare int = "high"\n\tfmt.Println(fare)')}, "go build ./..."), "compile-source-error", "cannot use"),
    _row("syntax-error", _build({**_APP, "main.go": _MAIN.replace('Println("fares")', 'Println("fares"')}, "go build ./..."), "compile-source-error", "syntax error", "job"),
    _row("test-failed", _build({**_APP, "fares_test.go": _TEST}, "go build ./...\ngo test ./..."), "test-failed", "--- FAIL: TestWinterFare"),
    _row("test-failed-verbose", _build({**_APP, "fares_test.go": _TEST}, "go test -v -count=1 ./..."), "test-failed", "winter fare: got 12", "iso"),
    _row("test-timed-out", _build({**_APP, "fares_test.go": _SLOW}, "go test -timeout 1s ./..."), "test-timed-out", "panic: test timed out"),
    _row("go-too-old", _build({**_APP, "go.mod": _MOD.replace("1.20", "1.99.0")}, "go build ./..."), "setup-go-version-unsupported", "requires go >= 1.99.0", "clock"),
    _row("no-module-file", _build({"main.go": _MAIN}, "go mod download\ngo build ./..."), "setup-build-file-missing", "go.mod file not found|no modules specified"),
    _row("no-module-file-build", _build({"main.go": _MAIN}, "go build -o bin/fares ./..."), "setup-build-file-missing", "go.mod file not found|does not contain main module", "job"),
    _row("module-file-invalid", _build({**_APP, "go.mod": _MOD + "requires x y\n"}, "go build ./..."), "setup-build-file-invalid", "errors parsing go.mod|unknown directive"),
    _row("vet", _build({**_APP, "main.go": _VET}, "go build ./...\ngo vet ./..."), "compile-style-gate", "Printf format %d", "iso"),
)  # fmt: skip
