"""Gradle's properties files: `gradle.properties` and the wrapper's, with their remarks.

Follows Gradle's user manual ("Build Environment", "Gradle Wrapper").
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from logdoctor.setup_files.environment import java_home_by_shape
from logdoctor.setup_files.values import Route
from logdoctor.setup_files.work_tree import Address

if TYPE_CHECKING:
    from collections.abc import Mapping

    from logdoctor.setup_files.finding import SetupText
    from logdoctor.setup_files.gathering import Gathering

__all__ = ["check_properties", "check_wrapper", "gradle_version", "parse_properties"]

_SETTING = re.compile(r"\s*(?P<key>(?:\\.|[^\s=:\\])+)\s*[=:\s]?\s*(?P<value>.*)")
_SECRET_NAME = re.compile(r"(?:password|passwd|passphrase|token|secret|api_?key)$", re.IGNORECASE)
_NO_SECRET = re.compile(r"|\$\{?.*|%.*%|<.*>|\*+|x{3,}|(?i:changeme|todo|none|null|true|false|unset)")
_VERSION = re.compile(r"/gradle-(\d+(?:\.\d+)*)[^/]*\.zip")
_SHA256 = re.compile(r"[0-9A-Fa-f]{64}")


def parse_properties(text: SetupText) -> dict[str, tuple[str, int]]:
    """Values and their lines; the format is that of java.util.Properties."""
    found: dict[str, tuple[str, int]] = {}
    start, gathered = 0, ""
    for number, line in enumerate(text.lines, start=1):
        start = start or number
        bare = line.lstrip()
        if not gathered and bare[:1] in ("#", "!"):
            start = 0
            continue
        if (len(bare) - len(bare.rstrip("\\"))) % 2 and len(gathered) < 65_536:
            gathered += bare[:-1]
            continue
        if match := _SETTING.fullmatch((gathered + bare)[:65_536].rstrip("\r\n")):
            found[_plain(match["key"])] = (_plain(match["value"].rstrip()), start)
        start, gathered = 0, ""
    return found


def _plain(text: str) -> str:
    return re.sub(r"\\(.)", r"\1", text)


def gradle_version(wrapper: Mapping[str, tuple[str, int]]) -> tuple[int, ...] | None:
    """The version that the wrapper fetches."""
    match = _VERSION.search(wrapper.get("distributionUrl", ("", 0))[0])
    return tuple(int(part) for part in match[1].split(".")) if match else None


def check_properties(text: SetupText, report: Gathering) -> None:
    """Secrets in the work tree, a proxy, and a Java home that is none."""
    for key, (value, line) in parse_properties(text).items():
        severity = report.tree.exposure(text.path)
        if severity and _SECRET_NAME.search(key) and not _NO_SECRET.fullmatch(value):
            what = f"The value of {key} is written out in a file of the work tree."
            mend = "Move it to gradle.properties in the Gradle home of the agent's user, or pass it as ORG_GRADLE_PROJECT_… ."
            report.remark(severity, "gradle-secret-in-work-tree", text.place(line), what, mend)
        if re.fullmatch(r"systemProp\.https?\.proxyHost", key) and value:
            report.fact("proxy_configured", value=True, place=text.place(line))
        if key == "org.gradle.java.home" and (kind := java_home_by_shape(value)) in ("bin", "java-file"):
            what = (
                f"org.gradle.java.home points at {'the bin folder' if kind == 'bin' else 'the java program'} of a JDK."
            )
            report.remark(
                "error", "gradle-java-home", text.place(line), what, "Name the folder of the JDK that holds bin."
            )
        if "://" in value:
            report.check_password(value, text, text.place(line))


def check_wrapper(text: SetupText, report: Gathering) -> None:
    """The download of Gradle itself, and the wrapper's program."""
    settings = parse_properties(text)
    url, line = settings.get("distributionUrl", ("", 1))
    if not url:
        what = "gradle-wrapper.properties has no distributionUrl, so the wrapper can't fetch Gradle."
        report.remark(
            "error", "gradle-wrapper-without-address", text.place(1), what, "Add distributionUrl=https\\://… ."
        )
    else:
        _distribution(text, url, line, report)
    checksum, checksum_line = settings.get("distributionSha256Sum", ("", line))
    if checksum and not _SHA256.fullmatch(checksum):
        what = "distributionSha256Sum is no SHA-256 sum (64 hexadecimal digits), so the wrapper refuses the download."
        mend = "Take the sum from the release page of that version, not from the download itself."
        report.remark("error", "gradle-wrapper-checksum", text.place(checksum_line), what, mend)
    report.fact("gradle_distribution_checked", value=bool(checksum), place=text.place(checksum_line))
    _jar(text, report)


def _distribution(text: SetupText, url: str, line: int, report: Gathering) -> None:
    address = Address.of(url)
    place = text.place(line)
    report.routes.append(
        Route(
            direction="download",
            kind="plugin",
            repository_id="gradle distribution",
            url=address.bare,
            declared=place,
            user=address.user,
        )
    )
    report.check_password(url, text, place)
    if address.in_the_clear:
        what = f"The wrapper fetches Gradle without encryption from {address.bare} and runs what it gets."
        mend = "Use the https:// address, and set distributionSha256Sum."
        report.remark("warning", "gradle-wrapper-plain-http", place, what, mend)


def _jar(text: SetupText, report: Gathering) -> None:
    jar = text.path.with_name("gradle-wrapper.jar")
    place = text.place(1)
    if not jar.is_file():
        root = text.path.parent.parent.parent
        used = any((root / script).is_file() for script in ("gradlew", "gradlew.bat"))
        what = "The wrapper's program gradle-wrapper.jar is missing beside its properties, so gradlew can't start."
        mend = "Add it (gradle wrapper makes it) and keep it in git, even where *.jar is ignored."
        report.remark("error" if used else "note", "gradle-wrapper-jar-missing", place, what, mend)
    elif report.tree.mode(text.path) is not None and report.tree.mode(jar) is None:
        what = "gradle-wrapper.jar lies here but git does not keep it, so a fresh checkout has none and gradlew can't start."
        mend = "Add it with git add -f gradle/wrapper/gradle-wrapper.jar, and except it in .gitignore."
        report.remark("warning", "gradle-wrapper-jar-not-in-git", place, what, mend)
