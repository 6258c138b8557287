"""What is fuzzed: each target takes any bytes and ends quietly, or with the one error that a person is shown.

A target's seeds are inputs from which a fuzzer starts.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.errors import InputError
from logdoctor.intake import LineReader, clean, open_log, printable
from logdoctor.reports.formats import FORMATS, Beside, render
from tests.support import FIXTURES, ROOT, catalogue, diagnoser

if TYPE_CHECKING:
    from collections.abc import Callable

    from logdoctor.diagnosis import Diagnoser
    from logdoctor.model import Verdict

__all__ = ["TARGETS", "Target"]

LIMIT = 1 << 20
POM = b"<project><modelVersion>4.0.0</modelVersion><groupId>example.brackwater</groupId><artifactId>fares</artifactId><version>1</version><repositories><repository><id>a</id><url>https://repo.brackwater.example/a</url></repository></repositories><distributionManagement><repository><id>r</id><url>${u}</url></repository></distributionManagement></project>"
SETTINGS = b"<settings><mirrors><mirror><id>m</id><mirrorOf>*,!a</mirrorOf><url>https://repo.brackwater.example/m</url></mirror></mirrors><servers><server><id>m</id><username>ci</username><password>${env.P}</password></server></servers><profiles><profile><id>p</id><activation><jdk>[11,17)</jdk></activation></profile></profiles></settings>"
ENTRY = (ROOT / "knowledge/deploy/forbidden.yaml").read_bytes()
FILES: dict[str, bytes] = {
    "pom.xml": POM,
    "package.json": b'{"name": "@brackwater/fares", "version": "1.0.0", "private": true, "publishConfig": {"registry": "https://repo.brackwater.example/npm/"}, "engines": {"node": ">=18"}, "scripts": {"test": "jest"}}',
    ".npmrc": b"registry=https://repo.brackwater.example/npm/\n//repo.brackwater.example/npm/:_authToken=${T}\n@brackwater:registry=http://npm.brackwater.example\nalways-auth=true\n",
    "pip.conf": b"[global]\nindex-url = https://ci:pw@pypi.brackwater.example/simple\nextra-index-url = https://pypi.brackwater.example/other\n[install]\ntrusted-host = pypi.brackwater.example\n",
    "requirements.txt": b"--index-url https://pypi.brackwater.example/simple\nfares==1.0 \\\n  --hash=sha256:00\n-r other.txt\n",
    ".pypirc": b"[distutils]\nindex-servers = house\n[house]\nrepository = https://pypi.brackwater.example/legacy/\nusername = ci\n",
    "pyproject.toml": b'[tool.uv]\nindex-url = "https://pypi.brackwater.example/simple"\n[[tool.poetry.source]]\nname = "house"\nurl = "https://pypi.brackwater.example/simple"\n[tool.uv.sources]\nfares = { index = "house" }\n',
    "build.gradle": b"group = 'example.brackwater'\nrepositories { maven { url 'https://repo.brackwater.example/m'\n credentials { username = 'ci'; password = \"$pw\" } } }\npublishing { repositories { maven { url = uri(\"http://repo.brackwater.example/r\") } } }\n",
    "build.gradle.kts": b'repositories { maven { url = uri("https://repo.brackwater.example/m") } }\n',
    "gradle.properties": b"org.gradle.jvmargs=-Xmx2g\nsystemProp.https.proxyHost=proxy.brackwater.example\nuser\\u003d=a\\\n  b\n",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A function under test and where a fuzzer starts."""

    test: Callable[[bytes], None]
    seeds: tuple[bytes, ...]


def _one_line(error: InputError) -> None:
    if len(str(error).splitlines()) != 1:
        raise AssertionError(str(error))


def _intake(data: bytes) -> None:
    try:
        with open_log(data, name="fuzzed", limit=LIMIT) as log:
            raw = b"".join(log.blocks(1 << 12))
            reader = LineReader(log)
            spans = [reader.line_at(len(raw) // 2), *reader.after(0, 20), *reader.before(len(raw), 20)]
            for start, end in spans:
                assert 0 <= start <= end <= len(raw) or not raw
                text = clean(reader.text(start, end)).text
                assert printable(printable(text)) == printable(text)
    except InputError as error:
        _one_line(error)


def _verdict(data: bytes) -> Verdict | None:
    try:
        with open_log(data, name="fuzzed", limit=LIMIT) as log:
            return diagnoser().diagnose(log)
    except InputError:
        return None


def _diagnosis(data: bytes) -> None:
    verdict = _verdict(data)
    if verdict is not None and verdict.root is not None:
        assert 1 <= verdict.root.line <= verdict.source.lines


def _report(form: str, data: bytes) -> None:
    verdict = _verdict(data)
    if verdict is not None:
        text = render(form, verdict, Beside())
        text.encode("utf-8")
        assert "\x1b" not in text


@cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="fuzzed-"))


def _file(name: str, data: bytes) -> Path:
    path = _folder() / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


def _build_file(name: str, data: bytes) -> None:
    from logdoctor.setup_files.witness import call_witness

    path = _file(f"build/{name}/{name}", data)
    try:
        witness = call_witness(settings=None, builds=[path], toolchains=None, env_file=None)
        witness.setup()
        witness.testify({"repository_id": "r", "url": "https://repo.brackwater.example/r", "request": "write"})
    except InputError as error:
        _one_line(error)


def _settings(data: bytes) -> None:
    from logdoctor.setup_files.witness import call_witness

    pom = _file("settings/pom.xml", POM)
    witness = call_witness(settings=_file("settings/settings.xml", data), builds=[pom], toolchains=None, env_file=None)
    witness.setup()
    witness.testify({"repository_id": "r", "url": "https://repo.brackwater.example/r", "request": "read"})


def _environment(data: bytes) -> None:
    from logdoctor.setup_files.witness import call_witness

    try:
        call_witness(settings=None, builds=[], toolchains=None, env_file=_file("env/agent.env", data)).setup()
    except InputError as error:
        _one_line(error)


def _teams(data: bytes) -> None:
    from logdoctor.reports.team_file import parse_team_file

    try:
        parse_team_file(data, "teams.yaml")
    except InputError as error:
        _one_line(error)


def _owners(data: bytes) -> None:
    from logdoctor.reports.codeowners import find_code_owners

    _file("owners/CODEOWNERS", data)
    find_code_owners(_folder() / "owners")


def _layered(data: bytes, name: str) -> Diagnoser:
    from logdoctor.api import standard_diagnoser
    from logdoctor.catalogue import load_catalogue

    empty = _folder() / "empty"
    empty.mkdir(exist_ok=True)
    _file(f"layer/{name}", data)
    return standard_diagnoser(load_catalogue(user=_folder() / "layer", built_in=empty))


def _knowledge(name: str, data: bytes) -> None:
    for old in (_folder() / "layer").rglob("*.yaml"):
        old.unlink()
    made = _layered(data, name)
    with open_log(b"+ curl x\nstatus: 403 Forbidden\nzzzz\nFinished: FAILURE\n", name="fuzzed") as log:
        made.diagnose(log)


def _logs() -> tuple[bytes, ...]:
    kept = [path.read_bytes() for path in sorted((FIXTURES / "logs").rglob("*.log"))[:40]]
    odd = [
        b"\xff\xfea\0\n\0",
        b"\x1f\x8b\x08\0",
        b"\xfd7zXZ\0",
        b"\x28\xb5\x2f\xfd",
        b"PK\x03\x04\x14\0",
        b"\0" * 257 + b"ustar",
    ]
    lines = [e.text.encode() for f in catalogue() for s in f.signatures[:1] for e in s.examples[:1]]
    return (*[log[-4000:] for log in kept], *odd, b"\n".join(lines)[:20_000])


MARKS = b"tool: sail\nmarks:\n  - {id: a, does: open, phase: test, line: 'zzzz (?<goal>\\w+)', literal: zzzz}\n  - {id: b, does: conclude, outcome: failed, by: ci, line: 'Finished: FAILURE'}\n"
FACTS = b"computed: {a: b}\nline: {berth: 'zzzz (?<value>.*)'}\n"
TARGETS: dict[str, Target] = {
    "intake": Target(test=_intake, seeds=_logs()),
    "diagnosis": Target(test=_diagnosis, seeds=_logs()),
    **{f"report-{form}": Target(test=partial(_report, form), seeds=_logs()) for form in FORMATS},
    **{f"file-{name}": Target(test=partial(_build_file, name), seeds=(data,)) for name, data in FILES.items()},
    "file-settings.xml": Target(test=_settings, seeds=(SETTINGS,)),
    "file-environment": Target(
        test=_environment, seeds=(b"A=b\nexport JAVA_HOME='/opt/jdk'\nhttp_proxy=http://p:1\n",)
    ),
    "file-teams.yaml": Target(test=_teams, seeds=(b"teams:\n  crew:\n    channel: '#crew'\n    paths: ['src/**']\n",)),
    "file-codeowners": Target(test=_owners, seeds=(b"* @crew\n/src/[a-z]*/ @a @b # c\n",)),
    "knowledge-entry": Target(test=partial(_knowledge, "deploy/x.yaml"), seeds=(ENTRY,)),
    "knowledge-marks": Target(test=partial(_knowledge, "phases/x.yaml"), seeds=(MARKS,)),
    "knowledge-facts": Target(test=partial(_knowledge, "facts.yaml"), seeds=(FACTS,)),
}
