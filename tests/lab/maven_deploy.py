"""Maven runs that fail while they upload."""

from __future__ import annotations

from collections.abc import Callable

from tests.lab.maven_projects import plugin, pom, settings
from tests.lab.maven_stage import Scenario, Stage
from tests.lab.rule_server import Answer, Request, Rule, SilentPort, closed_port

__all__ = ["DEPLOY"]

Setup = Callable[[Stage], None]
GOAL = r"^\S*\[?.*ERROR.*Failed to execute goal .*deploy"
STATUS = r"ERROR.*Failed to (?:execute goal .*deploy|deploy).*{}"
QUIET_RETRY = " -Daether.connector.http.retryHandler.interval=50 -Daether.connector.http.retryHandler.intervalMax=100"


def refuse(
    status: int,
    reason: str | None = None,
    body: str = "",
    *,
    kind: str = "text/html",
    path: str = "maven-(?:releases|snapshots)",
) -> Setup:
    """Uploads to the hosted repositories get this answer."""
    return lambda stage: stage.rule(path, Answer(status=status, reason=reason, body=body, kind=kind), method="PUT")


def read_refused(stage: Stage) -> None:
    """The account may write, but not read the index file that the client updates."""
    stage.rule("maven-releases/.*maven-metadata.xml", Answer(status=403))


def without_server_entry(stage: Stage) -> None:
    """The settings file knows another id than the build file uses; the repository wants a login."""
    stage.settings(settings(mirror=stage.public, servers={"releases": ("ci-fares", "kept-secret")}))
    stage.rule("maven-releases", Answer(status=401), method="GET|HEAD|PUT")


def wrong_password(stage: Stage) -> None:
    page = "<html><head><title>401 Unauthorized</title></head><body>Bad credentials</body></html>"
    stage.rule("maven-releases", Answer(status=401, body=page), method="GET|HEAD|PUT")


def with_plugin(
    version: str, setup: Setup | None = None, *, target: bool = True, project_version: str = "1.4.0"
) -> Setup:
    """The same with a given version of the deploy plugin."""

    def prepare(stage: Stage) -> None:
        deploy = plugin(f"maven-deploy-plugin:{version}")
        stage.project(pom(target=stage.releases if target else None, plugins=[deploy], version=project_version))
        if setup:
            setup(stage)

    return prepare


def target_at(url: Callable[[Stage], str], *, version: str = "1.4.0") -> Setup:
    """The build file names this address to deploy to."""
    return lambda stage: stage.project(pom(target=url(stage), version=version))


def port_at(stage: Stage, port: int) -> str:
    stage.ports[port] = "builds.brackwater.example"
    return f"https://builds.brackwater.example:{port}/repository/maven-releases"


def silent(stage: Stage) -> str:
    return port_at(stage, stage.stack.enter_context(SilentPort()).port)


def unknown_host(stage: Stage) -> None:
    stage.real_names()
    stage.project(pom(target="http://repos.brackwater.example/maven-releases"))


def untrusted(stage: Stage) -> str:
    host = "builds.brackwater.example"
    return f"{stage.other_server(host, host, stranger=True).url}/repository/maven-releases"


def through_refusing_proxy(stage: Stage) -> None:
    """Downloads come from the mirror directly, the upload goes through a proxy that wants a login."""
    proxy = stage.plain_server()
    stage.ports[proxy.port] = "proxy.brackwater.example:3128"
    stage.rule(
        "builds.brackwater.example",
        Answer(status=407, headers=(("Proxy-Authenticate", 'Basic realm="proxy"'),)),
        method="CONNECT",
    )
    inner = (
        f"<active>true</active><protocol>http</protocol><host>proxy.brackwater.example</host><port>{proxy.port}</port>"
    )
    inner += "<nonProxyHosts>repo.brackwater.example</nonProxyHosts>"
    stage.settings(settings(mirror=stage.public, extra=f"<proxies><proxy><id>site</id>{inner}</proxy></proxies>"))
    stage.project(pom(target="https://builds.brackwater.example/repository/maven-releases"))


def modules(stage: Stage, *, packaging: str = "jar") -> None:
    """Two modules under one parent; uploads of the second are refused."""
    parent = "<parent><groupId>example.brackwater.fares</groupId><artifactId>fares</artifactId><version>1.4.0</version></parent>"
    stage.project(
        pom("fares", packaging="pom", modules=["fares-core", "fares-web"], target=stage.releases), sources=False
    )
    for name in ("fares-core", "fares-web"):
        stage.world.write(f"{name}/pom.xml", pom(name, parent=parent, packaging=packaging))
    stage.rule("maven-releases/.*/fares-web/", Answer(status=403), method="PUT")


def second_upload(stage: Stage) -> None:
    """The same release was deployed before; files that exist may not be replaced."""
    stage.before.append(["-B", "-q", "deploy"])
    released: set[str] = set()

    def decide(request: Request) -> Answer:
        if request.path.endswith(("maven-metadata.xml", ".sha1", ".md5")) or request.path not in released:
            released.add(request.path)
            return Answer(pass_on=True)
        return Answer(status=400, reason="Repository does not allow updating assets: maven-releases")

    stage.rules.append(Rule(path="maven-releases", answer=decide, method="PUT"))


def snapshot(setup: Setup) -> Setup:
    def prepare(stage: Stage) -> None:
        stage.project(pom(target=stage.releases, version="1.4.0-SNAPSHOT"))
        setup(stage)

    return prepare


def nothing(stage: Stage) -> None:
    """The stage as it is."""


NO_SERVER_REASON = "Repository version policy: RELEASE does not allow version: 1.4.0-20261125.081500-1"
JSON_409 = (
    '{"errors":[{"status":409,"message":"The repository rejected the resolution of an artifact due to conflict"}]}'
)
JSON_403 = (
    '{"errors":[{"status":403,"message":"Not enough permissions to delete/overwrite artifact (user: ci-fares)"}]}'
)
NGINX_413 = "<html><head><title>413 Request Entity Too Large</title></head><body><center>nginx</center></body></html>"


def site(stage: Stage) -> None:
    """The project's pages go to a host by a protocol that nothing here speaks."""
    target = "<site><id>pages</id><url>scp://builds.brackwater.example/srv/pages</url></site>"
    stage.project(
        pom(
            extra=f"  <distributionManagement>{target}</distributionManagement>",
            plugins=[plugin("maven-site-plugin:3.12.1")],
        )
    )
    (stage.world.project / "target" / "site").mkdir(parents=True)
    stage.world.write("target/site/index.html", "<p>Fares</p>")


DEPLOY: tuple[Scenario, ...] = (
    Scenario(slug="deploy-401-no-server-entry", maven="3.8.7", setup=without_server_entry, command="mvn -B deploy",
             failure="deploy-unauthorized", root=STATUS.format("401")),
    Scenario(slug="deploy-401-wrong-password", maven="3.9.9", setup=wrong_password, command="mvn -B deploy",
             failure="deploy-unauthorized", root=STATUS.format("401")),
    Scenario(slug="deploy-401", maven="3.6.3", setup=wrong_password, command="mvn -B -ntp deploy",
             failure="deploy-unauthorized", root=GOAL),
    Scenario(slug="deploy-401", maven="4.0.0-rc-4", setup=wrong_password, command="mvn -B deploy",
             failure="deploy-unauthorized", root=GOAL),
    Scenario(slug="deploy-403", maven="3.6.3", setup=refuse(403), command="mvn -B deploy",
             failure="deploy-forbidden", root=STATUS.format("(?:403|Forbidden)")),
    Scenario(slug="deploy-403", maven="3.9.9", setup=refuse(403), command="mvn -B deploy",
             failure="deploy-forbidden", root=STATUS.format("403")),
    Scenario(slug="deploy-403-wagon-cold", maven="3.9.9", setup=refuse(403), cold=True,
             command="mvn -B -Dmaven.resolver.transport=wagon deploy",
             failure="deploy-forbidden", root=STATUS.format("403")),
    Scenario(slug="deploy-403-jdk", maven="4.0.0-rc-4", setup=refuse(403),
             command="mvn -B -Dmaven.resolver.transport=jdk deploy", failure="deploy-forbidden", root=GOAL),
    Scenario(slug="deploy-403-apache", maven="4.0.0-rc-4", setup=refuse(403),
             command="mvn -B -Dmaven.resolver.transport=apache deploy", failure="deploy-forbidden", root=GOAL),
    Scenario(slug="deploy-403-metadata-read", maven="3.6.3", setup=read_refused, command="mvn -B deploy",
             failure="deploy-forbidden", root=STATUS.format("(?:403|Forbidden)"), also="maven-metadata.xml"),
    Scenario(slug="deploy-403-metadata-read", maven="3.8.7", setup=with_plugin("3.0.0-M2", read_refused), command="mvn -B deploy",
             failure="deploy-forbidden", root=STATUS.format("403"), also="maven-metadata.xml"),
    Scenario(slug="deploy-403-metadata-read", maven="3.9.9", setup=read_refused, command="mvn -B -e deploy",
             failure="deploy-forbidden", root=STATUS.format("403"), also="maven-metadata.xml"),
    Scenario(slug="deploy-403-metadata-read", maven="4.0.0-rc-4", setup=read_refused, command="mvn -B deploy",
             failure="deploy-forbidden", root=GOAL, also="maven-metadata.xml"),
    Scenario(slug="deploy-404", maven="3.8.7", setup=refuse(404), command="mvn -B deploy",
             failure="deploy-repository-not-found", root=STATUS.format("Could not (?:find|transfer)")),
    Scenario(slug="deploy-404", maven="3.9.9", setup=refuse(404), command="mvn -B deploy",
             failure="deploy-repository-not-found", root=STATUS.format("Could not (?:find|transfer)")),
    Scenario(slug="deploy-405-group", maven="3.6.3", setup=target_at(lambda stage: stage.public), command="mvn -B deploy",
             failure="deploy-method-not-allowed", root=STATUS.format("405")),
    Scenario(slug="deploy-405-group", maven="3.9.9", setup=target_at(lambda stage: stage.public), command="mvn -B deploy",
             failure="deploy-method-not-allowed", root=STATUS.format("405")),
    Scenario(slug="deploy-400-redeploy", maven="3.8.7", setup=second_upload, command="mvn -B deploy",
             failure="deploy-redeploy-refused", root=STATUS.format("does not allow updating")),
    Scenario(slug="deploy-400-redeploy", maven="3.9.9", setup=second_upload, command="mvn -B deploy",
             failure="deploy-redeploy-refused", root=STATUS.format("does not allow updating")),
    Scenario(slug="deploy-409-redeploy", maven="3.9.9", setup=refuse(409, "Conflict", JSON_409, kind="application/json"),
             command="mvn -B deploy", failure="deploy-redeploy-refused", root=STATUS.format("409")),
    Scenario(slug="deploy-409-exists", maven="3.6.3", setup=refuse(409, "Artifact already exists and may not be overwritten"),
             command="mvn -B deploy", failure="deploy-redeploy-refused", root=STATUS.format("409")),
    Scenario(slug="deploy-400-release-policy", maven="3.8.7", setup=snapshot(refuse(400, NO_SERVER_REASON)), command="mvn -B deploy",
             failure="deploy-version-policy-mismatch", root=STATUS.format("version policy")),
    Scenario(slug="deploy-400-release-policy", maven="4.0.0-rc-4", setup=snapshot(refuse(400, NO_SERVER_REASON)),
             command="mvn -B -Dmaven.resolver.transport=apache deploy",
             # This client prints the status only: the words of the answer, and with them the policy, are lost.
             failure="deploy-rejected-as-invalid", root=GOAL, also="HTTP Status: 400"),
    Scenario(slug="deploy-413", maven="3.8.7", setup=refuse(413, "Request Entity Too Large", NGINX_413), command="mvn -B deploy",
             failure="deploy-too-large", root=STATUS.format("413")),
    Scenario(slug="deploy-413", maven="3.9.9", setup=refuse(413, "Request Entity Too Large", NGINX_413), command="mvn -B -X deploy",
             failure="deploy-too-large", root=STATUS.format("413")),
    Scenario(slug="deploy-429", maven="3.9.9", setup=refuse(429, "Too Many Requests"), command="mvn -B deploy" + QUIET_RETRY,
             failure="deploy-rate-limited", root=STATUS.format("429")),
    Scenario(slug="deploy-500", maven="3.8.7", setup=refuse(500, "Internal Server Error"), command="mvn -B deploy",
             failure="deploy-server-error", root=STATUS.format("500")),
    Scenario(slug="deploy-503", maven="3.9.9", setup=refuse(503, "Service Unavailable"), command="mvn -B deploy" + QUIET_RETRY,
             failure="deploy-server-error", root=STATUS.format("503")),
    Scenario(slug="deploy-507", maven="3.6.3", setup=refuse(507, "Insufficient Storage"), command="mvn -B deploy",
             failure="deploy-server-error", root=STATUS.format("507")),
    Scenario(slug="deploy-502", maven="4.0.0-rc-4", setup=refuse(502, "Bad Gateway"), command="mvn -B deploy" + QUIET_RETRY,
             failure="deploy-server-error", root=GOAL, also="502"),
    Scenario(slug="deploy-refused", maven="3.8.7", setup=target_at(lambda stage: port_at(stage, closed_port())), command="mvn -B deploy",
             failure="deploy-host-unreachable", root=STATUS.format("Connection refused")),
    Scenario(slug="deploy-refused", maven="3.9.9", setup=target_at(lambda stage: port_at(stage, closed_port())), command="mvn -B deploy",
             failure="deploy-host-unreachable", root=STATUS.format("Connection refused")),
    Scenario(slug="deploy-connect-timed-out", maven="3.9.9", setup=target_at(silent),
             command="mvn -B -Daether.connector.connectTimeout=1500 deploy",
             failure="deploy-host-unreachable", root=STATUS.format("timed out")),
    Scenario(slug="deploy-unknown-host", maven="3.6.3", setup=unknown_host,
             command="mvn -B deploy", failure="deploy-host-unreachable", root=GOAL),
    Scenario(slug="deploy-upload-broken", maven="3.9.9",
             setup=lambda stage: stage.rule(r"\.jar$", Answer(drop="upload"), method="PUT"),
             command="mvn -B deploy", failure="deploy-transfer-interrupted", root=STATUS.format("(?:Broken pipe|reset|closed|terminated)")),
    Scenario(slug="deploy-no-answer", maven="3.8.7",
             setup=lambda stage: stage.rule(r"\.jar$", Answer(drop="before"), method="PUT"),
             command="mvn -B deploy", failure="deploy-transfer-interrupted", root=GOAL),
    Scenario(slug="deploy-tls-untrusted", maven="3.9.9", setup=target_at(untrusted), command="mvn -B deploy",
             failure="deploy-tls-untrusted", root=STATUS.format("PKIX")),
    Scenario(slug="deploy-tls-untrusted", maven="3.6.3", setup=target_at(untrusted), command="mvn -B deploy",
             failure="deploy-tls-untrusted", root=STATUS.format("PKIX")),
    Scenario(slug="deploy-no-distribution", maven="3.8.7", setup=lambda stage: stage.project(pom()), command="mvn -B deploy",
             failure="deploy-repository-not-configured", root=GOAL),
    Scenario(slug="deploy-no-distribution", maven="3.9.9", setup=with_plugin("3.1.3", target=False), command="mvn -B deploy",
             failure="deploy-repository-not-configured", root=GOAL),
    Scenario(slug="deploy-alternative-two-parts", maven="3.8.7", setup=with_plugin("2.8.2"),
             command="mvn -B deploy -DaltDeploymentRepository=brackwater-releases::{releases}",
             failure="deploy-target-syntax", root=GOAL),
    Scenario(slug="deploy-alternative-three-parts", maven="3.9.9", setup=with_plugin("3.1.3"),
             command="mvn -B deploy -DaltDeploymentRepository=brackwater-releases::legacy::{releases}",
             failure="deploy-target-syntax", root=GOAL),
    Scenario(slug="deploy-unknown-scheme", maven="3.9.9", setup=target_at(lambda stage: "scpx://builds.brackwater.example/srv/maven"),
             command="mvn -B deploy", failure="deploy-protocol-unsupported", root=GOAL),
    Scenario(slug="deploy-scp", maven="3.6.3", setup=target_at(lambda stage: "scp://builds.brackwater.example/srv/maven"),
             command="mvn -B deploy", failure="deploy-protocol-unsupported", root=GOAL),
    Scenario(slug="site-unknown-scheme", maven="3.8.7", setup=site, command="mvn -B site:deploy",
             failure="deploy-protocol-unsupported", root="Unsupported protocol"),
    Scenario(slug="deploy-401", maven="4.0.0-rc-5", setup=without_server_entry, command="mvn -B deploy",
             failure="deploy-unauthorized", root=GOAL),
    Scenario(slug="deploy-403-all", maven="4.0.0-rc-5", setup=refuse(403), cold=True, command="mvn deploy",
             failure="deploy-forbidden", root=GOAL),
    Scenario(slug="deploy-400-redeploy", maven="4.0.0-rc-5", setup=second_upload, command="mvn -B deploy -Dmaven.resolver.transport=wagon",
             failure="deploy-redeploy-refused", root=GOAL, also="400"),
    Scenario(slug="deploy-403-no-batch", maven="3.6.3", setup=refuse(403), cold=True, command="mvn clean deploy",
             failure="deploy-forbidden", root=STATUS.format("403")),
    Scenario(slug="deploy-at-end-refused", maven="3.9.11", setup=modules, command="mvn -B deploy -DdeployAtEnd=true",
             failure="deploy-forbidden", root=STATUS.format("403")),
    Scenario(slug="deploy-file-403", maven="3.9.9", setup=refuse(403), failure="deploy-forbidden", root=STATUS.format("403"),
             command="mvn -B deploy:deploy-file -DrepositoryId=brackwater-releases -Durl={releases} -Dfile=pom.xml -DpomFile=pom.xml"),
    Scenario(slug="deploy-file-missing", maven="3.8.7", setup=nothing, failure="package-no-artifact", root="ERROR.*Failed to execute goal .*deploy-file",
             command="mvn -B deploy:deploy-file -DrepositoryId=brackwater-releases -Durl={releases} -Dfile=target/fares-core-1.4.0.jar -DpomFile=pom.xml"),
    Scenario(slug="deploy-without-artifact", maven="3.8.7", setup=with_plugin("2.8.2"), command="mvn -B deploy:deploy",
             failure="package-no-artifact", root=GOAL, also="did not assign a file"),
    Scenario(slug="deploy-without-artifact", maven="3.9.9", setup=nothing, command="mvn -B jar:help deploy:deploy",
             failure="package-no-artifact", root=GOAL),
    Scenario(slug="deploy-proxy-407", maven="3.8.7", setup=through_refusing_proxy, command="mvn -B deploy",
             failure="deploy-proxy-auth-required", root=STATUS.format("(?:407|Proxy)")),
    Scenario(slug="deploy-parallel-one-refused", maven="3.9.9", setup=modules, command="mvn -B -T2 -fae deploy",
             failure="deploy-forbidden", root=STATUS.format("403")),
    Scenario(slug="deploy-403-overwrite", maven="3.8.7", setup=refuse(403, "Not enough permissions to overwrite artifact fares-core-1.4.0.jar", JSON_403),
             command="mvn -B deploy -Dstyle.color=always", failure="deploy-redeploy-refused", root="ERROR.*Failed to execute goal.*overwrite"),
)  # fmt: skip
