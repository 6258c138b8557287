"""The environment of an agent, from the output of `env`, `printenv`, `export -p` or `set`: Java home and proxies.

Values are never put into texts, except for the path of the Java home and names of hosts.
"""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from logdoctor.setup_files.finding import SetupText, read_text
from logdoctor.setup_files.gathering import Gathering
from logdoctor.setup_files.values import Place, Remark, Setup
from logdoctor.setup_files.work_tree import Address

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

__all__ = [
    "Environment",
    "JavaHomeKind",
    "check_environment",
    "java_home_by_shape",
    "java_home_on_disk",
    "read_environment",
]

JavaHomeKind = Literal["jdk", "jre", "bin", "java-file", "nowhere"]

PROXIES = ("https_proxy", "http_proxy", "all_proxy")
INTERNAL_ENDS = (".local", ".internal", ".intranet", ".lan", ".corp", ".home", ".private", ".svc")
"""Ends of names that no public server has (common practice; RFC 6762 appendix G lists most of them)."""

_VARIABLE = re.compile(
    r"(?:(?P<mark>export|declare\s+-\w+|typeset\s+-\w+)\s+)?(?P<name>[A-Za-z_][A-Za-z0-9_.()%-]*)=(?P<value>.*)",
    re.DOTALL,
)
_BARE = re.compile(r"(?:export|declare\s+-\w+|typeset\s+-\w+)\s+[A-Za-z_]\w*")
_ANSI_QUOTED = re.compile(r"\\(?:x([0-9A-Fa-f]{2})|(.))")
_ESCAPES = {"n": "\n", "t": "\t", "r": "\r", "a": "\a", "e": "\x1b"}
_JAVA_FILE = re.compile(r"(?:.*[/\\])?bin[/\\]java(?:w?\.exe)?|.*[/\\]java(?:w?\.exe)", re.IGNORECASE)
_JDK_WORD = re.compile(
    r"jdk|java-\d+-openjdk|temurin|corretto|zulu|liberica|graalvm|semeru|contents[/\\]home$", re.IGNORECASE
)
_ABSOLUTE = re.compile(r"/|[A-Za-z]:[\\/]|\\\\")


@dataclass(frozen=True, slots=True, kw_only=True)
class Environment:
    """Variables and where they stand."""

    values: Mapping[str, str]
    lines: Mapping[str, int]
    text: SetupText | None = None

    def place(self, name: str) -> Place | None:
        """The line of a variable."""
        return self.text.place(self.lines.get(name, 1)) if self.text else None

    def get(self, name: str) -> tuple[str, str] | None:
        """Name and value, whatever the case of the name."""
        return next(((key, self.values[key]) for key in (name.lower(), name.upper()) if self.values.get(key)), None)


def read_environment(path: Path) -> Environment | Remark:
    """The variables of a file, or a remark that says why it can't be used."""
    text = read_text(path)
    if isinstance(text, Remark):
        return text
    values, lines = _parsed(text.text)
    if not values and text.text.strip():
        return Remark(
            severity="error",
            what=f"{path} holds no variable (NAME=value).",
            mend="Give the output of env, as run in the step that failed.",
            place=text.place(1),
            code="environment-invalid",
        )
    return Environment(values=values, lines=lines, text=text)


def _parsed(text: str) -> tuple[dict[str, str], dict[str, int]]:
    values: dict[str, list[str]] = {}
    lines: dict[str, int] = {}
    nul = "\0" in text
    name, line = None, 1
    for piece in text.split("\0" if nul else "\n"):
        match = _VARIABLE.fullmatch(piece if nul else piece.rstrip("\r"))
        if match:
            name = match["name"]
            values[name] = [_unquoted(match["value"], shell=match["mark"] is not None)]
            lines[name] = line
        elif name is not None and not nul and not _BARE.fullmatch(piece.strip()):
            # A value of several lines goes on; where it ends can't be seen.
            values[name].append(piece.rstrip("\r"))
        line += piece.count("\n") + (not nul)
    return {key: "\n".join(value).rstrip("\n") for key, value in values.items()}, lines


def _unquoted(value: str, *, shell: bool) -> str:
    if shell and value.startswith("$'"):
        return _ANSI_QUOTED.sub(_ansi, value[2:].removesuffix("'"))
    if len(value) >= 2 and value[0] == value[-1] and value[0] in "\"'":
        inner = value[1:-1]
        return re.sub(r"\\([\\\"$`])", r"\1", inner) if shell and value[0] == '"' else inner
    if shell:
        return re.sub(r"\\(.)", r"\1", value) if '"' not in value else value.replace('"', "")
    return value


def _ansi(match: re.Match[str]) -> str:
    return chr(int(match[1], 16)) if match[1] else _ESCAPES.get(match[2], match[2])


def java_home_by_shape(path: str) -> JavaHomeKind | None:
    """What the form of the path gives away; None when it tells nothing."""
    bare = path.strip().rstrip("/\\") or path.strip()
    if not _ABSOLUTE.match(bare):
        return "nowhere"
    if _JAVA_FILE.fullmatch(bare):
        return "java-file"
    last = re.split(r"[/\\]", bare)[-1].lower()
    if last == "bin":
        return "bin"
    if last == "jre" or re.match(r"jre[-\d]", last):
        return "jre"
    return "jdk" if _JDK_WORD.search(bare) else None


def java_home_on_disk(path: str) -> JavaHomeKind:
    """What lies there on this machine."""
    from pathlib import Path

    home = Path(path)

    def there(*names: str) -> bool:
        return any((home / name).is_file() or (home / f"{name}.exe").is_file() for name in names)

    try:
        if home.is_file():
            return "java-file"
        if there("bin/javac"):
            return "jdk"
        if there("bin/java"):
            return "jre"
        return "bin" if there("java", "javac") else "nowhere"
    except (OSError, ValueError):
        return "nowhere"


def check_environment(
    environment: Environment, *, this_machine: bool = False, setups: Sequence[tuple[str, Setup]] = ()
) -> Setup:
    """Facts and remarks; `setups` are the other files' set-ups by tool, whose hosts a proxy must not catch."""
    report = Gathering()
    _java_home(environment, report, this_machine=this_machine)
    _proxy(environment, setups, report)
    return report.setup()


def _java_home(environment: Environment, report: Gathering, *, this_machine: bool) -> None:
    value = environment.values.get("JAVA_HOME", "").strip()
    if not value:
        return
    kind = java_home_on_disk(value) if this_machine else java_home_by_shape(value)
    place = environment.place("JAVA_HOME")
    if kind:
        report.fact("java_home_kind", kind, place)
    mend = "Set JAVA_HOME to the folder of the JDK that holds bin, in the agent's or the job's tool settings."
    wrong = {
        "bin": f"JAVA_HOME points at the bin folder ({value}); build tools then look for bin/bin/java.",
        "java-file": f"JAVA_HOME points at the java program itself ({value}), not at the folder of the JDK.",
        "nowhere": f"JAVA_HOME points nowhere ({value}): "
        + ("there is no Java in that place." if this_machine else "it is no absolute path."),
    }
    if kind in wrong:
        report.remark("error", f"java-home-{kind}", place, wrong[kind], mend)
    elif kind == "jre":
        severity: Literal["warning", "note"] = "warning" if this_machine else "note"
        what = f"JAVA_HOME points at a Java runtime ({value}); compiling needs a JDK."
        report.remark(severity, "java-home-jre", place, what, mend)
    _java_on_path(environment, value, report)


def _java_on_path(environment: Environment, home: str, report: Gathering) -> None:
    path = next((value for name, value in environment.values.items() if name.upper() == "PATH"), None)
    if path is None:
        return
    folders = [f.strip().rstrip("/\\") for f in path.split(";" if re.search(r"[A-Za-z]:\\", path) else ":")]
    if not any(f == home.rstrip("/\\") + end for f in folders for end in ("/bin", "\\bin")):
        what = "PATH does not hold the bin folder of JAVA_HOME, so a plain java or javac may be another version."
        mend = "Put $JAVA_HOME/bin at the front of PATH where steps call java directly."
        report.remark("note", "java-home-not-on-path", environment.place("PATH"), what, mend)


def _proxy(environment: Environment, setups: Sequence[tuple[str, Setup]], report: Gathering) -> None:
    found = [pair for name in PROXIES if (pair := environment.get(name))]
    report.fact("proxy_configured", value=bool(found), place=environment.place(found[0][0]) if found else None)
    if not found:
        return
    name, value = found[0]
    place = environment.place(name)
    report.check_password(value, environment.text, place)
    proxy = Address.of(value if "://" in value else f"http://{value}").host
    bypass = environment.get("no_proxy")
    for tool, setup in setups:
        for host in dict.fromkeys(Address.of(route.mirror_url or route.url).host for route in setup.routes):
            if host and host != proxy and _internal(host, proxy) and not _bypassed(host, bypass[1] if bypass else ""):
                _caught(tool, host, place, report)


def _caught(tool: str, host: str, place: Place | None, report: Gathering) -> None:
    # Programs that run in Java take their proxy from settings and system properties, not from these variables.
    severity: Literal["warning", "note"] = "note" if tool in ("maven", "gradle") else "warning"
    who = (
        "Programs that heed the proxy variables (curl, git and the like) reach"
        if severity == "note"
        else f"{tool} reaches"
    )
    what = f"{who} {host} through the proxy: it looks like a host of your own network, and no_proxy does not name it."
    report.remark(
        severity, "proxy-catches-internal-host", place, what, f"Add {host}, or its domain, to no_proxy and NO_PROXY."
    )


def _internal(host: str, proxy: str) -> bool:
    """Whether a host looks like one of the own network (common practice, no source)."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        pass
    else:
        return address.is_private and not address.is_loopback
    if host == "localhost":
        return False
    shared = host.split(".")[-2:] == proxy.split(".")[-2:] and proxy.count(".") >= 1
    return "." not in host or host.endswith(INTERNAL_ENDS) or shared


def _bypassed(host: str, no_proxy: str) -> bool:
    for entry in re.split(r"[,\s]+", no_proxy.lower()):
        bare = entry.removeprefix("*.").lstrip(".").partition(":")[0] if entry.count(":") < 2 else entry
        if entry == "*" or (bare and (host == bare or host.endswith(f".{bare}"))):
            return True
        if "/" in entry and _in_network(host, entry):
            return True
    return False


def _in_network(host: str, network: str) -> bool:
    try:
        return ipaddress.ip_address(host) in ipaddress.ip_network(network, strict=False)
    except ValueError:
        return False
