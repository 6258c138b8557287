"""Set-up files given beside a log, as a witness: asked what it knows about the request that failed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.errors import InputError
from logdoctor.setup_files.environment import check_environment, read_environment
from logdoctor.setup_files.finding import classify, given
from logdoctor.setup_files.values import BUILT_IN, Remark, Setup, joined
from logdoctor.setup_files.work_tree import Address, WorkTree

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from logdoctor.model import FactValue
    from logdoctor.setup_files.environment import Environment
    from logdoctor.setup_files.finding import Found
    from logdoctor.setup_files.values import Route

__all__ = ["Witness", "call_witness"]

_VARIABLE_UNDEFINED = frozenset(["npm-variable-undefined", "pip-variable-undefined"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """What was read; `testify` answers for one failed request."""

    maven: tuple[Path | None, tuple[Path, ...], Path | None]
    environment: Environment | None
    others: tuple[Setup, ...]
    """Set-ups of the tools other than Maven, and of the environment."""

    def testify(self, known: Mapping[str, FactValue]) -> dict[str, FactValue]:
        """The catalogue's set-up facts that the files decide, given what the log shows about the failed request."""
        told: dict[str, FactValue] = {}
        setups = list(self.others)
        if maven := self._maven(known):
            from logdoctor.setup_files.maven import facts_for

            setups.insert(0, maven)
            told.update(facts_for(maven, known))
        told.update(_of_others(self.others, known))
        proxies = [fact.value for setup in setups for fact in setup.facts if fact.name == "proxy_configured"]
        if proxies:
            told["proxy_configured"] = any(proxies)
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
        return joined([*([maven] if maven else []), *self.others])

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
    )


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
    if environment is not None:
        setups.append(check_environment(environment, this_machine=False, setups=[]))
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
