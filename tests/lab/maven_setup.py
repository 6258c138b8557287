"""Maven runs that fail over the machine, the JDK, the build file or the settings."""

from __future__ import annotations

import io
import shutil
import subprocess
import zipfile
from collections.abc import Callable

from tests.lab import maven_tools
from tests.lab.maven_projects import dependency, plugin, pom
from tests.lab.maven_stage import Scenario, Stage
from tests.lab.rule_server import Answer

__all__ = ["SETUP"]

Setup = Callable[[Stage], None]
PARENT = (
    "<parent><groupId>example.brackwater.fares</groupId><artifactId>fares</artifactId><version>1.4.0</version></parent>"
)
ENFORCE = "<execution><goals><goal>enforce</goal></goals></execution>"


def nothing(stage: Stage) -> None:
    """The stage as it is."""


def java_home(path: str) -> Setup:
    """JAVA_HOME as given; ``{jdk}`` is the real one."""

    def prepare(stage: Stage) -> None:
        stage.env["JAVA_HOME"] = path.format(jdk=stage.env["JAVA_HOME"])

    return prepare


def without_java(stage: Stage) -> None:
    """No JAVA_HOME, and a PATH with the shell's tools but no java."""
    tools = stage.world.base / "usr" / "bin"
    tools.mkdir(parents=True)
    for name in ("sh", "bash", "env", "uname", "dirname", "basename", "ls", "sed", "tr", "cat", "expr", "which", "id"):
        if found := shutil.which(name):
            (tools / name).symlink_to(found)
    stage.env.pop("JAVA_HOME")
    stage.env["PATH"] = str(tools)


def runtime_only(stage: Stage) -> None:
    """A Java runtime without a compiler, linked from the JDK."""
    runtime = maven_tools.cache() / "jre-17"
    if not runtime.exists():
        jlink = maven_tools.JDKS["17"] / "bin" / "jlink"
        subprocess.run(
            [str(jlink), "--add-modules", "java.se,jdk.crypto.ec,jdk.zipfs", "--output", str(runtime)],
            check=True, capture_output=True,
        )  # fmt: skip
    stage.env["JAVA_HOME"] = str(runtime)
    stage.texts.append((str(runtime), "/opt/java/jre-17"))


def without_pom(stage: Stage) -> None:
    (stage.world.project / "pom.xml").unlink()


def cut_pom(stage: Stage) -> None:
    """The build file ends in the middle of a merge."""
    text = pom()
    stage.project(text.replace("  <properties>", "<<<<<<< HEAD\n  <properties>"))


def incomplete_pom(stage: Stage) -> None:
    stage.project(pom().replace("  <version>1.4.0</version>\n", ""))


def broken_settings(stage: Stage) -> None:
    stage.world.write(
        "ci-settings.xml",
        "<settings>\n  <servers>\n    <server><id>brackwater-releases</id>\n  </servers>\n</settings>\n",
    )


def enforcer(rules: str, version: str = "3.4.1") -> Setup:
    return lambda stage: stage.project(
        pom(plugins=[plugin(f"maven-enforcer-plugin:{version}", f"<rules>{rules}</rules>", executions=ENFORCE)])
    )


def aggregator(*modules: str, parts: dict[str, str] | None = None) -> Setup:
    def prepare(stage: Stage) -> None:
        stage.project(pom("fares", packaging="pom", modules=modules), sources=False)
        for name, text in (parts or {}).items():
            stage.world.write(f"{name}/pom.xml", text)

    return prepare


def _needs(name: str) -> list[str]:
    return [dependency(f"example.brackwater.fares:{name}:1.4.0")]


CYCLE = {
    "fares-core": pom("fares-core", parent=PARENT, dependencies=_needs("fares-web")),
    "fares-web": pom("fares-web", parent=PARENT, dependencies=_needs("fares-core")),
}

_MODEL = "package example.brackwater.tariff; public class Tariff { public static int base() { return 240; } }"
_MOJO = """package example.brackwater.build;
public class StampMojo extends org.apache.maven.plugin.AbstractMojo {
    public void execute() { getLog().info("stamped"); }
}
"""
_DESCRIPTOR = """<plugin><name>stamp</name><groupId>example.brackwater.build</groupId>
<artifactId>fares-stamp-plugin</artifactId><version>1.2</version><goalPrefix>stamp</goalPrefix><mojos><mojo>
<goal>stamp</goal><requiresProject>true</requiresProject><implementation>example.brackwater.build.StampMojo</implementation>
<language>java</language><instantiationStrategy>per-lookup</instantiationStrategy>
<executionStrategy>once-per-session</executionStrategy></mojo></mojos></plugin>
"""


def _compiled_for_25(stage: Stage, name: str, source: str, *, classpath: str = "") -> dict[str, bytes]:
    """Class files made by the newer JDK, by their path in a jar."""
    folder = stage.world.base / "made"
    path = folder / f"{name}.java"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(source)
    javac = maven_tools.JDKS["25"] / "bin" / "javac"
    subprocess.run(
        [str(javac), "-cp", classpath or ".", "-d", str(folder / "out"), str(path)], check=True, capture_output=True
    )
    made = {str(each.relative_to(folder / "out")): each.read_bytes() for each in (folder / "out").rglob("*.class")}
    shutil.rmtree(folder)
    return made


def _publish(stage: Stage, coordinates: str, files: dict[str, bytes], packaging: str = "jar") -> None:
    """Put a jar and its build file into the local repository."""
    group, artifact, version = coordinates.split(":")
    folder = stage.local_repository / group.replace(".", "/") / artifact / version
    folder.mkdir(parents=True, exist_ok=True)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, body in files.items():
            archive.writestr(name, body)
    (folder / f"{artifact}-{version}.jar").write_bytes(packed.getvalue())
    (folder / f"{artifact}-{version}.pom").write_text(
        f"<project><modelVersion>4.0.0</modelVersion><groupId>{group}</groupId><artifactId>{artifact}</artifactId>"
        f"<version>{version}</version><packaging>{packaging}</packaging></project>"
    )


def newer_library(stage: Stage) -> None:
    """A library that was built by a newer JDK than the one in use."""
    _publish(stage, "example.brackwater.tariff:tariff-model:2.1.0", _compiled_for_25(stage, "Tariff", _MODEL))
    stage.project(pom(dependencies=[dependency("example.brackwater.tariff:tariff-model:2.1.0")]))
    user = "package example.brackwater.fares;\n\nclass Fares {\n    int base = example.brackwater.tariff.Tariff.base();\n}\n"
    stage.world.write("src/main/java/example/brackwater/fares/Fares.java", user)


def newer_plugin(stage: Stage) -> None:
    """A build plugin that was built by a newer JDK."""
    api = next(maven_tools.maven_home("3.9.9").glob("lib/maven-plugin-api-*.jar"))
    files = _compiled_for_25(stage, "StampMojo", _MOJO, classpath=str(api))
    files["META-INF/maven/plugin.xml"] = _DESCRIPTOR.encode()
    _publish(stage, "example.brackwater.build:fares-stamp-plugin:1.2", files, "maven-plugin")
    run = "<execution><phase>validate</phase><goals><goal>stamp</goal></goals></execution>"
    stage.project(pom(plugins=[plugin("example.brackwater.build:fares-stamp-plugin:1.2", executions=run)]))


def release(value: str) -> Setup:
    return lambda stage: stage.project(
        pom(properties={"maven.compiler.release": value}, plugins=[plugin("maven-compiler-plugin:3.11.0")])
    )


def source_level(value: str) -> Setup:
    return lambda stage: stage.project(pom(properties={"maven.compiler.source": value, "maven.compiler.target": value}))


def shade(stage: Stage) -> None:
    """A shading plugin whose bytecode library is older than the class files it is given."""
    run = "<execution><phase>package</phase><goals><goal>shade</goal></goals></execution>"
    relocation = "<relocations><relocation><pattern>example.brackwater.fares</pattern><shadedPattern>fares</shadedPattern></relocation></relocations>"
    stage.project(
        pom(
            properties={"maven.compiler.source": "25", "maven.compiler.target": "25"},
            plugins=[plugin("maven-shade-plugin:3.2.4", relocation, executions=run)],
        )
    )


def toolchain(stage: Stage) -> None:
    wanted = "<toolchains><jdk><version>21</version></jdk></toolchains>"
    run = "<execution><goals><goal>toolchain</goal></goals></execution>"
    stage.project(pom(plugins=[plugin("maven-toolchains-plugin:3.1.0", wanted, executions=run)]))


def prefix_behind_401(stage: Stage) -> None:
    stage.rule("maven-metadata.xml", Answer(status=401))


def heap(*options: str) -> Setup:
    return lambda stage: stage.options.extend(options)


def launcher_alone(stage: Stage) -> None:
    """The launch script was copied without the installation around it."""
    home = stage.world.base / "opt" / "maven"
    (home / "bin").mkdir(parents=True)
    shutil.copy(maven_tools.maven_home("3.9.9") / "bin" / "mvn", home / "bin" / "mvn")
    (home / "bin" / "mvn").chmod(0o755)
    stage.launcher = [str(home / "bin" / "mvn")]


def wrapper(kind: str, lost: str) -> Setup:
    """The project brings its own launcher; one of the files that belong to it is lost, or points nowhere."""

    def prepare(stage: Stage) -> None:
        stage.before.append(
            ["-B", "-q", "org.apache.maven.plugins:maven-wrapper-plugin:3.3.2:wrapper", f"-Dtype={kind}"]
        )
        folder = stage.world.project / ".mvn" / "wrapper"

        def between() -> None:
            properties = folder / "maven-wrapper.properties"
            if lost == "address":
                url = "https://repos.brackwater.example/dist/apache-maven-3.9.9-bin.zip"
                wrapped = "https://repos.brackwater.example/dist/maven-wrapper-3.3.2.jar"
                properties.write_text(
                    f"wrapperVersion=3.3.2\ndistributionType={kind}\ndistributionUrl={url}\nwrapperUrl={wrapped}\n"
                )
            else:
                (folder / lost).unlink()

        stage.between = between
        stage.launcher = ["./mvnw"]

    return prepare


SETUP: tuple[Scenario, ...] = (
    Scenario(slug="java-home-nowhere", maven="3.6.3", setup=java_home("/opt/java/jdk-11.0.2"), command="mvn -B verify",
             failure="setup-java-home-wrong", root="JAVA_HOME"),
    Scenario(slug="java-home-bin", maven="3.8.7", setup=java_home("{jdk}/bin"), command="mvn -B verify",
             failure="setup-java-home-wrong", root="JAVA_HOME"),
    Scenario(slug="java-home-nowhere", maven="3.9.9", setup=java_home("/opt/java/jdk-11.0.2"), command="mvn -B verify",
             failure="setup-java-home-wrong", root="JAVA_HOME"),
    Scenario(slug="java-home-bin-java", maven="4.0.0-rc-4", setup=java_home("{jdk}/bin/java"), command="mvn -B verify",
             failure="setup-java-home-wrong", root="JAVA_HOME"),
    # This launcher says the same whether JAVA_HOME is wrong or there is no java at all.
    Scenario(slug="java-missing", maven="3.9.9", setup=without_java, command="mvn -B verify",
             failure="setup-java-home-wrong", root="JAVA_HOME"),
    Scenario(slug="java-missing", maven="4.0.0-rc-4", setup=without_java, command="mvn -B verify",
             failure="setup-java-missing", root="command does not exist in PATH"),
    Scenario(slug="runtime-without-compiler", maven="3.8.7", setup=runtime_only, command="mvn -B verify",
             failure="setup-jre-not-jdk", root="ERROR.*No compiler is provided"),
    Scenario(slug="maven-home-incomplete", maven="3.9.9", setup=launcher_alone, command="mvn -B verify",
             failure="setup-build-tool-home-wrong", root="(?:ClassNotFound|Could not find or load main class|classworlds)"),
    Scenario(slug="settings-missing", maven="3.6.3", setup=nothing, command="mvn -B -s /home/ci/secrets/settings-ci.xml verify",
             failure="setup-settings-file-missing", root="ERROR.*settings file does not exist"),
    Scenario(slug="settings-missing", maven="3.9.9", setup=nothing, command="mvn -B -gs ci/global.xml verify",
             failure="setup-settings-file-missing", root="ERROR.*settings file does not exist"),
    Scenario(slug="settings-missing", maven="4.0.0-rc-4", setup=nothing, command="mvn -B -s ci/settings.xml verify",
             failure="setup-settings-file-missing", root="(?:ERROR|rror).*settings file"),
    Scenario(slug="settings-invalid", maven="3.8.7", setup=broken_settings, command="mvn -B -s ci-settings.xml verify",
             failure="setup-settings-file-invalid", root="(?:ERROR|FATAL).*Non-parseable settings"),
    Scenario(slug="settings-invalid", maven="4.0.0-rc-4", setup=broken_settings, command="mvn -B -s ci-settings.xml verify",
             failure="setup-settings-file-invalid", root="(?:ERROR|FATAL|rror).*settings"),
    Scenario(slug="pom-missing", maven="3.8.7", setup=without_pom, command="mvn -B -Dstyle.color=always clean verify",
             failure="setup-build-file-missing", root="no POM in this directory"),
    Scenario(slug="pom-missing", maven="4.0.0-rc-4", setup=without_pom, command="mvn -B clean verify",
             failure="setup-build-file-missing", root="ERROR.*no POM in this directory"),
    Scenario(slug="pom-named-missing", maven="3.9.9", setup=nothing, command="mvn -B -f services/fares/pom.xml verify",
             failure="setup-build-file-missing", root="(?:ERROR|POM file).*services/fares/pom.xml"),
    Scenario(slug="pom-unparsable", maven="3.6.3", setup=cut_pom, command="mvn -B verify",
             failure="setup-build-file-invalid", root="(?:FATAL|ERROR).*Non-parseable POM"),
    Scenario(slug="pom-unparsable", maven="4.0.0-rc-4", setup=cut_pom, command="mvn -B verify",
             failure="setup-build-file-invalid", root="ERROR.*(?:Non-parseable POM|Error parsing|Malformed)"),
    Scenario(slug="pom-incomplete", maven="3.9.9", setup=incomplete_pom, command="mvn -B verify",
             failure="setup-build-file-invalid", root="(?:ERROR|FATAL).*'version' is missing"),
    Scenario(slug="phase-unknown", maven="3.6.3", setup=nothing, command="mvn -B clean packge",
             failure="setup-goal-unknown", root="ERROR.*Unknown lifecycle phase"),
    Scenario(slug="phase-unknown", maven="3.9.9", setup=nothing, command="mvn -B clean verify.",
             failure="setup-goal-unknown", root="ERROR.*Unknown lifecycle phase"),
    Scenario(slug="phase-unknown", maven="4.0.0-rc-4", setup=nothing, command="mvn -B clean instal",
             failure="setup-goal-unknown", root="ERROR.*Unknown lifecycle phase"),
    Scenario(slug="goal-unknown", maven="3.8.7", setup=nothing, command="mvn -B package deploy:dploy",
             failure="setup-goal-unknown", root="ERROR.*Could not find goal"),
    Scenario(slug="prefix-unknown", maven="3.8.7", setup=nothing, command="mvn -B fares:stamp",
             failure="setup-plugin-prefix-unknown", root="ERROR.*No plugin found for prefix"),
    Scenario(slug="prefix-unknown", maven="4.0.0-rc-4", setup=nothing, command="mvn -B fares:stamp",
             failure="setup-plugin-prefix-unknown", root="ERROR.*No plugin found for prefix"),
    Scenario(slug="prefix-behind-401", maven="3.9.9", setup=prefix_behind_401, command="mvn -B versions:display-dependency-updates",
             failure="resolve-unauthorized", root="WARN.*Could not transfer metadata.*401", also="No plugin found for prefix"),
    Scenario(slug="enforcer-java", maven="3.8.7", setup=enforcer("<requireJavaVersion><version>[21,)</version></requireJavaVersion>", "3.0.0-M3"),
             command="mvn -B verify", failure="setup-java-version-enforced", root="(?:WARN|ERROR).*RequireJavaVersion failed"),
    Scenario(slug="enforcer-java", maven="3.9.9", setup=enforcer("<requireJavaVersion><version>[17,18)</version><message>Build with JDK 17</message></requireJavaVersion>"),
             command="mvn -B verify", jdk="25", failure="setup-java-version-enforced", root="(?:ERROR|WARN).*RequireJavaVersion failed"),
    Scenario(slug="enforcer-maven", maven="3.6.3", setup=enforcer("<requireMavenVersion><version>3.8.1</version></requireMavenVersion>"),
             command="mvn -B verify", failure="setup-build-tool-version-enforced", root="(?:ERROR|WARN).*(?:RequireMavenVersion|Detected Maven Version)"),
    Scenario(slug="plugin-needs-newer-maven", maven="3.6.3", setup=lambda stage: stage.project(pom(plugins=[plugin("maven-clean-plugin:4.0.0-beta-1")])),
             command="mvn -B clean verify", failure="setup-build-tool-version-enforced", root="ERROR.*requires Maven version"),
    Scenario(slug="module-missing", maven="3.8.7", setup=aggregator("fares-core", "fares-web", parts={"fares-core": pom("fares-core", parent=PARENT)}),
             command="mvn -B verify", failure="setup-module-missing", root="ERROR.*[Cc]hild module"),
    Scenario(slug="module-missing", maven="4.0.0-rc-4", setup=aggregator("fares-core", "fares-web", parts={"fares-core": pom("fares-core", parent=PARENT)}),
             command="mvn -B verify", failure="setup-module-missing", root="ERROR.*Child (?:sub)?(?:module|project)"),
    Scenario(slug="module-cycle", maven="3.9.9", setup=aggregator("fares-core", "fares-web", parts=CYCLE),
             command="mvn -B verify", failure="setup-module-cycle", root="ERROR.*cyclic reference"),
    Scenario(slug="library-for-newer-java", maven="3.9.9", setup=newer_library, command="mvn -B verify",
             failure="setup-java-class-too-new", root="class file has wrong version"),
    Scenario(slug="plugin-for-newer-java", maven="3.8.7", setup=newer_plugin, command="mvn -B verify",
             failure="setup-java-class-too-new", root="(?:UnsupportedClassVersion|compiled by a more recent)"),
    Scenario(slug="release-99", maven="3.9.9", setup=release("99"), command="mvn -B verify",
             failure="setup-java-release-unsupported", root="ERROR.*release version 99"),
    Scenario(slug="release-5", maven="3.8.7", setup=source_level("1.5"), command="mvn -B verify",
             failure="setup-java-release-unsupported", root="ERROR.*(?:Source option 5|[Rr]elease 5)"),
    Scenario(slug="source-7", maven="3.9.9", setup=source_level("1.7"), command="mvn -B verify", jdk="25",
             failure="setup-java-release-unsupported", root="ERROR.*Source option 7"),
    Scenario(slug="shading-too-old", maven="3.9.9", setup=shade, command="mvn -B package", jdk="25",
             failure="setup-java-too-new-for-tool", root="ERROR.*(?:Error creating shaded jar|Unsupported class file)"),
    Scenario(slug="war-plugin-too-old", maven="3.6.3", setup=lambda stage: stage.project(pom("fares-web", packaging="war", plugins=[plugin("maven-war-plugin:2.6")])),
             command="mvn -B package", failure="setup-java-too-new-for-tool", root='does not "opens'),
    Scenario(slug="toolchain-missing", maven="3.9.9", setup=toolchain, command="mvn -B verify",
             failure="setup-toolchain-not-found", root="ERROR.*(?:[Nn]o toolchain found|Cannot find matching toolchain)"),
    Scenario(slug="wrapper-without-properties", maven="3.9.9", setup=wrapper("only-script", "maven-wrapper.properties"), command="./mvnw -B verify",
             failure="setup-wrapper-incomplete", root="maven-wrapper.properties"),
    Scenario(slug="wrapper-download-failed", maven="3.9.9", setup=wrapper("only-script", "address"), command="./mvnw -B verify",
             failure="setup-wrapper-download-failed", root="Failed to fetch"),
    # The older launcher says nothing of its failed download, only that its jar is not there.
    Scenario(slug="wrapper-without-jar", maven="3.8.7", setup=wrapper("script", "address"), command="./mvnw -B verify",
             failure="setup-wrapper-incomplete", root="Could not find or load main class"),
    Scenario(slug="heap-too-small", maven="3.9.9", setup=heap("-Xmx24m"), cold=True, command="mvn -B verify",
             failure="agent-jvm-heap-exhausted", root="OutOfMemoryError|heap space"),
    Scenario(slug="heap-larger-than-machine", maven="3.8.7", setup=heap("-Xms900g", "-Xmx900g"), command="mvn -B verify",
             failure="agent-jvm-no-memory-to-start", root="(?:Could not reserve|cannot allocate|insufficient memory|commit)"),
)  # fmt: skip
