"""Git runs that fail at the door: credentials, rights, names, refs, network, certificates, keys."""

from __future__ import annotations

from tests.lab.git_site import HOST, origin, serve_git, serve_ssh, with_identity
from tests.lab.other_support import Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

_ASK = Rule(path="^/", method="GET|POST", answer=Answer(status=401, reason="Unauthorized"), unless_user="ci-bot")


def _no_terminal(stage: Stage) -> str:
    url = serve_git(stage, [_ASK])
    return f"export GIT_TERMINAL_PROMPT=0\ngit --version\ngit clone {url}/fares.git src\ncd src && ./build.sh\n"


def _wrong_password(stage: Stage) -> str:
    url = serve_git(stage, [_ASK])
    stage.at_home(".git-credentials", url.replace("https://", "https://fares-reader:not-the-password@") + "\n")
    stage.quiet("git config --global credential.helper store")
    return f"git init -q .\ngit remote add origin {url}/fares.git\ngit fetch --tags --progress origin '+refs/heads/*:refs/remotes/origin/*'\n"


def _fetch_no_tty(stage: Stage) -> str:
    url = serve_git(stage, [_ASK])
    return f"git init -q .\ngit config remote.origin.url {url}/fares.git\ngit fetch --no-tags origin +refs/heads/main:refs/remotes/origin/main\n"


def _forbidden(stage: Stage) -> str:
    rule = Rule(
        path="^/fares.git",
        method="GET|POST",
        answer=Answer(status=403, reason="Forbidden", body="Your account is not a member of this project."),
    )
    url = serve_git(stage, [rule])
    return f"git clone --depth 1 --branch main {url}/fares.git .\n./build.sh\n"


def _write_refused(stage: Stage) -> str:
    text = "Write access to repository not granted."
    rule = Rule(path="service=git-receive-pack", answer=Answer(status=403, body=text, kind="text/plain"))
    url = serve_git(stage, [rule])
    return (f"git clone -q {url}/fares.git .\n./build.sh\ngit config user.name 'Release Bot'\ngit config user.email bot@brackwater.example\n"
            "git tag -a v1.5.0 -m 'Release 1.5.0'\ngit push origin v1.5.0\n")  # fmt: skip


def _not_found(stage: Stage) -> str:
    url = serve_git(stage)
    return f"git clone {url}/fares.git src\ngit clone {url}/timetabel.git timetable\nmake -C src\n"


def _not_found_ssh_path(stage: Stage) -> str:
    origin(stage)
    return "git ls-remote --heads /srv/git/fares-archive.git\n"


def _branch_missing(stage: Stage) -> str:
    return f"git clone --branch release/1.6 --single-branch {serve_git(stage)}/fares.git .\n./build.sh\n"


def _refspec_missing(stage: Stage) -> str:
    url = serve_git(stage)
    return f"git init .\ngit remote add origin {url}/fares.git\ngit fetch --depth=1 origin +refs/heads/master:refs/remotes/origin/master\n"


def _pathspec(stage: Stage) -> str:
    return f"git clone {serve_git(stage)}/fares.git .\ngit checkout develop\n./build.sh\n"


def _commit_missing(stage: Stage) -> str:
    url = serve_git(stage)
    return f"git clone --no-checkout {url}/fares.git .\ngit checkout -f 0c6cb4f2a9f51aa2fb0b0e6e9a8a2f2f6d3c9b11\n"


def _commit_not_our_ref(stage: Stage) -> str:
    url = serve_git(stage)
    return f"git init -q .\ngit remote add origin {url}/fares.git\ngit fetch --depth 1 origin 0c6cb4f2a9f51aa2fb0b0e6e9a8a2f2f6d3c9b11\n"


def _host_unknown(stage: Stage) -> str:
    return f"echo 'Cloning from mirror'\ngit clone https://mirror.{HOST}/fares.git .\n./build.sh\n"


def _host_unknown_ssh(stage: Stage) -> str:
    return f"git clone ssh://git@mirror.{HOST}/fares/fares.git .\n"


def _refused(stage: Stage) -> str:
    return f"git clone --quiet {stage.closed(HOST)}/fares.git .\n"


def _proxy_refused(stage: Stage) -> str:
    proxy = stage.closed("proxy.brackwater.example").replace("https", "http")
    return f"export https_proxy={proxy}\ngit clone https://{HOST}/fares/fares.git .\n"


def _untrusted(stage: Stage) -> str:
    return f"git clone {serve_git(stage, tls='stranger')}/fares.git .\n"


def _expired(stage: Stage) -> str:
    return f"git clone {serve_git(stage, tls='expired')}/fares.git .\n"


def _wrong_name(stage: Stage) -> str:
    url = serve_git(stage, tls="name")
    return f"git clone {url}/fares.git .\n"


def _server_error(stage: Stage) -> str:
    rule = Rule(path="^/fares.git", answer=Answer(status=503, reason="Service Unavailable", body="maintenance"))
    return f"git clone {serve_git(stage, [rule])}/fares.git .\n"


def _web_page(stage: Stage) -> str:
    rule = Rule(path="^/", answer=Answer(body="<html><title>Sign in</title></html>"))
    url = serve_git(stage, [rule])
    return f"git clone {url}/fares .\n"


def _rate_limited(stage: Stage) -> str:
    rule = Rule(path="^/fares.git", answer=Answer(status=429, reason="Too Many Requests"))
    return f"git clone {serve_git(stage, [rule])}/fares.git .\n"


def _broken_transfer(stage: Stage) -> str:
    rule = Rule(path="git-upload-pack$", method="POST", answer=Answer(drop="reset"))
    return f"git clone {serve_git(stage, [rule])}/fares.git .\n"


def _url_port(stage: Stage) -> str:
    return f"git clone https://{HOST}:fares/fares.git .\n"


def _url_scheme(stage: Stage) -> str:
    return f"git clone htps://{HOST}/fares/fares.git .\n"


def _ssh_key(stage: Stage) -> str:
    url = serve_ssh(stage)
    key = stage.world.base / "etc" / "ssh" / "user_key"
    return (f"export GIT_SSH_COMMAND='ssh -i {key} -o StrictHostKeyChecking=accept-new -o UserKnownHostsFile={stage.world.home}/known_hosts'\n"
            f"git clone {url}/fares.git .\n")  # fmt: skip


def _ssh_host_key(stage: Stage) -> str:
    url = serve_ssh(stage)
    options = f"-o StrictHostKeyChecking=yes -o BatchMode=yes -o UserKnownHostsFile={stage.world.home}/known_hosts"
    return f"export GIT_SSH_COMMAND='ssh {options}'\ngit ls-remote {url}/fares.git HEAD\n"


def _ssh_host_key_changed(stage: Stage) -> str:
    url = serve_ssh(stage)
    stage.quiet("ssh-keygen -q -t ed25519 -N '' -f ../old_host_key")
    where = "[localhost]:" + url.split("localhost:")[1].split("/")[0]
    public = (stage.project.parent / "old_host_key.pub").read_text()
    stage.at_home(".ssh/known_hosts", f"{where} {public}")
    options = f"-o UserKnownHostsFile={stage.world.home}/.ssh/known_hosts"
    return f"export GIT_SSH_COMMAND='ssh {options}'\ngit clone {url}/fares.git .\n"


def _ssh_refused(stage: Stage) -> str:
    port = stage.closed(HOST).rsplit(":", 1)[1]
    stage.show(int(port), HOST, 2222)
    with_identity(stage, "git init -q -b main . && git commit -q --allow-empty -m start")
    return f"git fetch ssh://git@localhost:{port}/fares.git main\n"


def _merge_request_ref(stage: Stage) -> str:
    url = serve_git(stage)
    return f"git clone {url}/fares.git .\ngit fetch origin pull/118/head:pr-118\ngit checkout pr-118\n"


def _row(slug: str, prepare: object, failure: str, line: str, frame: str = "plain") -> Scenario:
    assert callable(prepare)
    return Scenario(tool="git", slug=slug, prepare=prepare, failure=failure, line=line, frame=frame)


SCENARIOS = (
    _row("auth-no-terminal", _no_terminal, "checkout-auth-failed", "fatal: could not read Username"),
    _row("auth-no-device", _fetch_no_tty, "checkout-auth-failed", "fatal: could not read Username", "clock"),
    _row("auth-wrong-password", _wrong_password, "checkout-auth-failed", "fatal: Authentication failed", "iso"),
    _row("forbidden", _forbidden, "checkout-access-denied", "The requested URL returned error: 403", "job"),
    _row("repository-not-found", _not_found, "checkout-repository-not-found", "fatal: repository .* not found", "iso"),
    _row("local-repository-not-found", _not_found_ssh_path, "checkout-repository-not-found", "does not appear to be a git repository"),
    _row("branch-not-found", _branch_missing, "checkout-ref-not-found", "Remote branch release/1.6 not found"),
    _row("refspec-not-found", _refspec_missing, "checkout-ref-not-found", "couldn't find remote ref", "clock"),
    _row("pathspec-no-match", _pathspec, "checkout-ref-not-found", "error: pathspec 'develop'", "job"),
    _row("merge-request-ref-not-found", _merge_request_ref, "checkout-ref-not-found", "couldn't find remote ref", "iso"),
    _row("commit-not-a-tree", _commit_missing, "checkout-commit-not-found", "fatal: (reference is not a tree|unable to read tree)", "clock"),
    _row("commit-not-our-ref", _commit_not_our_ref, "checkout-commit-not-found", "not our ref"),
    _row("host-unknown", _host_unknown, "checkout-host-unreachable", "Could not resolve host"),
    _row("host-unknown-ssh", _host_unknown_ssh, "checkout-host-unreachable", "Could not resolve hostname", "iso"),
    _row("connection-refused", _refused, "checkout-host-unreachable", "Failed to connect to", "clock"),
    _row("connection-refused-ssh", _ssh_refused, "checkout-host-unreachable", "Connection refused"),
    _row("proxy-refused", _proxy_refused, "checkout-host-unreachable", "Failed to connect to", "job"),
    _row("certificate-untrusted", _untrusted, "checkout-tls-untrusted", "certificate verif"),
    _row("certificate-expired", _expired, "checkout-tls-untrusted", "certificate", "iso"),
    _row("certificate-wrong-name", _wrong_name, "checkout-tls-untrusted", "fatal: unable to access"),
    _row("server-503", _server_error, "checkout-server-error", "error: 503", "clock"),
    _row("rate-limited", _rate_limited, "checkout-server-error", "error: 429"),
    _row("transfer-reset", _broken_transfer, "checkout-transfer-interrupted", "(error|fatal): RPC failed", "job"),
    _row("url-port-not-a-number", _url_port, "checkout-url-invalid", "fatal: unable to access|URL using bad"),
    _row("url-unknown-scheme", _url_scheme, "checkout-url-invalid", "fatal: Unable to find remote helper|remote-htps"),
    _row("ssh-key-rejected", _ssh_key, "checkout-ssh-key-rejected", r"Permission denied \(publickey"),
    _row("ssh-host-key-unknown", _ssh_host_key, "checkout-host-key-unverified", "No .* host key is known|Host key verification failed", "iso"),
    _row("ssh-host-key-changed", _ssh_host_key_changed, "checkout-host-key-unverified", "REMOTE HOST IDENTIFICATION HAS CHANGED", "clock"),
    _row("push-write-not-granted", _write_refused, "deploy-git-push-rejected", "remote: Write access to repository not granted", "iso"),
)  # fmt: skip
