"""Container engines, clusters and provisioning tools that fail without a real engine or cluster."""

from __future__ import annotations

import json
import os
import socket
from collections.abc import Callable

from tests.lab.other_support import MissingToolError, Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

Prepare = Callable[[Stage], str]
CLUSTER = "cluster.brackwater.example"


def _docker(script: str, *, host: bool = False) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system("docker")
        stage.write("Dockerfile", "FROM base.brackwater.example/jdk:17\nCOPY . /app\n")
        stage.env |= {"DOCKER_BUILDKIT": "0", "DOCKER_HOST": f"unix://{stage.world.base}/var/run/docker.sock"}
        if host:
            stage.env["DOCKER_HOST"] = stage.closed("docker.brackwater.example").replace("https", "tcp")
        return script + "\n"

    return prepare


def _docker_socket(stage: Stage) -> str:
    stage.chest.system("docker")
    if os.geteuid() != 0:
        raise MissingToolError("needs to become another user")
    path = stage.world.base / "var" / "run" / "docker.sock"
    path.parent.mkdir(parents=True)
    listening = socket.socket(socket.AF_UNIX)
    stage.stack.callback(listening.close)
    listening.bind(str(path))
    path.chmod(0o600)
    stage.quiet(f"chmod 755 {stage.world.base}")
    stage.env |= {"DOCKER_HOST": f"unix://{path}", "DOCKER_CONFIG": str(stage.world.temp)}
    return "setpriv --reuid=1001 --clear-groups docker ps\n"


def _cluster(
    script: str, rules: list[Rule], *, tls: str = "good", down: bool = False, manifest: str | None = None
) -> Prepare:
    """A cluster whose interface answers by rule."""

    def prepare(stage: Stage) -> str:
        stage.chest.system("kubectl")
        url = stage.closed(CLUSTER) if down else stage.serve(CLUSTER, rules, tls=tls)
        config = {"apiVersion": "v1", "kind": "Config", "current-context": "staging",
                  "clusters": [{"name": "staging", "cluster": {"server": url}}],
                  "users": [{"name": "ci", "user": {"username": "ci", "password": "made-up"}}],
                  "contexts": [{"name": "staging", "context": {"cluster": "staging", "user": "ci", "namespace": "fares"}}]}  # fmt: skip
        stage.env["KUBECONFIG"] = str(stage.at_home(".kube/config", json.dumps(config)))
        stage.write("deploy/fares.yaml", manifest or _MANIFEST)
        return f"ls deploy\n{script}\n"

    return prepare


def _status(code: int, reason: str, message: str) -> Answer:
    body = {
        "kind": "Status",
        "apiVersion": "v1",
        "status": "Failure",
        "message": message,
        "reason": reason,
        "code": code,
    }
    return Answer(status=code, body=json.dumps(body), kind="application/json")


def _no_cluster(stage: Stage) -> str:
    stage.chest.system("kubectl")
    stage.texts.append(("localhost:8080", "192.0.2.40:8080"))
    return "kubectl config view\nkubectl get deployments --namespace fares\n"


def _terraform(script: str, main: str, rules: list[Rule] | None = None, **env: str) -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.chest.system("terraform")
        url = stage.serve("state.brackwater.example", rules or [])
        stage.write("main.tf", main.replace("STATE", url))
        stage.env |= {"TF_IN_AUTOMATION": "1", "CHECKPOINT_DISABLE": "1", **env}
        return f"terraform init -no-color -input=false\n{script}\n"

    return prepare


def _ansible(script: str, playbook: str, hosts: str = "") -> Prepare:
    def prepare(stage: Stage) -> str:
        stage.use(stage.chest.venv("3.11", "ansible-core==2.17.7") / "bin")
        port = stage.closed("quay-1.brackwater.example").rsplit(":", 1)[1]
        stage.texts.append((f"127.0.0.1 port {port}", "quay-1.brackwater.example port 22"))
        stage.write("deploy.yml", playbook)
        stage.write("hosts.ini", hosts.replace("PORT", port))
        stage.env |= {
            "ANSIBLE_NOCOLOR": "1",
            "ANSIBLE_HOST_KEY_CHECKING": "False",
            "ANSIBLE_PYTHON_INTERPRETER": "auto_silent",
        }
        return script + "\n"

    return prepare


def _row(  # noqa: PLR0917 - the columns of a table
    tool: str, slug: str, prepare: Prepare, failure: str, line: str, frame: str = "plain", *version: str
) -> Scenario:
    return Scenario(
        tool=tool, slug=slug, prepare=prepare, failure=failure, line=line, frame=frame, version=version or None
    )


_MANIFEST = "apiVersion: v1\nkind: ConfigMap\nmetadata:\n  name: fares\ndata:\n  winter: '12.50'\n"
_FORBIDDEN = _status(
    403,
    "Forbidden",
    'configmaps "fares" is forbidden: User "ci" cannot get resource "configmaps" in API group "" in the namespace "fares"',
)
_API = [
    Rule(path="^/api(\\?|$)", answer=Answer(body='{"kind": "APIVersions", "versions": ["v1"]}', kind="application/json")),
    Rule(path="^/apis(\\?|$)", answer=Answer(body='{"kind": "APIGroupList", "apiVersion": "v1", "groups": []}', kind="application/json")),
    Rule(path="^/api/v1(\\?|$)", answer=Answer(body=json.dumps({"kind": "APIResourceList", "groupVersion": "v1", "resources": [
        {"name": "configmaps", "singularName": "", "namespaced": True, "kind": "ConfigMap", "verbs": ["get", "create", "patch"]}]}), kind="application/json")),
]  # fmt: skip
_ALL = "GET|POST|PATCH|PUT"
_BACKEND = 'terraform {\n  backend "http" {\n    address = "STATE/fares"\n    lock_address = "STATE/fares/lock"\n    lock_method = "POST"\n    retry_max = 0\n  }\n}\n\noutput "fare" {\n  value = 12\n}\n'
_LOCK = Rule(path="^/fares/lock", method=_ALL, answer=Answer(status=423, body=json.dumps({
    "ID": "7c1e4a52-5c19-4f0e-9f0c-2f3a2b9d1e11", "Operation": "OperationTypeApply", "Info": "", "Who": "ci@agent-03",
    "Version": "1.11.4", "Created": "2026-03-04T04:58:11Z", "Path": ""})))  # fmt: skip
_EMPTY = Rule(path="^/fares", answer=Answer(status=404))
_KUBECTL = ("kubectl", "version", "--client")
_TERRAFORM = ("terraform", "version")
_SSH = "quay-1 ansible_host=127.0.0.1 ansible_port=PORT ansible_user=deploy\n"
_PLAY = "- hosts: all\n  gather_facts: false\n  tasks:\n    - name: Restart the fare service\n      ansible.builtin.command: systemctl restart fares\n"
_PLAY_LOCAL = "- hosts: all\n  connection: local\n  gather_facts: false\n  tasks:\n    - name: Check the tariff\n      ansible.builtin.command: 'test -f /opt/fares/tariff.yaml'\n"

SCENARIOS = (
    _row("docker", "no-daemon", _docker("docker build -t fares:1.4.0 ."), "agent-container-daemon-unreachable", "Cannot connect to the Docker daemon", "iso"),
    _row("docker", "no-daemon-ps", _docker("docker --version\ndocker pull base.brackwater.example/jdk:17"), "agent-container-daemon-unreachable", "Cannot connect to the Docker daemon", "job"),
    _row("docker", "remote-daemon-down", _docker("docker info", host=True), "agent-container-daemon-unreachable", "Cannot connect to the Docker daemon|error during connect"),
    _row("docker", "socket-denied", _docker_socket, "agent-container-socket-denied", "permission denied while trying to connect", "clock"),
    _row("kubectl", "no-cluster", _no_cluster, "deploy-host-unreachable", "was refused", "iso", *_KUBECTL),
    _row("kubectl", "cluster-down", _cluster("kubectl apply -f deploy/", [], down=True), "deploy-host-unreachable", "connection refused|was refused", "plain", *_KUBECTL),
    _row("kubectl", "forbidden", _cluster("kubectl apply --validate=false -f deploy/", [*_API, Rule(path="configmaps", method=_ALL, answer=_FORBIDDEN)]), "deploy-cluster-rejected", "is forbidden: User", "clock", *_KUBECTL),
    _row("kubectl", "unauthorized", _cluster("kubectl get pods", [Rule(path="^/", method=_ALL, answer=_status(401, "Unauthorized", "Unauthorized"))]), "deploy-unauthorized", "must be logged in to the server|provide credentials", "job", *_KUBECTL),
    _row("kubectl", "untrusted", _cluster("kubectl get pods", _API, tls="stranger"), "deploy-tls-untrusted", "certificate signed by unknown authority", "iso", *_KUBECTL),
    _row("kubectl", "file-missing", _cluster("kubectl apply -f deploy/production.yaml", _API), "agent-path-not-found", "production.yaml. does not exist", "plain", *_KUBECTL),
    _row("kubectl", "rollout", _cluster("kubectl apply --validate=false -f deploy/", [*_API, Rule(path="configmaps", method="GET", answer=_status(404, "NotFound", "not found")), Rule(path="configmaps", method="POST", answer=_status(422, "Invalid", 'ConfigMap "fares" is invalid: metadata.labels: Invalid value: "winter tariff"'))]), "deploy-cluster-rejected", "is invalid: metadata.labels", "plain", *_KUBECTL),
    _row("terraform", "state-locked", _terraform("terraform plan -no-color -input=false", _BACKEND, [_LOCK, _EMPTY]), "deploy-state-locked", "Error acquiring the state lock", "iso", *_TERRAFORM),
    _row("terraform", "variable-missing", _terraform("terraform plan -no-color -input=false", 'variable "region" {\n  type = string\n}\n\noutput "region" {\n  value = var.region\n}\n'), "agent-variable-missing", "No value for required variable", "job", *_TERRAFORM),
    _row("terraform", "invalid", _terraform("terraform validate -no-color", 'output "fare" {\n  value = 12\n  winter = 14\n}\n'), "setup-build-file-invalid", "Error: Unsupported argument", "plain", *_TERRAFORM),
    _row("terraform", "syntax", _terraform("terraform plan -no-color", 'output "fare" {\n  value = \n}\n'), "setup-build-file-invalid", "Error: Invalid expression", "clock", *_TERRAFORM),
    _row("ansible", "unreachable", _ansible("ansible-playbook -i hosts.ini deploy.yml", _PLAY, _SSH), "deploy-host-unreachable", "UNREACHABLE!", "iso"),
    _row("ansible", "task-failed", _ansible("ansible-playbook -i hosts.ini deploy.yml", _PLAY_LOCAL, "quay-1\n"), "deploy-remote-command-failed", "FAILED! =>"),
    _row("ansible", "playbook-missing", _ansible("ansible-playbook -i hosts.ini release.yml", _PLAY, "quay-1\n"), "agent-path-not-found", "release.yml could not be found", "job"),
    _row("ansible", "playbook-invalid", _ansible("ansible-playbook -i hosts.ini deploy.yml", _PLAY.replace("  tasks:", " tasks:"), "quay-1\n"), "setup-build-file-invalid", "ERROR!|Syntax Error", "clock"),
)  # fmt: skip
