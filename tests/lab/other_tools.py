"""The tools of the labs: found on the machine, or installed once into a cache folder from the public registries.

What can't be had raises `MissingToolError` with the reason, and the scenario that needs it is skipped.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import threading
from dataclasses import dataclass
from pathlib import Path

__all__ = ["Chest", "MissingToolError", "version_of"]


# Scenarios run side by side, and two of them may want the same tool.
_INSTALLING = threading.Lock()


class MissingToolError(Exception):
    """A tool that this machine neither has nor can install."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chest:
    """The cache folder; its path is shown as ``/opt/tools`` in the fixtures."""

    root: Path

    @staticmethod
    def default() -> Chest:
        """The folder named by LOGDOCTOR_LAB_TOOLS, or one in the user's cache."""
        named = os.environ.get("LOGDOCTOR_LAB_TOOLS")
        return Chest(root=Path(named) if named else Path.home() / ".cache" / "logdoctor-lab")

    def system(self, *commands: str) -> Path:
        """The first of these commands that the machine has."""
        for command in commands:
            found = shutil.which(command) or shutil.which(command, path="/usr/sbin:/usr/local/go/bin")
            if found:
                return Path(found)
        raise MissingToolError(f"{' or '.join(commands)} is not installed")

    def npm(self, *packages: str) -> Path:
        """The folder of commands of npm packages (``npm@6``, ``@yarnpkg/cli-dist@4``), installed together."""
        with _INSTALLING:
            return self._npm(packages)

    def _npm(self, packages: tuple[str, ...]) -> Path:
        home = self._home("-".join(packages))
        if not (home / "done").exists():
            (home / "package.json").write_text('{"name": "lab", "version": "1.0.0", "private": true}')
            self._install(
                [str(self.system("npm")), "install", "--no-audit", "--no-fund", "--prefix", str(home), *packages], home
            )
        return home / "node_modules" / ".bin"

    def python(self, version: str) -> Path:
        """An interpreter of a version such as ``3.8``; the newest patch level that is installed."""
        root = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
        found = sorted(root.glob(f"{version}*/bin/python"), key=lambda p: _numbers(p.parts[-3]))
        if found:
            return found[-1]
        if shutil.which(f"python{version}"):
            return Path(str(shutil.which(f"python{version}")))
        raise MissingToolError(f"no Python {version}")

    def venv(self, version: str, *requirements: str) -> Path:
        """A virtual environment with these packages; gives its folder."""
        with _INSTALLING:
            return self._venv(version, requirements)

    def _venv(self, version: str, requirements: tuple[str, ...]) -> Path:
        home = self._home("-".join((f"py{version}", *requirements)))
        if not (home / "done").exists():
            shutil.rmtree(home)
            self._check([str(self.python(version)), "-m", "venv", str(home)])
            self._install([str(home / "bin" / "python"), "-m", "pip", "install", "-q", *requirements], home)
        return home

    def _home(self, name: str) -> Path:
        home = self.root / re.sub(r"[^\w.]+", "-", name).strip("-")
        home.mkdir(parents=True, exist_ok=True)
        return home

    def _install(self, command: list[str], home: Path) -> None:
        self._check(command)
        (home / "done").touch()

    @staticmethod
    def _check(command: list[str]) -> None:
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
        if done.returncode != 0:
            raise MissingToolError(f"{' '.join(command[-3:])}: {done.stderr.strip().splitlines()[-1:]}")


def version_of(output: str) -> str:
    """The first version number in what a tool prints about itself."""
    found = re.search(r"\d+\.\d+(?:\.\d+)*", output)
    return found.group() if found else "0"


def _numbers(text: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.findall(r"\d+", text))
