"""Remarks on build files: the compiler's release against the JDK, credentials in addresses, references nobody defines."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_parts import DECLARED
from logdoctor.setup_files.values import Remark
from logdoctor.setup_files.work_tree import Address

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.setup_files.maven_model import Build
    from logdoctor.setup_files.maven_parts import Repository, Value
    from logdoctor.setup_files.maven_view import View
    from logdoctor.setup_files.values import Place

__all__ = ["build_remarks", "compiler_release"]

_ENVIRONMENT = re.compile(r"\$\{env\.([^${}]+)\}")


def build_remarks(view: View) -> Iterator[Remark]:
    """All of them."""
    for build in view.builds:
        yield from _compiler(build, view)
        yield from _undefined(build, view)
    yield from _credentials(view)


def compiler_release(build: Build) -> tuple[int, Place] | None:
    """The release that the compiler is asked for: `release` before `target` and `source`, settings before properties."""
    configured = build.content.plugins.get("maven-compiler-plugin", {})
    for names in (("release",), ("target", "source")):
        found = [release for name in names if (release := _asked(build, configured, name))]
        if found:
            return max(found, key=lambda each: each[0])
    return None


def _asked(build: Build, configured: object, name: str) -> tuple[int, Place] | None:
    own: Value | None = configured.get(name) if isinstance(configured, dict) else None
    value = own or build.content.properties.get(f"maven.compiler.{name}")
    if value is None:
        return None
    text = build.fill(value.text).text
    number = re.fullmatch(r"(?:1\.)?(\d{1,3})(?:\.0)?", text)
    return (int(number[1]), value.place) if number else None


def _compiler(build: Build, view: View) -> Iterator[Remark]:
    if build.pom.packaging == "pom":
        return
    jdk, asked = view.outlook.surroundings.feature_release(), compiler_release(build)
    if jdk is None or asked is None or asked[0] <= jdk:
        return
    configured = build.content.plugins.get("maven-compiler-plugin", {})
    if "jdkToolchain" in configured or "executable" in configured:
        return
    if (
        DECLARED in build.content.plugins.get("maven-toolchains-plugin", {})
        and max(view.toolchain_releases, default=1000) >= asked[0]
    ):
        return
    yield Remark(
        severity="error",
        what=f"{build.name} asks the compiler for Java {asked[0]}, but the JDK in use is {jdk}",
        mend=f"let JAVA_HOME of the job name a JDK {asked[0]} or newer, or lower maven.compiler.release",
        place=asked[1],
        code="compiler-release-above-jdk",
    )


def _undefined(build: Build, view: View) -> Iterator[Remark]:
    """Variables in addresses and ids of this build, and other references once all parents were read."""
    around = view.outlook.surroundings
    repositories = [*build.content.repositories, *build.content.plugin_repositories, *_targets(build)]
    for each in repositories:
        unknown = build.fill(f"{each.id} {each.url}").unknown
        for name in unknown:
            if name.startswith("env."):
                if around.environment is not None:
                    yield _variable(name[4:], each.place)
            elif not build.missing_parent and not name.startswith(
                ("settings.", "java.", "os.", "user.", "maven.", "session.")
            ):
                yield Remark(
                    severity="note",
                    what=f"${{{name}}} in {each.id} is defined in no file that was read",
                    mend=f"define the property, or pass -D{name}=… in every build that uses it",
                    place=each.place,
                    code="property-undefined",
                )


def _variable(name: str, place: Place) -> Remark:
    return Remark(
        severity="error",
        what=f"${{env.{name}}} is not set in the given environment, so the text itself is used",
        mend=f"bind the variable {name} in the step that runs Maven, or correct its name in the build file",
        place=place,
        code="environment-variable-undefined",
    )


def _targets(build: Build) -> tuple[Repository, ...]:
    target = build.content.distribution
    return tuple(each for each in (target.release, target.snapshot, target.site) if each)


def _credentials(view: View) -> Iterator[Remark]:
    """User info in an address is printed in every log and sent along in every report."""
    addresses: dict[tuple[str, Place | None], str] = {}
    for build in view.builds:
        for each in (*build.content.repositories, *build.content.plugin_repositories, *_targets(build)):
            addresses[each.url, each.place] = each.id
    for mirror in view.outlook.mirrors:
        addresses[mirror.url.text, mirror.place] = mirror.id
    for (url, place), name in addresses.items():
        address = Address.of(url)
        if address.password is None:
            continue
        yield Remark(
            severity="warning" if address.literal_password else "note",
            what=f"the address of {name} holds a user and a password, which are printed in logs",
            mend=f"move them into a server entry with the id {name}; change the password if the file or a log was shared",
            place=place,
            code="credentials-in-url",
        )
