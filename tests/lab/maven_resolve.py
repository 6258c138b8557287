"""Maven runs that fail while dependencies, parents and plugins come in."""

from __future__ import annotations

import hashlib
import ssl
from collections.abc import Callable

from tests.lab.maven_projects import JUNIT4, TEST4, dependency, plugin, pom, settings
from tests.lab.maven_stage import Scenario, Stage
from tests.lab.rule_server import Answer, SilentPort, closed_port

__all__ = ["RESOLVE"]

Setup = Callable[[Stage], None]
TARIFF = dependency("example.brackwater.tariff:tariff-model:2.1.0")
TARIFF_PATH = "example/brackwater/tariff/tariff-model/2.1.0"
CODEC = dependency("commons-codec:commons-codec:1.16.0")
CODEC_PATH = "commons-codec/commons-codec/1.16.0"
LOGIN_PAGE = "<!DOCTYPE html>\n<html><head><title>Sign in - Brackwater</title></head><body><form action='/login'>\n<input name=user><br>\n</form></body></html>\n"
QUICK = " -Daether.connector.connectTimeout=1500 -Daether.connector.requestTimeout=1500"
QUICK_RETRY = " -Daether.connector.http.retryHandler.interval=50 -Daether.connector.http.retryHandler.intervalMax=100"
ERROR = r"ERROR.*"


def needs(*dependencies: str, rule: tuple[str, Answer] | None = None, also: Setup | None = None, **more: str) -> Setup:
    """A project with these dependencies; the mirror answers one path by rule."""

    def prepare(stage: Stage) -> None:
        stage.project(pom(dependencies=dependencies, target=stage.releases, **more))  # type: ignore[arg-type]
        if rule:
            stage.rule(rule[0], rule[1])
        if also:
            also(stage)

    return prepare


def codec(answer: Answer, path: str = CODEC_PATH) -> Setup:
    return needs(CODEC, rule=(path, answer))


def everything(answer: Answer) -> Setup:
    """The whole mirror answers like this."""
    return lambda stage: stage.rule("maven-public", answer)


def mirror_at(port: Callable[[Stage], int], host: str = "builds.brackwater.example") -> Setup:
    """The mirror's address leads to another port, and a library is missing from the local repository."""

    def prepare(stage: Stage) -> None:
        number = port(stage)
        stage.ports[number] = host
        stage.project(pom(dependencies=[CODEC]))
        stage.settings(settings(mirror=f"https://{host}:{number}/repository/maven-public"))

    return prepare


def bad_certificate(
    certificate_for: str = "builds.brackwater.example", *, expired: bool = False, stranger: bool = False
) -> Setup:
    def prepare(stage: Stage) -> None:
        server = stage.other_server("builds.brackwater.example", certificate_for, expired=expired, stranger=stranger)
        stage.project(pom(dependencies=[CODEC]))
        stage.settings(settings(mirror=f"{server.url}/repository/maven-public"))

    return prepare


def own_repository(url: str, identity: str = "legacy-fares") -> str:
    return f"  <repositories><repository><id>{identity}</id><url>{url}</url></repository></repositories>"


def insecure(stage: Stage) -> None:
    """The build file names a repository by plain HTTP; the mirror stands in for the public one only."""
    stage.settings(settings(mirror=stage.public, mirror_of="central"))
    stage.project(pom(dependencies=[TARIFF], extra=own_repository("http://builds.brackwater.example/maven")))


def insecure_mirror(stage: Stage) -> None:
    stage.project(pom(dependencies=[CODEC]))
    stage.settings(settings(mirror="http://repo.brackwater.example/repository/maven-public"))


def unknown_host(stage: Stage) -> None:
    stage.real_names()
    stage.project(pom(dependencies=[TARIFF]))
    stage.settings(settings(mirror="https://repos.brackwater.example/repository/maven-public"))


def again(setup: Setup, *, arguments: str = "-B -q compile") -> Setup:
    """The same was tried before, so that the local repository remembers the failure."""

    def prepare(stage: Stage) -> None:
        setup(stage)
        stage.before.append(arguments.split())

    return prepare


def proxy_refuses(stage: Stage) -> None:
    proxy = stage.plain_server()
    stage.ports[proxy.port] = "proxy.brackwater.example:3128"
    refusal = Answer(status=407, headers=(("Proxy-Authenticate", 'Basic realm="site proxy"'),))
    stage.rule("repo.brackwater.example", refusal, method="CONNECT")
    inner = (
        f"<active>true</active><protocol>http</protocol><host>proxy.brackwater.example</host><port>{proxy.port}</port>"
    )
    stage.project(pom(dependencies=[CODEC]))
    stage.settings(settings(mirror=stage.public, extra=f"<proxies><proxy><id>site</id>{inner}</proxy></proxies>"))


def wrong_checksum(stage: Stage) -> None:
    stage.project(pom(dependencies=[CODEC]))
    stage.rule(f"{CODEC_PATH}/.*jar.sha1$", Answer(body=hashlib.sha1(b"another file").hexdigest()))


def html_pom(stage: Stage) -> None:
    """A login page comes with status 200 for every file of the library."""
    stage.project(pom(dependencies=[CODEC]))
    stage.rule(CODEC_PATH, Answer(body=LOGIN_PAGE))


PARENT = "<parent><groupId>example.brackwater.build</groupId><artifactId>fares-parent</artifactId><version>7</version>{}</parent>"


def parent(answer: Answer | None = None, relative: str = "<relativePath/>") -> Setup:
    def prepare(stage: Stage) -> None:
        stage.project(pom(parent=PARENT.format(relative)))
        if answer:
            stage.rule("fares-parent", answer)

    return prepare


def bom(answer: Answer | None = None) -> Setup:
    imported = dependency("example.brackwater.build:fares-bom:12", kind="pom", scope="import")
    extra = f"  <dependencyManagement><dependencies>{imported}</dependencies></dependencyManagement>"

    def prepare(stage: Stage) -> None:
        stage.project(pom(dependencies=[dependency("org.slf4j:slf4j-api")], extra=extra))
        if answer:
            stage.rule("fares-bom", answer)

    return prepare


def build_plugin(coordinates: str, answer: Answer | None = None) -> Setup:
    run = "<execution><phase>validate</phase><goals><goal>stamp</goal></goals></execution>"

    def prepare(stage: Stage) -> None:
        stage.project(pom(plugins=[plugin(coordinates, executions=run)]))
        if answer:
            stage.rule(coordinates.split(":")[1], answer)

    return prepare


def extension(stage: Stage) -> None:
    stage.world.write(
        ".mvn/extensions.xml",
        "<extensions><extension><groupId>example.brackwater.build</groupId><artifactId>fares-extension</artifactId>"
        "<version>3.0</version></extension></extensions>",
    )


def damaged_jar(stage: Stage) -> None:
    """An earlier download was cut: the local repository holds half a library."""
    stage.project(pom(dependencies=[CODEC]))
    area = stage.areas["/repository/maven-public/"]
    for end in ("pom", "jar"):
        body = area.read(f"{CODEC_PATH}/commons-codec-1.16.0.{end}") or b""
        target = stage.local_repository / CODEC_PATH / f"commons-codec-1.16.0.{end}"
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(body if end == "pom" else body[:20000])


def diverging(stage: Stage) -> None:
    """Two libraries ask for different versions of a third, and a rule forbids that."""
    rules = "<rules><dependencyConvergence/></rules>"
    run = "<execution><goals><goal>enforce</goal></goals></execution>"
    stage.project(
        pom(
            dependencies=[
                dependency("commons-beanutils:commons-beanutils:1.9.4"),
                dependency("org.apache.commons:commons-text:1.10.0"),
                dependency("org.apache.commons:commons-configuration2:2.8.0"),
            ],
            plugins=[plugin("maven-enforcer-plugin:3.4.1", rules, executions=run)],
        )
    )


def snapshot_from_releases(stage: Stage) -> None:
    stage.project(pom(dependencies=[dependency("example.brackwater.tariff:tariff-model:2.1.0-SNAPSHOT")],
                      extra=f"  <repositories><repository><id>brackwater-releases</id><url>{stage.releases}</url></repository></repositories>"))  # fmt: skip
    stage.settings(settings(mirror=stage.public, mirror_of="central"))
    reason = "Repository version policy: RELEASE does not allow metadata in path: example/brackwater/tariff/tariff-model/2.1.0-SNAPSHOT/maven-metadata.xml"
    stage.rule("maven-releases/.*SNAPSHOT", Answer(status=400, reason=reason))


def with_test(setup: Setup) -> Setup:
    def prepare(stage: Stage) -> None:
        setup(stage)
        stage.world.write("src/test/java/example/brackwater/fares/FareTableTest.java", TEST4 % "410")

    return prepare


def encrypted_password(stage: Stage) -> None:
    """The settings hold an encrypted password, and the key to it is not on this agent."""
    secret = "{" + "jSMOWnoPFgsHVpMvz5VrIt5kRbzGpI8u+9EF1iFQyJQ=" + "}"
    stage.project(pom(dependencies=[CODEC]))
    stage.settings(settings(mirror=stage.public, servers={"brackwater": ("ci-fares", secret)}))
    stage.rule("maven-public", Answer(status=401))


def prefix_behind_unknown_host(stage: Stage) -> None:
    stage.real_names()
    stage.settings(settings(mirror="https://repos.brackwater.example/repository/maven-public"))


def old_protocol(stage: Stage) -> None:
    """The client speaks a newer protocol version than the server."""
    stage.project(pom(dependencies=[CODEC]))
    stage.options.append("-Djdk.tls.client.protocols=TLSv1.3")
    assert stage.server.tls is not None
    stage.server.tls.maximum_version = ssl.TLSVersion.TLSv1_2


NOT_FOUND = ERROR + r"Could not find artifact example\.brackwater\.tariff:tariff-model"
TRANSFER = r"(?:WARN|ERROR).*(?:Could not transfer|Failed to read artifact descriptor).*{}"

COULD_NOT_TRANSFER = "ERROR.*Could not transfer"

RESOLVE: tuple[Scenario, ...] = (
    Scenario(slug="artifact-not-found", maven="3.6.3", setup=needs(TARIFF, JUNIT4), command="mvn -B -U verify",
             failure="resolve-artifact-not-found", root=NOT_FOUND),
    Scenario(slug="artifact-not-found", maven="3.8.7", setup=needs(TARIFF), command="mvn -B verify",
             failure="resolve-artifact-not-found", root=NOT_FOUND),
    Scenario(slug="artifact-not-found", maven="3.9.9", setup=needs(TARIFF, dependency("example.brackwater.tariff:zones:0.9")),
             command="mvn -B -e verify", failure="resolve-artifact-not-found", root=ERROR + "(?:Could not find artifact|The following artifacts)"),
    Scenario(slug="artifact-not-found", maven="4.0.0-rc-4", setup=needs(TARIFF), command="mvn -B verify",
             failure="resolve-artifact-not-found", root=NOT_FOUND),
    Scenario(slug="range-without-version", maven="3.8.7", setup=needs(dependency("commons-codec:commons-codec:[9.0,10.0)")), command="mvn -B verify",
             failure="resolve-version-not-found", root=ERROR + "No versions available"),
    Scenario(slug="range-without-version", maven="3.9.9", setup=needs(dependency("commons-codec:commons-codec:[9.0,10.0)")), command="mvn -B verify",
             failure="resolve-version-not-found", root=ERROR + "No versions available"),
    Scenario(slug="failure-cached", maven="3.6.3", setup=again(needs(TARIFF)), command="mvn -B compile",
             failure="resolve-failure-cached", root=ERROR + "cached in the local repository"),
    Scenario(slug="failure-cached", maven="3.8.7", setup=again(needs(TARIFF)), command="mvn -B compile",
             failure="resolve-failure-cached", root=ERROR + "cached in the local repository"),
    Scenario(slug="failure-cached", maven="3.9.9", setup=again(needs(TARIFF)), command="mvn -B compile",
             failure="resolve-failure-cached", root=ERROR + "cached in the local repository"),
    Scenario(slug="resolve-401-plugin", maven="3.6.3", setup=everything(Answer(status=401)), cold=True, command="mvn -B package",
             failure="resolve-unauthorized", root=TRANSFER.format("(?i:401|unauthorized|not authorized)")),
    Scenario(slug="resolve-401-plugin", maven="3.8.7", setup=everything(Answer(status=401)), cold=True, command="mvn -B clean package",
             failure="resolve-unauthorized", root=TRANSFER.format("401")),
    Scenario(slug="resolve-401-plugin", maven="3.9.9", setup=everything(Answer(status=401)), cold=True, command="mvn -B package",
             failure="resolve-unauthorized", root=TRANSFER.format("401")),
    Scenario(slug="resolve-401-plugin", maven="4.0.0-rc-4", setup=everything(Answer(status=401)), cold=True, command="mvn -B package",
             failure="resolve-unauthorized", root=TRANSFER.format("(?:401|authentication)")),
    Scenario(slug="resolve-401", maven="3.8.7", setup=codec(Answer(status=401)), command="mvn -B verify",
             failure="resolve-unauthorized", root=TRANSFER.format("401")),
    Scenario(slug="resolve-403", maven="3.6.3", setup=codec(Answer(status=403)), command="mvn -B verify",
             failure="resolve-forbidden", root=TRANSFER.format("(?:403|Forbidden)")),
    Scenario(slug="resolve-403", maven="3.9.9", setup=codec(Answer(status=403, reason="Requested item is quarantined")), command="mvn -B verify",
             failure="resolve-forbidden", root=TRANSFER.format("403")),
    Scenario(slug="resolve-403", maven="4.0.0-rc-4", setup=codec(Answer(status=403)), command="mvn -B verify",
             failure="resolve-forbidden", root=TRANSFER.format("403")),
    Scenario(slug="blocked-repository", maven="3.8.7", setup=insecure, command="mvn -B verify",
             failure="resolve-insecure-mirror-blocked", root=ERROR + "Blocked mirror|" + ERROR + "maven-default-http-blocker"),
    Scenario(slug="blocked-repository", maven="3.9.9", setup=insecure, command="mvn -B verify",
             failure="resolve-insecure-mirror-blocked", root=ERROR + "(?i:blocked mirror|maven-default-http-blocker)"),
    Scenario(slug="blocked-repository", maven="4.0.0-rc-4", setup=insecure, command="mvn -B verify",
             failure="resolve-insecure-mirror-blocked", root=ERROR + "(?i:blocked mirror|maven-default-http-blocker)"),
    Scenario(slug="https-required", maven="3.6.3", setup=codec(Answer(status=501, reason="HTTPS Required")), command="mvn -B verify",
             failure="resolve-insecure-mirror-blocked", root=TRANSFER.format("(?:501|HTTPS Required)")),
    Scenario(slug="unknown-host", maven="3.6.3", setup=unknown_host, command="mvn -B verify",
             failure="resolve-host-unknown", root=TRANSFER.format("(?i:unknown host|not known|name resolution)")),
    Scenario(slug="unknown-host", maven="3.9.9", setup=unknown_host, command="mvn -B verify",
             failure="resolve-host-unknown", root=TRANSFER.format("repos.brackwater.example")),
    # With its default transport this version words an unknown host as a refused connection (seen here).
    Scenario(slug="unknown-host", maven="4.0.0-rc-4", setup=unknown_host, command="mvn -B -Dmaven.resolver.transport=apache verify",
             failure="resolve-host-unknown", root=TRANSFER.format("repos.brackwater.example")),
    Scenario(slug="refused", maven="3.8.7", setup=mirror_at(lambda stage: closed_port()), command="mvn -B verify",
             failure="resolve-connection-refused", root=TRANSFER.format("Connection refused")),
    Scenario(slug="refused", maven="3.9.9", setup=mirror_at(lambda stage: closed_port()), cold=True, command="mvn -B package",
             failure="resolve-connection-refused", root=TRANSFER.format("Connection refused")),
    Scenario(slug="refused", maven="4.0.0-rc-4", setup=mirror_at(lambda stage: closed_port()), command="mvn -B verify",
             failure="resolve-connection-refused", root=COULD_NOT_TRANSFER),
    Scenario(slug="connect-timed-out", maven="3.8.7", setup=mirror_at(lambda stage: stage.stack.enter_context(SilentPort()).port),
             command="mvn -B verify" + QUICK, failure="resolve-connection-timed-out", root=TRANSFER.format("timed out")),
    Scenario(slug="read-timed-out", maven="3.9.9", setup=codec(Answer(delay=4, pass_on=True)), command="mvn -B verify" + QUICK,
             failure="resolve-connection-timed-out", root=TRANSFER.format("[Tt]imed out")),
    Scenario(slug="connect-timed-out", maven="4.0.0-rc-4", setup=mirror_at(lambda stage: stage.stack.enter_context(SilentPort()).port),
             command="mvn -B verify -Daether.connector.connectTimeout=400", failure="resolve-connection-timed-out", root=TRANSFER.format("[Tt]imed out")),
    Scenario(slug="reset", maven="3.8.7", setup=codec(Answer(drop="reset")), command="mvn -B verify",
             failure="resolve-connection-reset", root=COULD_NOT_TRANSFER),
    Scenario(slug="no-answer", maven="3.9.9", setup=codec(Answer(drop="before")), command="mvn -B verify",
             failure="resolve-connection-reset", root=COULD_NOT_TRANSFER),
    Scenario(slug="cut-in-body", maven="3.6.3", setup=codec(Answer(drop="body"), CODEC_PATH + r"/.*\.jar$"), command="mvn -B verify",
             failure="resolve-connection-reset", root=COULD_NOT_TRANSFER),
    Scenario(slug="cut-in-body", maven="3.9.9", setup=codec(Answer(drop="body"), CODEC_PATH + r"/.*\.jar$"), command="mvn -B verify",
             failure="resolve-connection-reset", root=COULD_NOT_TRANSFER),
    Scenario(slug="cut-in-body", maven="4.0.0-rc-4", setup=codec(Answer(drop="body"), CODEC_PATH + r"/.*\.jar$"), command="mvn -B verify",
             failure="resolve-connection-reset", root=COULD_NOT_TRANSFER),
    Scenario(slug="tls-untrusted", maven="3.6.3", setup=Stage.distrust, cold=True, command="mvn -B package",
             failure="resolve-tls-untrusted", root=TRANSFER.format("PKIX")),
    Scenario(slug="tls-untrusted", maven="3.9.9", setup=bad_certificate(stranger=True), command="mvn -B package",
             failure="resolve-tls-untrusted", root=TRANSFER.format("PKIX")),
    Scenario(slug="tls-untrusted", maven="4.0.0-rc-4", setup=Stage.distrust, cold=True, command="mvn -B package",
             failure="resolve-tls-untrusted", root=TRANSFER.format("PKIX"), jdk="25"),
    Scenario(slug="tls-expired", maven="3.8.7", setup=bad_certificate(expired=True), command="mvn -B package",
             failure="resolve-tls-expired", root=TRANSFER.format("(?:validity check failed|expired|NotAfter)")),
    Scenario(slug="tls-expired", maven="3.9.9", setup=bad_certificate(expired=True), command="mvn -B -e package",
             failure="resolve-tls-expired", root=TRANSFER.format("(?:validity check failed|expired|NotAfter)")),
    Scenario(slug="tls-other-name", maven="3.8.7", setup=bad_certificate("old.brackwater.example"), command="mvn -B package",
             failure="resolve-tls-name-mismatch", root=TRANSFER.format("subject alternative")),
    Scenario(slug="tls-other-name", maven="3.9.9", setup=bad_certificate("old.brackwater.example"), command="mvn -B package",
             failure="resolve-tls-name-mismatch", root=TRANSFER.format("subject alternative")),
    Scenario(slug="tls-other-name-jdk", maven="4.0.0-rc-4", setup=bad_certificate("old.brackwater.example"),
             command="mvn -B -Dmaven.resolver.transport=jdk package",
             failure="resolve-tls-name-mismatch", root=TRANSFER.format("(?i:subject alternative)")),
    Scenario(slug="tls-protocol", maven="3.8.7", setup=old_protocol, command="mvn -B package",
             failure="resolve-tls-protocol", root=COULD_NOT_TRANSFER),
    Scenario(slug="tls-protocol", maven="3.9.11", setup=old_protocol, command="mvn -B package",
             failure="resolve-tls-protocol", root=COULD_NOT_TRANSFER),
    Scenario(slug="encrypted-password", maven="3.9.9", setup=encrypted_password, command="mvn -B package",
             failure="resolve-unauthorized", root=COULD_NOT_TRANSFER + ".*401"),
    Scenario(slug="prefix-behind-unknown-host", maven="3.9.9", setup=prefix_behind_unknown_host, command="mvn -B versions:set -DnewVersion=1.5.0",
             failure="resolve-host-unknown", root="Name or service not known", also="No plugin found for prefix"),
    Scenario(slug="artifact-not-found", maven="4.0.0-rc-5", setup=needs(TARIFF), cold=True, command="mvn verify",
             failure="resolve-artifact-not-found", root=NOT_FOUND),
    Scenario(slug="failure-cached", maven="4.0.0-rc-5", setup=again(needs(TARIFF)), command="mvn -B compile",
             failure="resolve-failure-cached", root=ERROR + "cached in the local repository"),
    Scenario(slug="proxy-407", maven="3.8.7", setup=proxy_refuses, command="mvn -B verify",
             failure="resolve-proxy-auth-required", root=TRANSFER.format("407")),
    Scenario(slug="proxy-407", maven="3.9.9", setup=proxy_refuses, command="mvn -B verify",
             failure="resolve-proxy-auth-required", root=TRANSFER.format("(?:407|Proxy|proxy)")),
    Scenario(slug="resolve-500", maven="3.6.3", setup=codec(Answer(status=500, reason="Internal Server Error")), command="mvn -B verify",
             failure="resolve-server-error", root=COULD_NOT_TRANSFER),
    Scenario(slug="resolve-503", maven="3.8.7", setup=codec(Answer(status=503, reason="Service Unavailable")), command="mvn -B verify",
             failure="resolve-server-error", root=TRANSFER.format("503")),
    Scenario(slug="resolve-502", maven="3.9.9", setup=codec(Answer(status=502, reason="Bad Gateway")), command="mvn -B verify",
             failure="resolve-server-error", root=TRANSFER.format("502")),
    Scenario(slug="resolve-429", maven="3.8.7", setup=codec(Answer(status=429, reason="Too Many Requests")),
             command="mvn -B verify -Dmaven.wagon.httpconnectionManager.backoffSeconds=1 -Dmaven.wagon.httpconnectionManager.maxBackoffSeconds=2",
             failure="resolve-rate-limited", root=TRANSFER.format("(?:429|Too [Mm]any)")),
    Scenario(slug="resolve-429", maven="3.9.9", setup=codec(Answer(status=429, reason="Too Many Requests")), command="mvn -B verify" + QUICK_RETRY,
             failure="resolve-rate-limited", root=TRANSFER.format("429")),
    Scenario(slug="checksum", maven="3.6.3", setup=wrong_checksum, command="mvn -B -C verify",
             failure="resolve-checksum-mismatch", root=TRANSFER.format("Checksum validation failed")),
    Scenario(slug="checksum", maven="3.9.9", setup=wrong_checksum, command="mvn -B -C verify",
             failure="resolve-checksum-mismatch", root=TRANSFER.format("Checksum validation failed")),
    # The page is saved as a library with a warning only; the compiler is what gives up.
    Scenario(slug="html-saved-as-jar", maven="3.9.9", setup=html_pom, command="mvn -B verify",
             failure="resolve-archive-corrupt", root="ERROR.*error reading", also="<!DOCTYPE"),
    Scenario(slug="parent-is-html", maven="3.8.7", setup=parent(Answer(body=LOGIN_PAGE)), command="mvn -B verify",
             failure="resolve-not-a-repository-answer", root="(?:FATAL|ERROR).*Non-parseable POM"),
    Scenario(slug="parent-not-found", maven="3.6.3", setup=parent(), command="mvn -B verify",
             failure="resolve-parent-not-found", root="(?:ERROR|FATAL).*Non-resolvable parent"),
    Scenario(slug="parent-not-found", maven="3.9.9", setup=parent(relative=""), command="mvn -B verify",
             failure="resolve-parent-not-found", root="(?:ERROR|FATAL).*Non-resolvable parent"),
    Scenario(slug="parent-not-found", maven="4.0.0-rc-4", setup=parent(), command="mvn -B verify",
             failure="resolve-parent-not-found", root="(?:ERROR|FATAL).*(?i:parent)"),
    Scenario(slug="parent-401", maven="3.8.7", setup=parent(Answer(status=401)), command="mvn -B verify",
             failure="resolve-unauthorized", root="(?:ERROR|FATAL).*Non-resolvable parent.*401"),
    Scenario(slug="bom-not-found", maven="3.8.7", setup=bom(), command="mvn -B verify",
             failure="resolve-bom-not-found", root="ERROR.*Non-resolvable import"),
    Scenario(slug="bom-403", maven="3.9.9", setup=bom(Answer(status=403)), command="mvn -B verify",
             failure="resolve-forbidden", root="ERROR.*Non-resolvable import.*403"),
    Scenario(slug="plugin-not-found", maven="3.8.7", setup=build_plugin("example.brackwater.build:fares-stamp-plugin:1.2"), command="mvn -B verify",
             failure="resolve-plugin-not-found", root="ERROR.*Plugin .*fares-stamp-plugin.*Could not find"),
    Scenario(slug="plugin-not-found", maven="3.9.9", setup=build_plugin("maven-stamp-plugin:1.2.0"), command="mvn -B verify",
             failure="resolve-plugin-not-found", root="ERROR.*Plugin .*maven-stamp-plugin"),
    Scenario(slug="plugin-500", maven="3.9.9", setup=build_plugin("example.brackwater.build:fares-stamp-plugin:1.2", Answer(status=500)), command="mvn -B verify",
             failure="resolve-server-error", root="ERROR.*fares-stamp-plugin.*500"),
    Scenario(slug="extension-not-found", maven="3.8.7", setup=extension, command="mvn -B verify",
             failure="resolve-plugin-not-found", root="ERROR.*Extension.*fares-extension|ERROR.*fares-extension"),
    Scenario(slug="offline-miss", maven="3.6.3", setup=needs(CODEC), command="mvn -B -o verify",
             failure="resolve-offline-miss", root=ERROR + "offline mode"),
    Scenario(slug="offline-miss", maven="3.9.9", setup=needs(CODEC), command="mvn -B -o verify",
             failure="resolve-offline-miss", root=ERROR + "offline mode"),
    Scenario(slug="offline-miss-plugin", maven="3.8.7", setup=build_plugin("maven-antrun-plugin:3.1.0"), command="mvn -B -o verify",
             failure="resolve-offline-miss", root=ERROR + "offline mode"),
    Scenario(slug="version-undeclared", maven="3.6.3", setup=needs(dependency("org.slf4j:slf4j-api")), command="mvn -B verify",
             failure="resolve-version-undeclared", root="ERROR.*dependencies.dependency.version' for"),
    Scenario(slug="version-undeclared", maven="4.0.0-rc-4", setup=needs(dependency("org.slf4j:slf4j-api")), command="mvn -B verify",
             failure="resolve-version-undeclared", root="ERROR.*version'? for"),
    Scenario(slug="archive-damaged", maven="3.9.9", setup=damaged_jar, command="mvn -B verify",
             failure="resolve-archive-corrupt", root="ERROR.*(?:error reading|cannot access|zip)"),
    Scenario(slug="versions-diverge", maven="3.9.9", setup=diverging, command="mvn -B validate",
             failure="resolve-version-conflict", root="(?:ERROR|WARN).*(?:[Cc]onvergence|ependencyConvergence)"),
    Scenario(slug="snapshot-from-releases", maven="3.9.9", setup=snapshot_from_releases, command="mvn -B verify",
             failure="resolve-version-policy-mismatch", root="(?:WARN|ERROR).*Repository version policy"),
    Scenario(slug="local-repository-impossible", maven="3.8.7", setup=lambda stage: None, command="mvn -B -Dmaven.repo.local=pom.xml/m2 verify",
             failure="resolve-cache-not-writable", root="ERROR.*local repository"),
)  # fmt: skip
