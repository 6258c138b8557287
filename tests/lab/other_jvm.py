"""An old Gradle, Ant with Ivy, and signing tools that fail."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from tests.lab.other_support import MissingToolError, Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]
_IVY = Path("/usr/share/java/ivy.jar")
HOST = "repo.brackwater.example"
_JAVA = "package example.brackwater.fares;\n\npublic class Fares {\n    public int winter() { return 12; }\n}\n"
_SOURCE = "src/main/java/example/brackwater/fares/Fares.java"


def _gradle(
    script: str,
    build: str,
    rules: list[Rule] | None = None,
    *,
    java: str = _JAVA,
    more: Mapping[str, str] | None = None,
    down: bool = False,
) -> Prepare:
    """A Java project whose only repository is the lab's."""

    def prepare(stage: Stage) -> str:
        stage.chest.system("gradle")
        url = (stage.closed(HOST).replace("https", "http")) if down else stage.serve(HOST, rules or [], tls="none")
        stage.write("settings.gradle", "rootProject.name = 'fares'\n")
        stage.write("build.gradle", build.replace("REPOSITORY", url))
        stage.write(_SOURCE, java)
        for name, text in (more or {}).items():
            stage.write(name, text)
        stage.env |= {
            "GRADLE_OPTS": "-Dorg.gradle.daemon=false -Xmx256m",
            "GRADLE_USER_HOME": str(stage.chest.root / "gradle-home"),
        }
        return f"ls\n{script}\n"

    return prepare


def _ant(script: str, build: str | None, *, java: str = _JAVA, more: Mapping[str, str] | None = None) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system("ant")
        if build is not None:
            stage.write("build.xml", build)
        stage.write(_SOURCE, java)
        for name, text in (more or {}).items():
            stage.write(name, text)
        return f"ls\n{script}\n"

    return prepare


def _ivy(stage: Stage) -> str:
    stage.chest.system("ant")
    if not _IVY.exists():
        raise MissingToolError("Ivy is not installed")
    url = stage.serve(HOST, [], tls="none")
    stage.write("ivy.xml", '<ivy-module version="2.0">\n  <info organisation="example.brackwater" module="fares"/>\n  <dependencies>\n'
                '    <dependency org="example.brackwater" name="tides" rev="3.1.0"/>\n  </dependencies>\n</ivy-module>\n')  # fmt: skip
    stage.write("ivysettings.xml", '<ivysettings>\n  <settings defaultResolver="brackwater"/>\n  <resolvers>\n'
                f'    <ibiblio name="brackwater" m2compatible="true" root="{url}/maven/"/>\n  </resolvers>\n</ivysettings>\n')  # fmt: skip
    stage.write("build.xml", '<project name="fares" default="resolve" xmlns:ivy="antlib:org.apache.ivy.ant">\n  <target name="resolve">\n'
                '    <taskdef resource="org/apache/ivy/ant/antlib.xml" uri="antlib:org.apache.ivy.ant" classpath="/usr/share/java/ivy.jar"/>\n'
                '    <ivy:settings file="ivysettings.xml"/>\n    <ivy:resolve/>\n  </target>\n</project>\n')  # fmt: skip
    return "ant resolve\n"


def _gpg(script: str, *, key: bool = False) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system("gpg")
        stage.write("dist/fares-1.4.0.jar", "content\n")
        stage.quiet("mkdir -p ~/.gnupg && chmod 700 ~/.gnupg")
        if key:
            stage.quiet("gpg --batch --quiet --pinentry-mode loopback --passphrase secret-of-the-lab --quick-generate-key 'Release Bot <bot@brackwater.example>' default default never"
                        " && gpgconf --kill gpg-agent")  # fmt: skip
        stage.stack.callback(lambda: stage.quiet("gpgconf --kill all || true"))
        return f"ls dist\n{script}\n"

    return prepare


def _jarsigner(script: str, *, store: bool = True) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system("jarsigner")
        stage.write("Fares.java", "public class Fares {}\n")
        stage.quiet("javac Fares.java && jar cf fares.jar Fares.class")
        if store:
            stage.quiet(
                "keytool -genkeypair -alias upload -keyalg RSA -dname CN=Brackwater -storepass lab-only -keystore release.p12 2>/dev/null"
            )
        return f"ls\n{script}\n"

    return prepare


def _row(  # noqa: PLR0917 - the columns of a table
    tool: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain", *version: str
) -> Scenario:
    return Scenario(
        tool=tool, slug=slug, prepare=prepare, failure=failure, line=line, frame=frame, version=version or None
    )


_PLUGIN = "apply plugin: 'java'\ngroup = 'example.brackwater'\nversion = '1.4.0'\nrepositories { maven { url 'REPOSITORY/maven' } }\n"
_NEEDS = _PLUGIN + "dependencies { compile 'example.brackwater:tides:3.1.0' }\n"
_PUBLISH = (
    _PLUGIN
    + "apply plugin: 'ivy-publish'\npublishing {\n  publications { fares(IvyPublication) { from components.java } }\n  repositories { ivy { name 'releases'; url 'REPOSITORY/releases' } }\n}\n"
)
_JUNIT = (
    _PLUGIN
    + "dependencies { testCompile files('/usr/share/java/junit4.jar', '/usr/share/java/hamcrest-core.jar', '/usr/share/java/hamcrest-all.jar') }\n"
)
_TEST = {
    "src/test/java/example/brackwater/fares/FaresTest.java": "package example.brackwater.fares;\n\nimport static org.junit.Assert.assertEquals;\nimport org.junit.Test;\n\npublic class FaresTest {\n    @Test public void winter() { assertEquals(14, new Fares().winter()); }\n}\n"
}
_ANT = '<project name="fares" default="compile">\n  <target name="compile">\n    <mkdir dir="classes"/>\n    <javac srcdir="src/main/java" destdir="classes" includeantruntime="false"/>\n  </target>\n</project>\n'


def _all(status: int, reason: str) -> list[Rule]:
    return [Rule(path="^/", method="GET|HEAD|PUT", answer=Answer(status=status, reason=reason))]


_SIGN = "gpg --batch --armor --detach-sign dist/fares-1.4.0.jar"
_STORE = "jarsigner -keystore release.p12 -storepass lab-only fares.jar "
_JDK = ("java", "-version")

SCENARIOS = (
    _row("gradle", "task-missing", _gradle("gradle --offline bundle", _PLUGIN), "setup-goal-unknown", "Task 'bundle' not found in root project", "iso"),
    _row("gradle", "not-found", _gradle("gradle build", _NEEDS), "resolve-artifact-not-found", "Could not find example.brackwater:tides:3.1.0"),
    _row("gradle", "unauthorized", _gradle("gradle build", _NEEDS, _all(401, "Unauthorized")), "resolve-unauthorized", "Received status code 401|Could not GET.*401", "clock"),
    _row("gradle", "refused", _gradle("gradle build", _NEEDS, down=True), "resolve-connection-refused", "Connect to .* failed|Connection refused", "job"),
    _row("gradle", "symbol", _gradle("gradle build", _PLUGIN, java=_JAVA.replace("12", "tariff()")), "compile-symbol-not-found", "error: cannot find symbol", "iso"),
    _row("gradle", "build-file", _gradle("gradle build", _PLUGIN + "dependencies {\n"), "setup-build-file-invalid", "build file .*build.gradle|Could not compile build file"),
    _row("gradle", "test-failed", _gradle("gradle --offline test", _JUNIT, more=_TEST), "test-failed", "FaresTest > winter FAILED", "clock"),
    _row("gradle", "publish-forbidden", _gradle("gradle publish", _PUBLISH, _all(403, "Forbidden")), "deploy-forbidden", "Received status code 403|Could not (write|PUT).*403", "job"),
    _row("gradle", "publish-unauthorized", _gradle("gradle publish", _PUBLISH, _all(401, "Unauthorized")), "deploy-unauthorized", "Received status code 401|Could not (write|PUT).*401"),
    _row("ant", "target-missing", _ant("ant bundle", _ANT), "setup-goal-unknown", 'Target "bundle" does not exist', "iso", "ant", "-version"),
    _row("ant", "no-build-file", _ant("ant compile", None), "setup-build-file-missing", "build.xml does not exist", "plain", "ant", "-version"),
    _row("ant", "symbol", _ant("ant", _ANT, java=_JAVA.replace("12", "tariff()")), "compile-symbol-not-found", "error: cannot find symbol", "clock", "ant", "-version"),
    _row("ant", "build-file", _ant("ant", _ANT.replace("</target>", "")), "setup-build-file-invalid", "must be terminated by the matching end-tag", "job", "ant", "-version"),
    _row("ant", "ivy-not-found", _ivy, "resolve-artifact-not-found", "(UNRESOLVED DEPENDENCIES|module not found|not found)", "iso", "ant", "-version"),
    _row("gpg", "no-key", _gpg(_SIGN), "package-signing-failed", "no default secret key|No secret key", "iso"),
    _row("gpg", "key-missing", _gpg(_SIGN.replace("--armor", "--local-user release@brackwater.example")), "package-signing-failed", "No secret key|skipped"),
    _row("gpg", "no-terminal", _gpg(_SIGN, key=True), "package-signing-failed", "gpg: signing failed", "clock"),
    _row("gpg", "bad-passphrase", _gpg(_SIGN.replace("--batch", "--batch --pinentry-mode loopback --passphrase not-it"), key=True), "package-signing-failed", "gpg: signing failed"),
    _row("jarsigner", "no-store", _jarsigner(_STORE + "upload", store=False), "package-signing-failed", "keystore load", "job", *_JDK),
    _row("jarsigner", "no-alias", _jarsigner(_STORE + "release"), "package-signing-failed", "Certificate chain not found for", "iso", *_JDK),
    _row("jarsigner", "bad-password", _jarsigner(_STORE.replace("lab-only", "not-it") + "upload"), "package-signing-failed", "keystore load|password was incorrect", "plain", *_JDK),
)  # fmt: skip
