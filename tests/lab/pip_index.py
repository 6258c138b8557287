"""A package index for the Python labs: made-up projects as wheels or source archives, and an upload address."""

from __future__ import annotations

import hashlib
import io
import re
import tarfile
import zipfile
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tests.lab.rule_server import Answer, Request, Rule

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from tests.lab.other_support import Stage

__all__ = ["HOST", "Project", "serve_index", "use_pip", "wheel"]

HOST = "pypi.brackwater.example"


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """A made-up project; `source` files make it a source archive, else it is a wheel."""

    versions: Sequence[str] = ("1.0.0",)
    requires: Sequence[str] = ()
    python: str = ""
    tag: str = "py3-none-any"
    source: Mapping[str, str] = field(default_factory=dict)


_SETUP = "from setuptools import setup, Extension\nsetup(name='tide-gauge', version='1.0.0', ext_modules=[Extension('gauge', ['gauge.c'])])\n"
PROJECTS: Mapping[str, Project] = {
    "tide-tables": Project(versions=("4.0.0", "4.1.0")),
    "tariff-core": Project(versions=("1.2.0", "2.0.0"), requires=("tide-tables<5",)),
    "berth-map": Project(requires=("tariff-core<2",)),
    "winter-plan": Project(requires=("tariff-core>=2",)),
    "quay-clock": Project(versions=("5.0.0",), python=">=3.14"),
    "harbour-native": Project(versions=("2.0.0",), tag="cp27-cp27m-win32"),
    "tide-gauge": Project(source={"setup.py": _SETUP, "gauge.c": "int gauge;\n"}),
    "depth-sounder": Project(
        source={
            "setup.py": _SETUP.replace("tide-gauge", "depth-sounder"),
            "gauge.c": "#include <sonar/depth.h>\nint gauge;\n",
        }
    ),
    "old-planner": Project(source={"setup.py": "raise RuntimeError('planner needs PLANNER_HOME')\n"}),
}


def serve_index(stage: Stage, rules: Sequence[Rule] = (), *, tls: str = "good") -> str:
    """Start the index; the given rules come first. Gives the address of its simple pages."""
    address = stage.serve(HOST, [*rules, Rule(path="^/", method="GET|HEAD|POST", answer=_answer)], tls=tls)
    return f"{address}/simple"


def use_pip(stage: Stage, python: str, pip: str, url: str, *more: str, settings: str = "") -> None:
    """Give the project a virtual environment of its own with this pip, pointed at the index."""
    template = stage.chest.venv(python, pip, *more)
    stage.quiet(
        f"{{ cp -al {template} .venv 2>/dev/null || cp -a {template} .venv; true; }} && sed -i '1s#.*/python[0-9.]*#\\#!{stage.project}/.venv/bin/python#' .venv/bin/pip*"
    )
    stage.use(stage.project / ".venv" / "bin")
    stage.at_home(
        ".config/pip/pip.conf",
        f"[global]\nindex-url = {url}\nretries = 2\ntimeout = 3\ndisable-pip-version-check = true\n{settings}",
    )
    stage.env["PIP_CONFIG_FILE"] = str(stage.world.home / ".config" / "pip" / "pip.conf")


def wheel(name: str, version: str, project: Project | None = None) -> bytes:
    """The bytes of a wheel."""
    project = project or Project()
    module = name.replace("-", "_")
    info = f"{module}-{version}.dist-info"
    metadata = f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n" + "".join(
        f"Requires-Dist: {need}\n" for need in project.requires
    )
    metadata += f"Requires-Python: {project.python}\n" if project.python else ""
    files = {f"{module}.py": f"VERSION = {version!r}\n", f"{info}/METADATA": metadata,
             f"{info}/WHEEL": f"Wheel-Version: 1.0\nGenerator: lab\nRoot-Is-Purelib: true\nTag: {project.tag}\n"}  # fmt: skip
    files[f"{info}/RECORD"] = "".join(f"{path},,\n" for path in (*files, f"{info}/RECORD"))
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w") as archive:
        for path, text in files.items():
            archive.writestr(zipfile.ZipInfo(path, (2026, 2, 3, 4, 5, 6)), text)
    return raw.getvalue()


def write_wheel(folder: Path, name: str, version: str) -> None:
    """A built wheel in a project's dist folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name.replace('-', '_')}-{version}-py3-none-any.whl").write_bytes(wheel(name, version))


def _answer(request: Request) -> Answer:
    path = request.path.split("?")[0]
    if request.method == "POST":
        return Answer(body="OK", kind="text/plain")
    if found := re.fullmatch(r"/simple/([\w.-]+)/", path):
        return _page(found[1])
    if found := re.fullmatch(r"/files/([\w.-]+)", path):
        return Answer(body=_file(found[1]), kind="application/octet-stream")
    return Answer(status=404, body="no such page")


def _page(name: str) -> Answer:
    if name not in PROJECTS:
        return Answer(status=404, body="no such project")
    links = []
    for version in PROJECTS[name].versions:
        file = _file_name(name, version)
        needs = PROJECTS[name].python.replace(">", "&gt;")
        python = f' data-requires-python="{needs}"' if needs else ""
        links.append(
            f'<a href="/files/{file}#sha256={hashlib.sha256(_file(file)).hexdigest()}"{python}>{file}</a><br/>'
        )
    return Answer(body="<!DOCTYPE html><html><body>" + "\n".join(links) + "</body></html>")


def _file_name(name: str, version: str) -> str:
    project, module = PROJECTS[name], name.replace("-", "_")
    return f"{name}-{version}.tar.gz" if project.source else f"{module}-{version}-{project.tag}.whl"


def _file(file: str) -> bytes:
    for name, project in PROJECTS.items():
        for version in project.versions:
            if _file_name(name, version) == file:
                return _archive(name, version, project) if project.source else wheel(name, version, project)
    return b""


def _archive(name: str, version: str, project: Project) -> bytes:
    top = f"{name}-{version}"
    files = {"PKG-INFO": f"Metadata-Version: 1.1\nName: {name}\nVersion: {version}\n", **project.source}
    raw = io.BytesIO()
    with tarfile.open(fileobj=raw, mode="w:gz", compresslevel=1) as archive:
        for path, text in files.items():
            entry = tarfile.TarInfo(f"{top}/{path}")
            entry.size = len(text.encode())
            archive.addfile(entry, io.BytesIO(text.encode()))
    body = bytearray(raw.getvalue())
    body[4:8] = b"\0\0\0\0"
    return bytes(body)
