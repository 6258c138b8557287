"""Maven runs that fail while compiling, testing, packaging or releasing."""

from __future__ import annotations

from collections.abc import Callable

from tests.lab.maven_projects import BROKEN_TEST, JUNIT4, JUNIT5, MAIN, TEST4, TEST5, dependency, plugin, pom
from tests.lab.maven_stage import Scenario, Stage
from tests.lab.rule_server import Answer
from tests.lab.runner import run

__all__ = ["BUILD"]

Setup = Callable[[Stage], None]
MAIN_FOLDER = "src/main/java/example/brackwater/fares"
TEST_FOLDER = "src/test/java/example/brackwater/fares"
PARENT = (
    "<parent><groupId>example.brackwater.fares</groupId><artifactId>fares</artifactId><version>1.4.0</version></parent>"
)
SUREFIRE = plugin("maven-surefire-plugin:3.2.5")


def main_class(text: str | bytes, **more: str) -> Setup:
    def prepare(stage: Stage) -> None:
        stage.project(pom(**more))  # type: ignore[arg-type]
        stage.world.write(f"{MAIN_FOLDER}/Ticket.java", text)

    return prepare


def compiler(configuration: str, text: str = MAIN) -> Setup:
    def prepare(stage: Stage) -> None:
        stage.project(pom(plugins=[plugin("maven-compiler-plugin:3.13.0", configuration)]))
        stage.world.write(f"{MAIN_FOLDER}/FareTable.java", text)

    return prepare


def with_tests(*dependencies: str, test: str, plugins: tuple[str, ...] = ()) -> Setup:
    def prepare(stage: Stage) -> None:
        stage.project(pom(dependencies=dependencies, plugins=plugins))
        stage.world.write(f"{TEST_FOLDER}/FareTableTest.java", test)

    return prepare


def gate(text: str, *, source: str | None = None, packaging: str = "jar") -> Setup:
    """A project with one more plugin."""

    def prepare(stage: Stage) -> None:
        stage.project(pom(plugins=[text], packaging=packaging))
        if source:
            stage.world.write(f"{MAIN_FOLDER}/Ticket.java", source)

    return prepare


def goal(name: str, phase: str = "") -> str:
    inner = f"<phase>{phase}</phase>" if phase else ""
    return f"<execution>{inner}<goals><goal>{name}</goal></goals></execution>"


def modules(stage: Stage) -> None:
    """The first module's tests fail while the other one goes on."""
    stage.project(pom("fares", packaging="pom", modules=["fares-core", "fares-web", "fares-report"]), sources=False)
    for name in ("fares-core", "fares-web"):
        stage.world.write(f"{name}/pom.xml", pom(name, parent=PARENT, dependencies=[JUNIT4]))
        stage.world.write(f"{name}/{MAIN_FOLDER}/FareTable.java", MAIN)
        stage.world.write(f"{name}/{TEST_FOLDER}/FareTableTest.java", TEST4 % ("410" if name == "fares-web" else "999"))
    report = pom("fares-report", parent=PARENT, dependencies=[dependency("example.brackwater.fares:fares-core:1.4.0")])
    stage.world.write("fares-report/pom.xml", report)


def broken_module(stage: Stage) -> None:
    """Two modules side by side; one does not compile."""
    modules(stage)
    stage.world.write(f"fares-core/{TEST_FOLDER}/FareTableTest.java", TEST4 % "410")
    stage.world.write(f"fares-web/{MAIN_FOLDER}/Page.java", UNKNOWN_SYMBOL)


def covered(stage: Stage) -> None:
    """One class is with_tests, the other one is not."""
    stage.project(pom(dependencies=[JUNIT4], plugins=[COVERAGE]))
    stage.world.write(f"{MAIN_FOLDER}/Ticket.java", UNTESTED)
    stage.world.write(f"{TEST_FOLDER}/FareTableTest.java", TEST4 % "410")


def stuck_download(stage: Stage) -> None:
    """The repository never answers for a library."""
    stage.project(pom(dependencies=[dependency("commons-codec:commons-codec:1.16.0")]))
    stage.rule(r"commons-codec-1\.16\.0\.jar$", Answer(delay=30, pass_on=True))


def integration(stage: Stage) -> None:
    """An integration test fails; the tool says so one goal later."""
    failsafe = plugin(
        "maven-failsafe-plugin:3.2.5",
        executions=goal("integration-test") + goal("verify").replace("<execution>", "<execution><id>judge</id>"),
    )
    stage.project(pom(dependencies=[JUNIT5], plugins=[SUREFIRE, failsafe]))
    stage.world.write(
        f"{TEST_FOLDER}/FareTableIT.java", (TEST5 % ("999", "")).replace("class FareTableTest", "class FareTableIT")
    )


def signing(stage: Stage) -> None:
    stage.project(pom(plugins=[plugin("maven-gpg-plugin:3.1.0", executions=goal("sign", "verify"))]))


def release_with_changes(stage: Stage) -> None:
    """A release is prepared in a work tree with a local change."""
    scm = "  <scm><developerConnection>scm:git:file:///srv/git/fares.git</developerConnection></scm>"
    stage.project(
        pom(version="1.4.0-SNAPSHOT", target=stage.releases, extra=scm, plugins=[plugin("maven-release-plugin:3.0.1")])
    )
    env = stage.world.environment()
    for words in (
        ["init", "-q"], ["add", "."], ["-c", "user.name=ci", "-c", "user.email=ci@brackwater.example", "commit", "-qm", "Fares"],
    ):  # fmt: skip
        run(["git", *words], stage.world, env)
    stage.world.write(f"{MAIN_FOLDER}/FareTable.java", MAIN + "\n")


UNKNOWN_SYMBOL = "package example.brackwater.fares;\n\npublic class Ticket {\n    Zone from;\n    int price = new FareTable().child(2);\n}\n"
UNKNOWN_PACKAGE = "package example.brackwater.fares;\n\nimport example.brackwater.tariff.Tariff;\n\npublic class Ticket {\n    Tariff tariff;\n}\n"
SYNTAX = "package example.brackwater.fares;\n\npublic class Ticket {\n    int price() {\n        return 240\n    }\n}\n"
LATIN = 'package example.brackwater.fares;\n\npublic class Ticket {\n    String harbour = "Fähre";\n}\n'.encode(
    "latin-1"
)
LATIN_NAME = "package example.brackwater.fares;\n\npublic class Ticket {\n    int überfahrt = 3;\n}\n".encode("latin-1")
RAW_TYPES = "package example.brackwater.fares;\n\npublic class FareTable {\n    java.util.List zones = new java.util.ArrayList();\n}\n"
TYPES = 'package example.brackwater.fares;\n\npublic class Ticket {\n    int price = "two pounds";\n}\n'
BAD_DOC = "package example.brackwater.fares;\n\npublic class Ticket {\n    /** Price. @param zones zones <b>bold */\n    /** Price.\n     * @param zone wrong name\n     * @see Nowhere\n     */\n    public int price(int zones) {\n        return 1;\n    }\n}\n"
UNTESTED = "package example.brackwater.fares;\n\npublic class Ticket {\n    public int price() {\n        return 1;\n    }\n}\n"
EXIT = TEST5 % ("410", "System.exit(3);")
STUCK = (TEST5 % ("410", "Thread.sleep(40000);")).replace(
    "void childTravelsFree()", "void childTravelsFree() throws Exception"
)
SLEEP = (TEST5 % ("410", "Thread.sleep(9000);")).replace(
    "void childTravelsFree()", "void childTravelsFree() throws Exception"
)
ENFORCE_BANNED = plugin(
    "maven-enforcer-plugin:3.4.1", "<rules><bannedPlugins><excludes><exclude>org.apache.maven.plugins:maven-jar-plugin</exclude></excludes></bannedPlugins></rules>",
    executions=goal("enforce"),
)  # fmt: skip
ENFORCE_FILES = plugin(
    "maven-enforcer-plugin:3.4.1", "<rules><requireFilesExist><files><file>LICENCE.txt</file></files></requireFilesExist></rules>", executions=goal("enforce"),
)  # fmt: skip
CHECKSTYLE = plugin(
    "maven-checkstyle-plugin:3.3.1", "<violationSeverity>error</violationSeverity><consoleOutput>true</consoleOutput>", executions=goal("check", "validate"),
)  # fmt: skip
COVERAGE = plugin(
    "org.jacoco:jacoco-maven-plugin:0.8.12",
    "<rules><rule><limits><limit><counter>LINE</counter><minimum>0.95</minimum></limit></limits></rule></rules>",
    executions=goal("prepare-agent") + goal("check", "verify").replace("<execution>", "<execution><id>gate</id>"),
)

# The test's own line, not the class's count before it.
FAILED_TEST = r"^(?!.*Tests run:).*<<< (?:FAILURE|ERROR)!"

BUILD: tuple[Scenario, ...] = (
    Scenario(slug="symbol-unknown", maven="3.6.3", setup=main_class(UNKNOWN_SYMBOL), command="mvn -B verify",
             failure="compile-symbol-not-found", root=r"ERROR.*Ticket\.java.*cannot find symbol"),
    Scenario(slug="symbol-unknown", maven="3.9.9", setup=main_class(UNKNOWN_SYMBOL), command="mvn -B -X verify",
             failure="compile-symbol-not-found", root=r"(?:ERROR|^)\S*.*Ticket\.java.*cannot find symbol"),
    Scenario(slug="package-unknown", maven="3.8.7", setup=main_class(UNKNOWN_PACKAGE), command="mvn -B -Dstyle.color=always verify",
             failure="compile-symbol-not-found", root=r"ERROR.*package example\.brackwater\.tariff does not exist"),
    Scenario(slug="package-unknown", maven="4.0.0-rc-4", setup=main_class(UNKNOWN_PACKAGE), command="mvn -B verify",
             failure="compile-symbol-not-found", root=r"ERROR.*package example\.brackwater\.tariff does not exist"),
    Scenario(slug="syntax-error", maven="3.9.9", setup=main_class(SYNTAX), command="mvn -B verify",
             failure="compile-source-error", root=r"ERROR.*';' expected"),
    Scenario(slug="types-differ", maven="3.6.3", setup=main_class(TYPES), command="mvn verify",
             failure="compile-source-error", root="ERROR.*incompatible types"),
    Scenario(slug="encoding", maven="3.8.7", setup=main_class(LATIN_NAME), command="mvn -B verify",
             failure="compile-encoding", root="unmappable character"),
    Scenario(slug="encoding", maven="3.9.9", setup=main_class(LATIN_NAME), command="mvn -B verify",
             failure="compile-encoding", root="unmappable character"),
    Scenario(slug="warnings-are-errors", maven="3.9.9", setup=compiler("<failOnWarning>true</failOnWarning><showWarnings>true</showWarnings><compilerArgs><arg>-Xlint:all,-options</arg></compilerArgs>", RAW_TYPES),
             command="mvn -B verify", failure="compile-warning-as-error", root="(?:ERROR|WARNING).*warnings found and -Werror"),
    Scenario(slug="processor-missing", maven="3.9.9", setup=compiler("<annotationProcessors><annotationProcessor>example.brackwater.build.FareProcessor</annotationProcessor></annotationProcessors>"),
             command="mvn -B verify", failure="compile-annotation-processor", root="ERROR.*Annotation processor"),
    Scenario(slug="style-gate", maven="3.9.9", setup=gate(CHECKSTYLE), command="mvn -B validate",
             failure="compile-style-gate", root=r"ERROR.*FareTable\.java"),
    Scenario(slug="file-rule", maven="3.9.9", setup=gate(ENFORCE_FILES), command="mvn -B verify",
             failure="compile-rule-gate", root=r"(?:ERROR|WARN).*Rule 0:"),
    Scenario(slug="docs", maven="3.8.7", setup=gate(plugin("maven-javadoc-plugin:3.6.3", executions=goal("jar")), source=BAD_DOC), command="mvn -B package",
             failure="compile-docs-failed", root=r"ERROR.*Ticket\.java:\d+: error:"),
    Scenario(slug="junit4-failure", maven="3.6.3", setup=with_tests(JUNIT4, test=TEST4 % "999"), command="mvn -B verify",
             failure="test-failed", root=FAILED_TEST),
    Scenario(slug="junit4-failure-cold", maven="3.8.7", setup=with_tests(JUNIT4, test=TEST4 % "999"), cold=True, command="mvn verify",
             failure="test-failed", root=FAILED_TEST),
    Scenario(slug="junit5-failure-and-error", maven="3.9.9", setup=with_tests(JUNIT5, test=TEST5 % ("999", BROKEN_TEST), plugins=(SUREFIRE,)), command="mvn -B verify",
             failure="test-failed", root=FAILED_TEST),
    Scenario(slug="junit5-failure-trimmed", maven="4.0.0-rc-4", setup=with_tests(JUNIT5, test=TEST5 % ("999", "")), command="mvn -B verify -DtrimStackTrace=false",
             failure="test-failed", root=FAILED_TEST),
    Scenario(slug="test-ends-jvm", maven="3.9.9", setup=with_tests(JUNIT5, test=EXIT, plugins=(SUREFIRE,)), command="mvn -B verify",
             failure="test-process-crashed", root=r"ERROR.*(?:forked VM terminated|crash|System.exit)"),
    Scenario(slug="test-ends-jvm", maven="3.8.7", setup=with_tests(JUNIT5, test=EXIT, plugins=(plugin("maven-surefire-plugin:2.22.2"),)), command="mvn -B verify",
             failure="test-process-crashed", root=r"ERROR.*(?:forked VM terminated|crash|System.exit)"),
    Scenario(slug="test-timed-out", maven="3.9.9", setup=with_tests(JUNIT5, test=SLEEP, plugins=(plugin("maven-surefire-plugin:3.2.5", "<forkedProcessTimeoutInSeconds>4</forkedProcessTimeoutInSeconds>"),)),
             command="mvn -B verify", failure="test-timed-out", root="ERROR.*(?:timeout|timed out)"),
    # Killed from outside: the log ends in the middle, with nothing that tells why.
    Scenario(slug="killed-in-test", maven="3.9.9", setup=with_tests(JUNIT5, test=STUCK, plugins=(SUREFIRE,)), command="mvn -B verify", killed_after=14,
             failure=None, outcome="unknown", also="Running example"),
    Scenario(slug="killed-in-download", maven="3.8.7", setup=stuck_download, command="mvn -B verify", killed_after=10,
             failure=None, outcome="unknown", also="Downloading from brackwater: .*commons-codec-1.16.0.jar"),
    Scenario(slug="integration-test-failure", maven="3.8.7", setup=integration, command="mvn -B verify",
             failure="test-failed", root=FAILED_TEST, also="failsafe.*verify"),
    Scenario(slug="no-such-test", maven="3.8.7", setup=with_tests(JUNIT4, test=TEST4 % "410"), command="mvn -B -Dtest=TimetableTest verify",
             failure="test-none-found", root="ERROR.*No tests were executed"),
    Scenario(slug="no-such-test", maven="3.9.9", setup=with_tests(JUNIT5, test=TEST5 % ("410", ""), plugins=(SUREFIRE,)), command="mvn -B -Dtest=TimetableTest verify",
             failure="test-none-found", root="ERROR.*No tests (?:were executed|matching pattern)"),
    Scenario(slug="coverage-gate", maven="3.9.9", setup=covered,
             command="mvn -B verify", failure="test-coverage-gate", root="(?:WARNING|ERROR).*Rule violated"),
    Scenario(slug="module-tests-fail-at-end", maven="3.9.9", setup=modules, command="mvn -B -fae verify",
             failure="test-failed", root=FAILED_TEST, also="SKIPPED"),
    Scenario(slug="module-broken-parallel", maven="3.8.7", setup=broken_module, command="mvn -B -T2 verify",
             failure="compile-symbol-not-found", root=r"ERROR.*cannot find symbol"),
    Scenario(slug="module-broken-parallel", maven="4.0.0-rc-4", setup=broken_module, command="mvn -B -T2 verify",
             failure="compile-symbol-not-found", root=r"ERROR.*cannot find symbol"),
    Scenario(slug="war-without-descriptor", maven="3.6.3", setup=lambda stage: stage.project(pom("fares-web", packaging="war", plugins=[plugin("maven-war-plugin:3.4.0", "<failOnMissingWebXml>true</failOnMissingWebXml>")])), command="mvn -B package",
             failure="package-descriptor-missing", root="ERROR.*webxml attribute is required"),
    Scenario(slug="signing-without-key", maven="3.9.9", setup=signing, command="mvn -B verify",
             failure="package-signing-failed", root="gpg: (?:no default secret key|signing failed)"),
    Scenario(slug="main-class-missing", maven="3.9.9", setup=gate(plugin("org.springframework.boot:spring-boot-maven-plugin:2.7.18", executions=goal("repackage"))),
             command="mvn -B package", failure="package-main-class-missing", root="ERROR.*Unable to find main class"),
    Scenario(slug="release-with-local-changes", maven="3.9.9", setup=release_with_changes, command="mvn -B release:prepare",
             failure="deploy-release-not-clean", root="ERROR.*local modifications"),
)  # fmt: skip
