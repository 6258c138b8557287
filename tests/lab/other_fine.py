"""Runs that succeed although their logs are full of warnings, ignored errors and failures that were made good."""

from __future__ import annotations

from collections.abc import Callable

from tests.lab import cargo_runs, go_runs
from tests.lab.git_site import serve_git
from tests.lab.npm_registry import manifest, serve_npm, use_npm
from tests.lab.other_compilers import files
from tests.lab.other_support import Scenario, Stage
from tests.lab.pip_index import serve_index, use_pip, write_wheel
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]
_OLD = {"@brackwater/old-tides": "^0.9.1", "quay-clock": "5.0.0", "tide-tables": "^4.0.0"}
_PEER = {"@brackwater/berth-map": "^3.1.0", "@brackwater/tariff-core": "^2.0.0"}


def _npm(npm: str, script: str, needs: dict[str, str], **more: object) -> Prepare:
    def prepare(stage: Stage) -> str:
        use_npm(stage, npm, serve_npm(stage))
        manifest(stage, needs, **more)
        return f"npm --version\n{script}\n"

    return prepare


def _yarn(stage: Stage) -> str:
    url = serve_npm(stage)
    stage.use(stage.chest.system("node").parent)
    stage.use(stage.chest.npm("yarn@1"))
    stage.at_home(".yarnrc", f'registry "{url}/"\ncafile "{stage.env["NODE_EXTRA_CA_CERTS"]}"\n')
    manifest(stage, _PEER, scripts={"build": "node -e \"console.error('Error: chart cache is empty, drawing anew')\""})
    return "yarn install\nyarn build\n"


def _pnpm(stage: Stage) -> str:
    reset = Rule(path="tide-tables", answer=Answer(drop="reset"), times=1)
    url = serve_npm(stage, [reset])
    stage.use(stage.chest.system("node").parent)
    stage.use(stage.chest.npm("pnpm@9"))
    stage.at_home(
        ".npmrc",
        f"registry={url}/\ncafile={stage.env['NODE_EXTRA_CA_CERTS']}\nfetch-retry-mintimeout=50\nfetch-retry-maxtimeout=100\n",
    )
    manifest(stage, _OLD, scripts={"build": "echo built"})
    return "pnpm install --no-frozen-lockfile\npnpm run build\n"


def _pip_recovers(stage: Stage) -> str:
    rules = [
        Rule(path="^/simple/tide", answer=Answer(drop="reset"), times=1),
        Rule(path="^/files", answer=Answer(status=503), times=1),
    ]
    use_pip(stage, "3.12", "pip==26.3", serve_index(stage, rules))
    stage.write("requirements.txt", "tide-tables\ntariff-core<2\n")
    return "pip install -r requirements.txt\npython -c 'import tide_tables; print(tide_tables.VERSION)'\n"


def _pip_old(stage: Stage) -> str:
    use_pip(stage, "3.8", "pip==20.0.2", serve_index(stage))
    return (
        "pip install tariff-core==1.2.0\npip install berth-map winter-plan\npython -c 'import berth_map, winter_plan'\n"
    )


def _git_detached(stage: Stage) -> str:
    url = serve_git(stage)
    return f"git clone {url}/fares.git .\ngit checkout v1.4.0\ngit describe --exact-match HEAD~1 || true\n./build.sh\n"


def _git_retry(stage: Stage) -> str:
    url = serve_git(stage, [Rule(path="^/fares.git", answer=Answer(status=503), times=1)])
    return f'for attempt in 1 2 3; do\n  git clone {url}/fares.git src && break\n  echo "attempt $attempt failed, trying again"\ndone\ncd src\n./build.sh\n'


def _git_optional(stage: Stage) -> str:
    url = serve_git(stage)
    return f"git clone --quiet {url}/fares.git .\ngit fetch origin refs/notes/ci || echo 'no notes, going on'\ngit rev-parse --verify origin/develop || true\n./build.sh\necho done\n"


def _git_push(stage: Stage) -> str:
    url = serve_git(stage)
    return (f"git clone {url}/fares.git .\ngit config user.name 'Release Bot'\ngit config user.email bot@brackwater.example\n./build.sh\n"
            "git tag v1.5.0\ngit push origin v1.5.0\ngit tag -d v9.9.9 || true\n")  # fmt: skip


def _curl_retry(stage: Stage) -> str:
    rules = [
        Rule(path="tide-tool", answer=Answer(status=503), times=1),
        Rule(path="tide-tool", answer=Answer(body="tool")),
    ]
    url = stage.serve("files.brackwater.example", rules)
    return f"curl -fsSL --retry 3 --retry-delay 1 -o tide-tool {url}/tools/tide-tool\ncurl -fsS {url}/tools/optional.tgz -o optional.tgz || echo 'optional tool not there'\nls\n"


def _go(stage: Stage) -> str:
    go_runs.ready(stage)
    stage.write("go.mod", "module git.brackwater.example/fares/app\n\ngo 1.20\n")
    stage.write("fares.go", "package fares\n\nfunc Winter() int { return 12 }\n")
    stage.write("fares_test.go", 'package fares\n\nimport (\n\t"log"\n\t"testing"\n)\n\nfunc TestWinter(t *testing.T) {\n\tlog.Println("ERROR: dial tcp 192.0.2.9:5432: connect: connection refused")\n'
                '\tlog.Println("panic recovered: index out of range [3] with length 2")\n\tt.Log("FAIL path exercised on purpose")\n\tif Winter() != 12 {\n\t\tt.Fatal("winter")\n\t}\n}\n')  # fmt: skip
    return "go build ./...\ngo test -v -count=1 ./...\n"


def _cargo(stage: Stage) -> str:
    cargo_runs.ready(stage)
    stage.write("Cargo.toml", '[package]\nname = "fares"\nversion = "1.4.0"\nedition = "2021"\n')
    stage.write("src/lib.rs", 'fn unused() {}\n\npub fn winter() -> u32 {\n    let spare = 1;\n    12\n}\n\n#[cfg(test)]\nmod tests {\n    #[test]\n    #[should_panic(expected = "no tariff")]\n'
                '    fn refuses() {\n        panic!("error: no tariff");\n    }\n\n    #[test]\n    fn winter() {\n        eprintln!("ERROR tariff service not reachable, using defaults");\n        assert_eq!(super::winter(), 12);\n    }\n}\n')  # fmt: skip
    return "cargo build\ncargo test -- --nocapture\n"


def _pytest(stage: Stage) -> str:
    stage.use(stage.chest.venv("3.12", "pytest==8.3.4", "pytest-cov==6.0.0", "pytest-timeout==2.3.1") / "bin")
    stage.env["PYTHONDONTWRITEBYTECODE"] = "1"
    stage.write("test_fares.py", "import logging\nimport warnings\n\nimport pytest\n\n\ndef test_logs():\n    try:\n        open('/opt/fares/tariff.yaml')\n    except OSError:\n"
                "        logging.getLogger('fares').exception('tariff not readable, falling back')\n    warnings.warn('old tariff', DeprecationWarning)\n\n\n"
                "@pytest.mark.xfail(reason='BW-31')\ndef test_known():\n    assert 12 == 14\n")  # fmt: skip
    return "python --version\npytest -rx -o log_cli=true -o log_cli_level=INFO\n"


def _jest(stage: Stage) -> str:
    stage.use(stage.chest.system("node").parent)
    folder = stage.chest.npm("jest@29.7.0")
    stage.quiet(f"cp -al {folder.parent} node_modules 2>/dev/null || cp -a {folder.parent} node_modules")
    stage.write("package.json", '{"name": "@brackwater/fares", "version": "1.4.0"}')
    stage.write(
        "fares.test.js",
        "test('falls back', () => {\n  console.error(new Error('connect ECONNREFUSED 192.0.2.9:5432'));\n  expect(12).toBe(12);\n});\ntest.skip('later', () => {});\n",
    )
    return "node_modules/.bin/jest --ci\n"


def _twine(stage: Stage) -> str:
    stage.use(stage.chest.venv("3.11", "twine==6.2.0") / "bin")
    url = serve_index(stage, [Rule(path="^/upload", method="POST", answer=Answer(status=503), times=1)])
    write_wheel(stage.project / "dist", "fares", "1.4.0")
    stage.env |= {
        "TWINE_USERNAME": "fares-release",
        "TWINE_PASSWORD": "made-up-for-the-lab",
        "PYTHON_KEYRING_BACKEND": "keyring.backends.null.Keyring",
    }
    return f"twine upload --disable-progress-bar --repository-url {url.replace('/simple', '/upload/')} dist/*\n"


def _ansible(stage: Stage) -> str:
    stage.use(stage.chest.venv("3.11", "ansible-core==2.17.7") / "bin")
    stage.write("hosts.ini", "quay-1\n")
    stage.write("deploy.yml", "- hosts: all\n  connection: local\n  gather_facts: false\n  tasks:\n    - name: Look for the old tariff\n      ansible.builtin.command: test -f /opt/fares/tariff.yaml\n"
                "      ignore_errors: true\n    - name: Go on\n      ansible.builtin.debug:\n        msg: released\n")  # fmt: skip
    stage.env |= {"ANSIBLE_NOCOLOR": "1", "ANSIBLE_PYTHON_INTERPRETER": "auto_silent"}
    return "ansible-playbook -i hosts.ini deploy.yml\n"


def _row(tool: str, slug: str, prepare: Prepare, frame: str = "plain", *version: str) -> Scenario:
    return Scenario(
        tool=tool,
        slug=f"fine-{slug}",
        prepare=prepare,
        failure=None,
        outcome="succeeded",
        frame=frame,
        version=version or None,
    )


_MAKE = "all: clean fares\n\nclean:\n\t-rm build/fares.o\n\t-test -d build\n\nfares:\n\tgcc -Wall -Wextra -o fares fares.c\n\t./fares\n"
_C = '#include <stdio.h>\n\nint main(int argc, char **argv) {\n    int unused;\n    fprintf(stderr, "error: no tariff given, using the default\\n");\n    return 0;\n}\n'
_CMAKE = 'cmake_minimum_required(VERSION 2.8.12)\nproject(fares C)\nmessage(WARNING "tides library not found, building without")\nadd_executable(fares fares.c)\n'
_JAVA = ('import java.util.logging.*;\n\npublic class Fares {\n    public static void main(String[] args) {\n        try {\n            new Thread().stop(); Integer.parseInt("twelve");\n        } catch (RuntimeException error) {\n'
         '            Logger.getLogger("fares").log(Level.SEVERE, "tariff not readable, falling back", error);\n        }\n        System.out.println("BUILD OK");\n    }\n}\n')  # fmt: skip
_SHELL = ("cat <<'TEXT'\nIf the upload fails with 'status: 403 Forbidden', ask the release manager.\nTEXT\nls missing-folder || true\nif ! cp /opt/fares/tariff.yaml .; then\n  echo 'fatal: no tariff; using the default'\nfi\n"
          "grep -c ERROR README || echo 'no errors in README'\n(exit 3) || echo \"optional check ended with $?\"\necho 'Failed tests: 0, errors: 0'\n")  # fmt: skip

SCENARIOS = (
    _row("npm", "deprecations", _npm("6", "npm install --no-progress\nnpm run build", _OLD, scripts={"build": "echo built"}), "iso"),
    _row("npm", "deprecations", _npm("10", "npm install --no-progress\nnpm run build", _OLD, scripts={"build": "echo built"})),
    _row("npm", "peer-warnings", _npm("8", "npm install --legacy-peer-deps --no-progress\nnpm run lint || true\nnpm run build --if-present\nnpm ls || true", _PEER), "clock"),
    _row("npm", "optional-missing", _npm("11", "npm install --no-progress\nnpm run build", _OLD, optionalDependencies={"@brackwater/berths": "^1.0.0"}, scripts={"build": "echo built 0 errors"}), "job"),
    _row("yarn", "warnings", _yarn),
    _row("pnpm", "retry", _pnpm, "iso"),
    _row("pip", "retries", _pip_recovers),
    _row("pip", "incompatible", _pip_old, "clock"),
    _row("git", "detached-head", _git_detached, "iso"),
    _row("git", "clone-retry", _git_retry, "clock"),
    _row("git", "optional-refs", _git_optional, "job"),
    _row("git", "push", _git_push, "job"),
    _row("curl", "retry", _curl_retry, "job"),
    _row("go", "logged-errors", _go, "iso", "go", "version"),
    _row("cargo", "should-panic", _cargo),
    _row("pytest", "logged-traceback", _pytest, "job"),
    _row("jest", "console-error", _jest, "plain", "../work/fares/node_modules/.bin/jest", "--version"),
    _row("twine", "retry", _twine, "clock"),
    _row("ansible", "ignored", _ansible),
    _row("make", "ignored-errors", files("make", {"Makefile": _MAKE, "fares.c": _C}, needs=("gcc", "make")), "job"),
    _row("cmake", "warnings", files("cmake -S . -B build\ncmake --build build\n./build/fares", {"CMakeLists.txt": _CMAKE, "fares.c": _C}, needs=("gcc", "cmake")), "iso"),
    _row("javac", "logged-exception", files("javac -Xlint:all Fares.java\njava -cp . Fares", {"Fares.java": _JAVA}, needs=("javac", "java")), "clock"),
    _row("shell", "allowed-to-fail", files(_SHELL, {"README": "Fares\n"}), "clock", "bash", "--version"),
)  # fmt: skip
