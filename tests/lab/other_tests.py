"""Test runners, type checkers and linters that fail: pytest, jest, vitest, tsc, eslint, ruff, webpack."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping

from tests.lab.other_support import Scenario, Stage

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]
_PYTEST = ("pytest==8.3.4", "pytest-cov==6.0.0", "pytest-timeout==2.3.1")
_OLD_PYTEST = ("pytest==5.4.3",)


def _pytest(script: str, content: Mapping[str, str], *, old: bool = False) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.use(stage.chest.venv("3.8" if old else "3.12", *(_OLD_PYTEST if old else _PYTEST)) / "bin")
        stage.env["PYTHONDONTWRITEBYTECODE"] = "1"
        for name, text in content.items():
            stage.write(name, text)
        return f"python --version\n{script}\n"

    return prepare


def _node(
    packages: tuple[str, ...],
    script: str,
    content: Mapping[str, str],
    *,
    scripts: Mapping[str, str] | None = None,
    npm: bool = False,
) -> Prepare:
    """Tools of the registry, with the project's node_modules pointing at them."""

    def prepare(stage: Stage) -> str:
        stage.use(stage.chest.system("node").parent)
        folder = stage.chest.npm(*packages)
        if npm:
            stage.use(stage.chest.npm("npm@10"))
        stage.use(stage.project / "node_modules" / ".bin")
        stage.quiet(f"cp -al {folder.parent} node_modules 2>/dev/null || cp -a {folder.parent} node_modules")
        stage.at_home(".npmrc", "update-notifier=false\n")
        manifest = {"name": "@brackwater/fares", "version": "1.4.0", "private": True, "scripts": dict(scripts or {})}
        stage.write("package.json", json.dumps(manifest, indent=2))
        for name, text in content.items():
            stage.write(name, text)
        return f"node --version\n{script}\n"

    return prepare


def _row(tool: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain") -> Scenario:  # noqa: PLR0917 - the columns of a table
    # The first number that webpack prints about itself is the kernel's.
    version = ("grep '\"version\"' ../work/fares/node_modules/webpack/package.json",) if tool == "webpack" else None
    return Scenario(tool=tool, slug=slug, prepare=prepare, failure=failure, line=line, frame=frame, version=version)


_FARES = {"fares.py": "def winter():\n    return 12\n\n\ndef summer():\n    return 14\n"}
_FAIL = "import fares\n\n\ndef test_summer():\n    assert fares.summer() == 14\n\n\ndef test_winter():\n    assert fares.winter() == 14\n"
_CFG = {
    "tsconfig.json": '{"compilerOptions": {"strict": true, "noEmit": true, "target": "ES2020", "moduleResolution": "node", "module": "commonjs", "types": []}, "include": ["src"]}\n'
}
_JS = {"fares.js": "exports.winter = () => 12;\nexports.summer = () => 14;\n"}
_JEST_FAIL = (
    "const fares = require('./fares');\n\ntest('winter fare', () => {\n  expect(fares.winter()).toBe(14);\n});\n"
)
_VITEST_FAIL = "import { expect, test } from 'vitest';\n\ntest('winter fare', () => {\n  expect(12).toBe(14);\n});\n"
_TS4, _TS5 = ("typescript@4.9.5",), ("typescript@5.9.3",)
_JEST, _VITEST, _ESLINT, _WEBPACK = (
    ("jest@29.7.0",),
    ("vitest@2.1.9",),
    ("eslint@8.57.1",),
    ("webpack@5.97.1", "webpack-cli@5.1.4"),
)
_LINT = {".eslintrc.json": '{"root": true, "env": {"node": true, "es2022": true}, "extends": "eslint:recommended"}\n'}

SCENARIOS = (
    _row("pytest", "failed", _pytest("pytest", {**_FARES, "test_fares.py": _FAIL}), "test-failed", "^E  .*assert 12 == 14"),
    _row("pytest", "failed-verbose", _pytest("python -m pytest -v --tb=short -p no:cacheprovider", {**_FARES, "test_fares.py": _FAIL}), "test-failed", r"E  .*assert 12 == 14", "iso"),
    _row("pytest", "failed", _pytest("pytest -rf", {**_FARES, "test_fares.py": _FAIL}, old=True), "test-failed", "E  .*assert 12 == 14", "clock"),
    _row("pytest", "collection-import", _pytest("pytest --strict-markers", {"test_fares.py": "import brackwater_tides\n\n\ndef test_tides():\n    pass\n"}), "setup-python-module-missing", "ModuleNotFoundError: No module named 'brackwater_tides'", "job"),
    _row("pytest", "collection-import", _pytest("pytest", {"test_fares.py": "from brackwater.tides import high\n\n\ndef test_tides():\n    pass\n"}, old=True), "setup-python-module-missing", "ModuleNotFoundError: No module named 'brackwater'", "iso"),
    _row("pytest", "conftest-import", _pytest("pytest", {"conftest.py": "import brackwater_fixtures\n", "test_fares.py": _FAIL, **_FARES}), "setup-python-module-missing", "ModuleNotFoundError"),
    _row("pytest", "none-collected", _pytest("pytest -v", _FARES), "test-none-found", "no tests ran|collected 0 items", "clock"),
    _row("pytest", "none-selected", _pytest("pytest -k tides", {**_FARES, "test_fares.py": _FAIL}), "test-none-found", "2 deselected", "iso"),
    _row("pytest", "coverage", _pytest("pytest --cov=fares --cov-fail-under=90", {**_FARES, "test_fares.py": _FAIL.split("\n\n\ndef test_winter", maxsplit=1)[0] + "\n"}), "test-coverage-gate", "(Coverage failure|FAIL Required test coverage)", "job"),
    _row("pytest", "timeout", _pytest("pytest --timeout=1", {"test_fares.py": "import time\n\n\ndef test_tides():\n    time.sleep(20)\n"}), "test-timed-out", "Failed: Timeout|Timeout >1", "iso"),
    _row("jest", "failed", _node(_JEST, "npx jest --ci", {**_JS, "fares.test.js": _JEST_FAIL}), "test-failed", "● winter fare"),
    _row("jest", "no-tests", _node(_JEST, "jest --ci", _JS), "test-none-found", "No tests found, exiting with code 1", "iso"),
    _row("jest", "module-missing", _node(_JEST, "jest --ci", {**_JS, "fares.test.js": "const f = require('@brackwater/tides');\n" + _JEST_FAIL}), "setup-node-module-missing", "Cannot find module '@brackwater/tides'", "clock"),
    _row("jest", "file-missing", _node(_JEST, "jest --ci", {"fares.test.js": _JEST_FAIL}), "compile-symbol-not-found", "Cannot find module './fares'"),
    _row("jest", "coverage", _node(_JEST, "jest --ci --coverage --coverageThreshold='{\"global\":{\"functions\":90}}'", {**_JS, "fares.test.js": _JEST_FAIL.replace("14", "12")}), "test-coverage-gate", "coverage threshold for functions", "job"),
    _row("vitest", "failed", _node(_VITEST, "vitest run", {"fares.test.js": _VITEST_FAIL}), "test-failed", "FAIL .*winter fare", "iso"),
    _row("vitest", "no-tests", _node(_VITEST, "vitest run", _JS), "test-none-found", "No test files found"),
    _row("tsc", "name", _node(_TS5, "tsc --version\ntsc -p .", {**_CFG, "src/fares.ts": "export const fare: number = winterFare();\n"}), "compile-symbol-not-found", "error TS2304", "iso"),
    _row("tsc", "type", _node(_TS4, "tsc -p .", {**_CFG, "src/fares.ts": "export const fare: number = 'twelve';\n"}), "compile-source-error", "error TS2322"),
    _row("tsc", "relative-module", _node(_TS4, "tsc --noEmit -p tsconfig.json", {**_CFG, "src/fares.ts": "import { winter } from './tariff';\nexport const fare: number = winter();\n"}), "compile-symbol-not-found", "error TS2307", "clock"),
    _row("tsc", "bare-module", _node(_TS5, "npm run build", {**_CFG, "src/fares.ts": "import { high } from '@brackwater/tides';\nexport const water: number = high();\n"}, scripts={"build": "tsc -p ."}, npm=True), "setup-node-module-missing", "error TS2307", "job"),
    _row("tsc", "property", _node(_TS5, "tsc -p . --pretty", {**_CFG, "src/fares.ts": "const fares = { winter: 12 };\nexport const fare = fares.summer;\n"}), "compile-symbol-not-found", "TS2339"),
    _row("eslint", "unused", _node(_ESLINT, "npm run lint", {**_LINT, "src/fares.js": "const winter = 12;\nconsole.log(summer);\n"}, scripts={"lint": "eslint src"}, npm=True), "compile-style-gate", "no-unused-vars", "iso"),
    _row("webpack", "relative-module", _node(_WEBPACK, "webpack --mode production", {"src/index.js": "import { winter } from './tariff';\nconsole.log(winter);\n"}), "compile-symbol-not-found", r"Module not found: Error: Can't resolve './tariff'"),
    _row("webpack", "bare-module", _node(_WEBPACK, "npm run build", {"src/index.js": "import tides from '@brackwater/tides';\nconsole.log(tides);\n"}, scripts={"build": "webpack --mode production"}, npm=True), "setup-node-module-missing", r"Module not found: Error: Can't resolve '@brackwater/tides'", "clock"),
)  # fmt: skip
