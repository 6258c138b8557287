"""How logs tell the set-up: the agent, tools and their versions, the revision, what was resolved.

A rule has a literal that picks lines and a pattern; `value` (and `name`, where the line tells it) are groups. The forms
are what the tools print, from memory where no fixture shows them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["ANSWER", "ASKED", "ASKED_LINE", "RULES", "SetupRule"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupRule:
    """One way in which a line tells something of the set-up."""

    kind: str
    name: str
    literals: tuple[str, ...]
    pattern: re.Pattern[str]


def _rule(kind: str, name: str, literal: str | tuple[str, ...], pattern: str) -> SetupRule:
    literals = (literal,) if isinstance(literal, str) else literal
    return SetupRule(kind=kind, name=name, literals=literals, pattern=re.compile(pattern))


_V = r"(?P<value>v?\d+(?:\.\d+)+[\w.+-]*)"
_START = r"(?:^|[\s\]])"

ASKED = "--version"
ASKED_LINE = re.compile(r"(?:^|[+$>#] )(?:\S*/)?(?P<tool>[a-z][\w.-]{1,20}) --version\s*$")
"""A script asks a tool for its version, and the next line is the answer."""
ANSWER = re.compile(r"^(?:[A-Za-z][\w-]* )?\(?(?P<value>v?\d+\.\d+[\w.+-]*)\)?\s*$")

RULES: tuple[SetupRule, ...] = (
    _rule(
        "agent",
        "agent",
        "Running on ",
        r"\bRunning on (?:agent )?(?P<value>[\w.-]+)(?: in (?P<workspace>[/A-Za-z]\S+))?\s*$",
    ),
    _rule(
        "agent",
        "agent",
        "Building ",
        r"\bBuilding (?:remotely )?on (?P<value>[\w.-]+)\b.{0,80}? in workspace (?P<workspace>\S+)",
    ),
    _rule("agent", "agent", ("Runner name: ", "Agent name: "), r"\b(?:Runner|Agent) name: '?(?P<value>[\w.-]+)"),
    _rule("agent", "agent", "Running on runner-", r"\bRunning on runner-\S+ via (?P<value>[\w-]+(?:\.[\w-]+)*)"),
    _rule("agent", "system image", "Image: ", r"^\s*Image: (?P<value>[\w.:/-]+)\s*$"),
    _rule("agent", "image", "Docker executor with image ", r"Docker executor with image (?P<value>\S+)"),
    _rule(
        "agent",
        "image",
        "sing docker image ",
        r"[Uu]sing docker image \S+ for (?P<name>\S+) with digest (?:\S+@)?(?P<value>\S+)",
    ),
    _rule("agent", "image", "Digest: sha256:", r"\bDigest: (?P<value>sha256:[0-9a-f]{12,64})"),
    _rule(
        "agent", "image", " FROM ", r"\[(?:[\w-]+ )?\d+/\d+\] FROM (?P<name>[^\s@]+)@(?P<value>sha256:[0-9a-f]{12,64})"
    ),
    _rule("agent", "system", "OS name: ", r'\bOS name: "(?P<name>[^"]+)", version: "(?P<value>[^"]+)"'),
    _rule("agent", "kernel", "Linux ", r"^Linux \S+ (?P<value>\d+\.\d+\S*) "),
    _rule("revision", "revision", "Checking out Revision ", r"\bChecking out Revision (?P<value>[0-9a-f]{7,64})"),
    _rule("revision", "revision", "Checking out ", r"\bChecking out (?P<value>[0-9a-f]{7,64})\b"),
    _rule("revision", "revision", "HEAD is now at ", r"\bHEAD is now at (?P<value>[0-9a-f]{7,64})\b"),
    _rule(
        "revision", "branch", "Checking out Revision ", r"\bChecking out Revision [0-9a-f]{7,64} \((?P<value>[^)]+)\)"
    ),
    _rule(
        "revision",
        "branch",
        "Checking out ",
        r"\bChecking out [0-9a-f]{7,64} as (?:detached HEAD \(ref is )?(?P<value>[\w./-]+)",
    ),
    _rule("revision", "commit message", "Commit message: ", r'\bCommit message: "(?P<value>.*)"'),
    _rule(
        "revision",
        "project version",
        "Building ",
        r"^\[INFO\] Building (?P<name>\S.*?) (?P<value>\d[\w.-]*)(?:\s+\[\d+/\d+\])?\s*$",
    ),
    _rule("tool", "java", " version ", r'\b(?:openjdk|java) version "(?P<value>[\d._]+[\w.-]*)"'),
    _rule("tool", "java", "openjdk ", r"^openjdk (?P<value>\d[\d._]*\S*) "),
    _rule("tool", "java", "Java version: ", r"\bJava version: (?P<value>\d[\d._]*[\w.-]*)"),
    _rule("tool", "java vendor", "Java version: ", r"\bJava version: \S+ vendor: (?P<value>[^,]+)"),
    _rule("tool", "java runtime", "Java version: ", r"\bJava version: .*?runtime: (?P<value>\S.*?)\s*$"),
    _rule("tool", "java", "JVM: ", r"^JVM: +(?P<value>\d[\d._]*\S*)"),
    _rule("tool", "java", "Environment (", r"^OpenJDK Runtime Environment .{0,40}\(build (?P<value>[\d._]+[\w.+-]*)"),
    _rule(
        "tool",
        "JAVA_HOME",
        "JAVA_HOME",
        r"\bJAVA_HOME(?: is set to(?: an invalid directory)?)?\s*[=:]\s*[\"']?(?P<value>(?:/|[A-Za-z]:\\)[^\s\"';]+)",
    ),
    _rule("tool", "maven", "Apache Maven ", r"\bApache Maven (?P<value>\d[\w.-]*)"),
    _rule("tool", "maven", "Maven home: ", r"\bMaven home: (?P<home>\S.*)"),
    _rule("tool", "gradle", "Gradle ", r"(?:^|Welcome to )Gradle (?P<value>\d[\w.-]*?)!?\s*$"),
    _rule("tool", "gradle", "distributions/gradle-", r"/gradle-(?P<value>\d[\w.-]*?)-(?:bin|all)\.zip"),
    _rule("tool", "kotlin", "Kotlin: ", r"^Kotlin: +(?P<value>\d[\w.-]*)"),
    _rule("tool", "ant", "Apache Ant", r"\bApache Ant(?:\(TM\))? version (?P<value>\d[\w.]*)"),
    _rule("tool", "sbt", "sbt", r"\b(?:welcome to sbt|sbt version(?: in this project)?:?) (?P<value>\d[\w.-]*)"),
    _rule("tool", "git", "git version ", r"\bgit version (?P<value>\d+\.\d+[\w.]*)"),
    _rule(
        "tool", "node", ("ode ", "ode: ", "ode.js "), r"(?i)\bnode(?:\.js)?(?: version)?:? +(?P<value>v\d+\.\d+\.\d+)\b"
    ),
    _rule(
        "tool",
        "npm",
        ("npm@", "npm version ", "npm: "),
        r"(?:\bnpm (?:info using |verbose )?(?:npm@|version )|^npm: )v?(?P<value>\d+\.\d+\.\d+)",
    ),
    _rule("tool", "yarn", ("yarn ", "Yarn "), r"^(?:yarn \w+ v|.{0,12}Yarn )(?P<value>\d+\.\d+[\w.-]*)"),
    _rule("tool", "pnpm", "pnpm", r"\bpnpm[ :@]+v?(?P<value>\d+\.\d+\.\d+)"),
    _rule(
        "tool",
        "python",
        "Python ",
        r"(?:^|Using (?:C?Python )|\bset up C)Python \(?(?P<value>\d+\.\d+(?:\.\d+)?\w*)|^Python (?P<plain>\d+\.\d+\.\d+\w*)",
    ),
    _rule("tool", "pip", "pip ", r"^pip (?P<value>\d+(?:\.\d+)+) from "),
    _rule("tool", "go", "go version go", r"\bgo version go(?P<value>\d+\.\d+[\w.]*)"),
    _rule("tool", "rustc", "rustc ", r"^rustc (?P<value>\d+\.\d+\.\d+\S*)"),
    _rule("tool", "cargo", "cargo ", r"^cargo (?P<value>\d+\.\d+\.\d+\S*)"),
    _rule("tool", "dotnet", ".NET SDK", r"\.NET SDK (?:version:? )?\[?(?P<value>\d+\.\d+\.\d+\S*)"),
    _rule("tool", "docker", "Docker version ", r"\bDocker version (?P<value>\d+\.\d+[\w.-]*)"),
    _rule("tool", "docker server", "Server Version: ", r"\bServer Version: (?P<value>\d+\.\d+[\w.-]*)"),
    _rule("tool", "kubectl", "Client Version: ", r"\bClient Version: .*?(?P<value>v\d+\.\d+[\w.-]*)"),
    _rule("tool", "helm", "version.BuildInfo{", r'BuildInfo\{Version:"(?P<value>[^"]+)'),
    _rule("tool", "terraform", "Terraform v", r"^Terraform (?P<value>v\d+\.\d+[\w.-]*)"),
    _rule("tool", "ansible", "ansible ", r"^ansible(?:-playbook)? \[core (?P<value>[\d.]+\w*)"),
    _rule("tool", "gcc", ("gcc ", "gcc-", "g++ "), r"^(?:gcc|g\+\+)(?:-\d+)? \(.*\) (?P<value>\d+\.\d+\.\d+)"),
    _rule("tool", "clang", "clang version ", r"\bclang version (?P<value>\d+\.\d+[\w.]*)"),
    _rule(
        "tool",
        "compiler",
        " compiler identification is ",
        r"The (?P<name>\w+) compiler identification is (?P<value>\S+ \S+)",
    ),
    _rule("tool", "cmake", "cmake version ", r"\bcmake version (?P<value>\d+\.\d+\S*)"),
    _rule("tool", "make", "GNU Make ", r"\bGNU Make (?P<value>\d+\.\d+\S*)"),
    _rule("tool", "ruby", "ruby ", r"^ruby (?P<value>\d+\.\d+\.\d+\S*)"),
    _rule("tool", "bundler", "Bundler version ", r"\bBundler version (?P<value>\d+\.\d+\S*)"),
    _rule("tool", "php", "PHP ", r"^PHP (?P<value>\d+\.\d+\.\d+\S*) \(cli\)"),
    _rule("tool", "composer", "Composer version ", r"\bComposer version (?P<value>\d+\.\d+\S*)"),
    _rule("tool", "pytest", "pytest-", r"\bpytest-(?P<value>\d+\.\d+[\w.]*)"),
    _rule("plugin", "", "--- ", r"--- (?P<name>[a-z][\w.-]*):(?P<value>\d[\w.-]*):[\w-]+ \("),
    _rule(
        "dependency",
        "maven",
        "Download",
        r"\bDownload(?:ed|ing)?(?: from (?P<source>[^\s:]+))?:? (?P<url>https?://\S+)",
    ),
    _rule(
        "dependency",
        "maven",
        ("+- ", "\\- "),
        r"[+\\]- (?P<name>[\w.-]+:[\w.-]+):(?:jar|war|pom|aar|test-jar)(?::[\w-]+)??:(?P<value>\d[\w.-]*):(?:compile|test|runtime|provided)",
    ),
    _rule("dependency", "pip", "Successfully installed ", r"^Successfully installed (?P<list>\S.*)"),
    _rule(
        "dependency",
        "cargo",
        ("Compiling ", "Downloaded ", "Checking "),
        _START + r"(?:Compiling|Downloaded|Checking) (?P<name>[\w-]+) " + _V,
    ),
    _rule("dependency", "go", "go: downloading ", r"\bgo: downloading (?P<name>\S+) (?P<value>v\S+)"),
    _rule(
        "dependency", "composer", "- Installing ", r"^\s*- Installing (?P<name>[\w.-]+/[\w.-]+) \((?P<value>[^)]+)\)"
    ),
    _rule(
        "dependency",
        "bundler",
        ("Installing ", "Using "),
        r"^(?:Installing|Using|Fetching) (?P<name>[\w.-]+) (?P<value>\d+(?:\.\w+)+)(?: with native extensions| from .*)?\s*$",
    ),
    _rule("dependency", "apk", "Installing ", r"^\(\d+/\d+\) Installing (?P<name>\S+) \((?P<value>[^)]+)\)"),
    _rule("dependency", "apt", "Setting up ", r"^Setting up (?P<name>[^\s:]+)(?::\w+)? \((?P<value>[^)]+)\)"),
    _rule(
        "dependency",
        "nuget",
        "Installed ",
        r"^\s*(?:info : )?Installed (?P<name>[\w.]+) (?P<value>\d+(?:\.\d+)+\S*) from ",
    ),
)
