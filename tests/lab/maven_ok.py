"""Maven runs that look bad in places and succeed."""

from __future__ import annotations

from tests.lab.maven_build import LATIN, MAIN_FOLDER, PARENT, TEST_FOLDER, main_class, modules, with_tests
from tests.lab.maven_deploy import QUIET_RETRY
from tests.lab.maven_projects import JUNIT4, JUNIT5, TEST4, TEST5, dependency, plugin, pom, settings
from tests.lab.maven_resolve import CODEC, CODEC_PATH, wrong_checksum
from tests.lab.maven_stage import Scenario, Stage
from tests.lab.rule_server import Answer

__all__ = ["OK"]

NOISY = """try {
            throw new java.net.ConnectException("Connection refused");
        } catch (java.net.ConnectException expected) {
            System.err.println("ERROR retry after: BUILD FAILURE of the fake upstream, status code: 403");
            new RuntimeException("Could not transfer artifact (simulated)", expected).printStackTrace();
        }"""
WARNED = "package example.brackwater.fares;\n\npublic class Ticket {\n    java.util.List zones = new java.util.ArrayList();\n    @Deprecated int old;\n    int now = new Ticket().old + new Integer(3);\n}\n"


def warned(stage: Stage) -> None:
    """Compiler warnings, duplicate plugin declarations, an unknown element in the settings."""
    twice = [plugin("maven-jar-plugin:3.3.0"), plugin("maven-jar-plugin:3.3.0")]
    declared = "    <project.build.sourceEncoding>UTF-8</project.build.sourceEncoding>\n"
    stage.project(pom(plugins=twice).replace(declared, ""))
    stage.world.write(f"{MAIN_FOLDER}/Ticket.java", WARNED)
    stage.settings(settings(mirror=stage.public, extra="  <fares>yes</fares>"))


def recovering(stage: Stage) -> None:
    """The first answers for a library are errors that the client tries again after."""
    stage.project(pom(dependencies=[CODEC]))
    stage.rule(CODEC_PATH + r"/.*\.pom$", Answer(status=503, reason="Service Unavailable"), times=1)
    stage.rule(CODEC_PATH + r"/.*\.jar$", Answer(drop="before"), times=1)


def answered_at_second_try(stage: Stage) -> None:
    """The connection breaks once; the client asks again by itself."""
    stage.project(pom(dependencies=[CODEC]))
    stage.rule(CODEC_PATH + r"/.*\.jar$", Answer(drop="before"), times=1)


def first_repository_fails(stage: Stage) -> None:
    """The first repository has nothing, the second one serves the library."""
    stage.settings(settings(mirror=stage.public, mirror_of="central"))
    extra = f"  <repositories><repository><id>partners</id><url>{stage.server.url}/repository/partners</url></repository></repositories>"
    stage.project(pom(dependencies=[CODEC], extra=extra))


def skipped_tests(stage: Stage) -> None:
    stage.project(pom(dependencies=[JUNIT4], target=stage.releases))
    stage.world.write(f"{TEST_FOLDER}/FareTableTest.java", TEST4 % "999")


def snapshot(stage: Stage) -> None:
    stage.project(pom(version="1.4.0-SNAPSHOT", target=stage.snapshots))


def metadata_of_other_repository_refused(stage: Stage) -> None:
    """A version range asks a second repository that refuses; what the first one has is enough."""
    stage.settings(settings(mirror=stage.public, mirror_of="central"))
    extra = f"  <repositories><repository><id>partners</id><url>{stage.server.url}/repository/partners</url></repository></repositories>"
    stage.project(pom(dependencies=[dependency("commons-codec:commons-codec:[1.15,1.16.0]")], extra=extra))
    stage.rule("/repository/partners/.*maven-metadata", Answer(status=403))


def rerun_tests(stage: Stage) -> None:
    """A test that fails once and passes when it is run again."""
    flaky = 'java.io.File once = new java.io.File("target/once");\n        if (once.createNewFile()) throw new IllegalStateException("upstream not ready");'
    text = (TEST5 % ("410", flaky)).replace("void childTravelsFree()", "void childTravelsFree() throws Exception")
    with_tests(JUNIT5, test=text, plugins=(plugin("maven-surefire-plugin:3.2.5"),))(stage)


def deploying_modules(stage: Stage) -> None:
    stage.project(
        pom("fares", packaging="pom", modules=["fares-core", "fares-web"], target=stage.releases), sources=False
    )
    for name in ("fares-core", "fares-web"):
        stage.world.write(f"{name}/pom.xml", pom(name, parent=PARENT))


OK: tuple[Scenario, ...] = (
    Scenario(slug="ok-cold-deploy", maven="3.6.3", setup=deploying_modules, cold=True, command="mvn -B deploy",
             failure=None, outcome="succeeded"),
    Scenario(slug="ok-warnings", maven="3.8.7", setup=warned, command="mvn -B verify", failure=None, outcome="succeeded", also="WARNING.*must be unique"),
    Scenario(slug="ok-encoding-warning", maven="3.8.7", setup=main_class(LATIN), command="mvn -B verify",
             failure=None, outcome="succeeded", also="unmappable character"),
    # Here the same complaint is printed as an error, and the build succeeds all the same.
    Scenario(slug="ok-encoding-error-line", maven="3.9.9", setup=main_class(LATIN), command="mvn -B verify",
             failure=None, outcome="succeeded", also="ERROR.*unmappable character"),
    Scenario(slug="ok-tests-skipped", maven="3.9.9", setup=skipped_tests, command="mvn -B deploy -DskipTests", failure=None, outcome="succeeded"),
    Scenario(slug="ok-noisy-test", maven="3.9.9", setup=with_tests(JUNIT5, test=TEST5 % ("410", NOISY), plugins=(plugin("maven-surefire-plugin:3.2.5"),)),
             command="mvn -B verify", failure=None, outcome="succeeded", also="Could not transfer artifact"),
    Scenario(slug="ok-noisy-test", maven="3.6.3", setup=with_tests(JUNIT5, test=TEST5 % ("410", NOISY), plugins=(plugin("maven-surefire-plugin:2.22.2"),)),
             command="mvn verify", failure=None, outcome="succeeded", also="Could not transfer artifact"),
    Scenario(slug="ok-recovered-download", maven="3.9.9", setup=recovering, command="mvn -B -X verify" + QUIET_RETRY, failure=None, outcome="succeeded"),
    Scenario(slug="ok-recovered-download", maven="3.8.7", setup=answered_at_second_try,
             command="mvn -B verify", failure=None, outcome="succeeded"),
    Scenario(slug="ok-checksum-warning", maven="3.8.7", setup=wrong_checksum, command="mvn -B verify", failure=None, outcome="succeeded", also="Checksum validation failed"),
    Scenario(slug="ok-checksum-warning", maven="4.0.0-rc-4", setup=wrong_checksum, command="mvn -B -c verify", failure=None, outcome="succeeded"),
    Scenario(slug="ok-second-repository", maven="3.6.3", setup=first_repository_fails, command="mvn -B verify", failure=None, outcome="succeeded"),
    Scenario(slug="ok-range-one-refused", maven="3.9.9", setup=metadata_of_other_repository_refused, command="mvn -B verify", failure=None, outcome="succeeded", also="Could not transfer metadata"),
    Scenario(slug="ok-fail-never", maven="3.9.9", setup=modules, command="mvn -B -fn verify", failure=None, outcome="succeeded", also="<<< FAILURE"),
    Scenario(slug="ok-test-failure-ignored", maven="3.8.7", setup=skipped_tests, command="mvn -B verify -Dmaven.test.failure.ignore=true",
             failure=None, outcome="succeeded", also="There are test failures"),
    Scenario(slug="ok-flaky-test", maven="3.9.9", setup=rerun_tests, command="mvn -B verify -Dsurefire.rerunFailingTestsCount=1",
             failure=None, outcome="succeeded", also="Flakes"),
    Scenario(slug="ok-snapshot-parallel", maven="4.0.0-rc-4", setup=snapshot, command="mvn -B -T2 deploy", failure=None, outcome="succeeded"),
    Scenario(slug="ok-colours", maven="3.9.9", setup=warned, command="mvn -Dstyle.color=always verify", jdk="25", failure=None, outcome="succeeded"),
)  # fmt: skip
