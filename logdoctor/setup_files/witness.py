"""Set-up files given beside a log, as a witness: asked what it knows about the request that failed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.diagnosis.belonging import belonging_facts, owner_of_groups
from logdoctor.diagnosis.surroundings import JAVA_TOOLS
from logdoctor.errors import InputError
from logdoctor.setup_files.environment import check_environment, read_environment
from logdoctor.setup_files.finding import classify, given, read_text
from logdoctor.setup_files.values import BUILT_IN, Remark, Setup, joined
from logdoctor.setup_files.work_tree import Address, WorkTree

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from logdoctor.model import FactValue
    from logdoctor.setup_files.environment import Environment
    from logdoctor.setup_files.finding import Found
    from logdoctor.setup_files.values import Route

__all__ = ["Witness", "call_witness"]

_GROUP = re.compile(r"""^\s*group\s*(?:=\s*)?["']?(?P<group>[A-Za-z][\w.-]*)["']?\s*$""", re.MULTILINE)
_SCOPE = re.compile(r"""["']name["']\s*:\s*["']@(?P<group>[\w.-]+)/""")
_JAVA_FOLDER = re.compile(r"(?i)(?:jdk|jre|java|jvm|temurin|corretto|zulu)")
_JAVA_NUMBER = re.compile(r"(?<![\d.])(?:1\.(?P<old>[5-8])|(?P<new>[89]|[1-9]\d))(?![\d])")
_VARIABLE_UNDEFINED = frozenset(["npm-variable-undefined", "pip-variable-undefined"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """What was read; `testify` answers for one failed request."""

    maven: tuple[Path | None, tuple[Path, ...], Path | None]
    environment: Environment | None
    others: tuple[Setup, ...]
    """Set-ups of the tools other than Maven."""
    around: Setup | None = None
    """What the environment file tells."""
    groups: tuple[str, ...] = ()
    """Groups and scopes of the projects whose build files were given."""

    def testify(self, known: Mapping[str, FactValue]) -> dict[str, FactValue]:
        """The catalogue's set-up facts that the files decide, given what the log shows about the failed request."""
        told: dict[str, FactValue] = {}
        around = [self.around] if self.around else []
        setups = [*self.others, *around]
        if maven := self._maven(known):
            from logdoctor.setup_files.maven import facts_for

            setups.insert(0, maven)
            told.update(facts_for(maven, known))
        told.update(_of_others([*self.others, *around], known))
        told.update(self._of_proxies(setups, known))
        told.update(_of_environment(self.environment))
        told.update(_of_project([*self.groups, *_named_groups(setups)], known, told))
        remarks = [remark for setup in setups for remark in setup.remarks]
        if any(remark.code in _VARIABLE_UNDEFINED and remark.severity == "error" for remark in remarks):
            told.setdefault("password_is_variable", True)
            told.setdefault("password_variable_set", False)
        codes = {remark.code for remark in remarks}
        if codes:
            told["setup_remarks"] = " ".join(sorted(codes))
        return told

    def setup(self) -> Setup:
        """All that was read, whatever the log says."""
        maven = self._maven({})
        return joined([*([maven] if maven else []), *self.others, *([self.around] if self.around else [])])

    def _of_proxies(self, setups: Sequence[Setup], known: Mapping[str, FactValue]) -> dict[str, FactValue]:
        """Whether the failing tool was told of a proxy: programs in Java do not read the environment's variables."""
        in_java = known.get("failing_tool") in JAVA_TOOLS
        heeded = [setup for setup in setups if not in_java or setup is not self.around]
        proxies = [fact.value for setup in heeded for fact in setup.facts if fact.name == "proxy_configured"]
        told: dict[str, FactValue] = {"proxy_configured": any(proxies)} if proxies else {}
        named = self.around is not None and any(f.name == "proxy_configured" and f.value for f in self.around.facts)
        if named and in_java and not any(proxies):
            told["proxy_not_read"] = True
        return told

    def _maven(self, known: Mapping[str, FactValue]) -> Setup | None:
        settings, builds, toolchains = self.maven
        if settings is None and not builds:
            return None
        from logdoctor.setup_files.maven import read_maven

        # The log knows which versions really ran: some rules changed between them.
        return read_maven(
            settings,
            builds,
            toolchains,
            self.environment.values if self.environment else None,
            _text(known.get("maven_version")),
            java_version=_text(known.get("java_version")),
        )


def call_witness(
    *, settings: Path | None, builds: Sequence[Path], toolchains: Path | None, env_file: Path | None
) -> Witness:
    """Read the files that a person named; InputError tells which one can't be used."""
    for path in (settings, *builds, toolchains, env_file):
        if path is not None and not path.is_file():
            raise InputError(str(path), "no such file", "name a set-up file that is there")
    for path in builds:
        if classify(path) is None:
            mend = "name a pom.xml, package.json, build.gradle, pyproject.toml or the like"
            raise InputError(str(path), "not a build file known here", mend)
    # Files at home are those of the person who asks, not of the agent that ran the build: they are no witness.
    found = given(builds, None)
    environment = _environment(env_file)
    others = _others(found, WorkTree.of(builds[0].parent) if builds else WorkTree(), environment)
    return Witness(
        maven=(settings, found.of("maven"), toolchains),
        environment=environment,
        others=tuple(others),
        around=check_environment(environment, this_machine=False, setups=[]) if environment else None,
        groups=tuple(dict.fromkeys(_groups(builds))),
    )


def _groups(builds: Sequence[Path]) -> Iterator[str]:
    """The groups that build files of other tools than Maven name, as far as they stand there literally."""
    for path in builds:
        text = read_text(path)
        if isinstance(text, Remark):
            continue
        if path.name == "package.json":
            yield from (match["group"] for match in _SCOPE.finditer(text.text))
        elif path.name.startswith(("build.gradle", "gradle.properties")):
            yield from (match["group"] for match in _GROUP.finditer(text.text))


def _environment(env_file: Path | None) -> Environment | None:
    if env_file is None:
        return None
    read = read_environment(env_file)
    if isinstance(read, Remark):
        raise InputError(str(env_file), read.what.rstrip("."), read.mend.rstrip("."))
    return read


def _others(found: Found, tree: WorkTree, environment: Environment | None) -> list[Setup]:
    setups: list[Setup] = []
    variables = environment.values if environment else None
    if found.of("npmrc") or found.of("package"):
        from logdoctor.setup_files.npm import read_npm

        setups.append(read_npm(found.of("npmrc"), found.of("package"), tree=tree, environment=variables))
    if any(found.of(kind) for kind in ("pip", "requirements", "pyproject", "pypirc")):
        from logdoctor.setup_files.pip import read_pip

        setups.append(read_pip(found, tree=tree, environment=variables))
    if found.of("gradle"):
        from logdoctor.setup_files.gradle import read_gradle

        setups.append(read_gradle(found.of("gradle"), tree=tree, environment=variables))
    return setups


def _of_others(setups: Sequence[Setup], known: Mapping[str, FactValue]) -> dict[str, FactValue]:
    told: dict[str, FactValue] = {
        fact.name: fact.value for setup in setups for fact in setup.facts if fact.name == "java_home_kind"
    }
    routes = _same_host([route for setup in setups for route in setup.routes], known)
    if routes and not any(route.incomplete for route in routes):
        entries = {bool(route.server_id or route.user) for route in routes}
        if len(entries) == 1:
            told["server_entry_for_id"] = entries.pop()
    return told


def _of_environment(environment: Environment | None) -> dict[str, FactValue]:
    """The Java home, and whether the first Java on PATH is of another release."""
    home = environment.values.get("JAVA_HOME", "").strip() if environment else ""
    if environment is None or not home:
        return {}
    told: dict[str, FactValue] = {"java_home": home}
    path = next((value for name, value in environment.values.items() if name.upper() == "PATH"), "")
    folders = path.split(";" if re.search(r"[A-Za-z]:\\", path) else ":")
    first = next((folder for folder in folders if _JAVA_FOLDER.search(folder) and _number(folder)), None)
    if first and (release := _number(home)):
        told["other_java_on_path"] = _number(first) != release
    return told


def _named_groups(setups: Sequence[Setup]) -> list[str]:
    """The groups of the projects that Maven's build files name."""
    names = [fact.name.split(":") for setup in setups for fact in setup.facts if fact.name.startswith("version:")]
    return [parts[1] for parts in names if len(parts) > 2 and parts[1]]


def _number(folder: str) -> int | None:
    """The Java release in the name of a folder, where there is one."""
    match = _JAVA_NUMBER.search(folder)
    return int(match["old"] or match["new"]) if match else None


def _of_project(
    groups: Sequence[str], known: Mapping[str, FactValue], told: Mapping[str, FactValue]
) -> dict[str, FactValue]:
    """What the build files tell about names in the message and about the Java in use."""
    found: dict[str, FactValue] = {}
    if known.get("named_is_ours") is not True:
        found.update(f for f in belonging_facts(owner_of_groups(groups), known) if f[0] == "named_is_ours")
    asked, running = told.get("compiler_release"), known.get("java_release")
    if isinstance(asked, int) and isinstance(running, int):
        found["java_fits_project"] = running >= asked
    return found


def _same_host(routes: Sequence[Route], known: Mapping[str, FactValue]) -> list[Route]:
    """Routes to the host of the failed request, in its direction where the log tells it."""
    host = str(known.get("host", "")).partition(":")[0].lower()
    direction = {"read": "download", "write": "upload"}.get(str(known.get("request")))
    return [
        route
        for route in routes
        if host and route.url != BUILT_IN and Address.of(route.url).host.partition(":")[0].lower() == host
        if direction in {None, route.direction}
    ]


def _text(value: FactValue | None) -> str | None:
    return str(value) if value else None
