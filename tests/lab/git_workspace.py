"""Git runs that fail on what lies in the workspace, on submodules and large files, and on what is sent back."""

from __future__ import annotations

import os

from tests.lab.git_site import HOST, checkout, origin, serve_git, with_identity
from tests.lab.other_support import MissingToolError, Scenario, Stage
from tests.lab.rule_server import Answer, Rule

__all__ = ["SCENARIOS"]

_BOT = "git config user.name 'Release Bot'\ngit config user.email bot@brackwater.example\n"


def _submodule_missing(stage: Stage) -> str:
    url = serve_git(stage)
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && git -c protocol.file.allow=always submodule add -q {url}/fares.git lib/rates"
        f" && sed -i 's#{url}/fares.git#{url}/rates.git#' .gitmodules && git add . && git commit -qm 'Add rates' && git push -q origin main",
    )
    return f"git clone --recurse-submodules {url}/fares.git .\n./build.sh\n"


def _submodule_without_url(stage: Stage) -> str:
    url = serve_git(stage)
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && git update-index --add --cacheinfo 160000,$(git rev-parse HEAD),lib/rates"
        " && git commit -qm 'Add rates' && git push -q origin main",
    )
    return f"git clone -q {url}/fares.git .\ngit submodule update --init --recursive\n"


def _submodule_commit_gone(stage: Stage) -> str:
    url = serve_git(stage)
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && git submodule add -q {url}/fares.git lib/rates"
        " && git update-index --cacheinfo 160000,0c6cb4f2a9f51aa2fb0b0e6e9a8a2f2f6d3c9b11,lib/rates"
        " && git commit -qm 'Pin rates' && git push -q origin main",
    )
    return f"git clone -q {url}/fares.git .\ngit submodule sync\ngit submodule update --init\n"


def _submodule_auth(stage: Stage) -> str:
    rule = Rule(path="^/rates.git", answer=Answer(status=401))
    url = serve_git(stage, [rule])
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && git submodule add -q {url}/fares.git lib/rates"
        f" && sed -i 's#{url}/fares.git#{url}/rates.git#' .gitmodules && git add . && git commit -qm 'Add rates' && git push -q origin main",
    )
    return f"export GIT_TERMINAL_PROMPT=0\ngit clone --recursive {url}/fares.git .\n"


def _unsafe_ownership(stage: Stage) -> str:
    if os.geteuid() != 0:
        raise MissingToolError("needs to give a folder to another user")
    checkout(stage, serve_git(stage))
    stage.quiet("chown -R 1001:1001 .")
    return "git rev-parse --abbrev-ref HEAD\n./build.sh\n"


def _index_lock(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    stage.write(".git/index.lock", "")
    return "git fetch -q origin\ngit reset --hard origin/main\n./build.sh\n"


def _ref_lock(stage: Stage) -> str:
    url = serve_git(stage)
    checkout(stage, url)
    stage.write(".git/refs/remotes/origin/release/1.5.lock", "")
    with_identity(
        stage, f"git clone -q {url}/fares.git ../edit && git -C ../edit push -q origin main:refs/heads/release/1.5"
    )
    return "git fetch --prune origin\n./build.sh\n"


def _shallow_lock(stage: Stage) -> str:
    url = serve_git(stage)
    stage.quiet(f"git clone -q --depth 1 {url}/fares.git .")
    stage.write(".git/shallow.lock", "")
    return "git fetch --depth 5 origin main\n"


def _local_changes(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    stage.write("tariff.yaml", "summer: 15.00\n")
    return "git fetch origin\ngit checkout release/1.4\n./build.sh\n"


def _untracked(stage: Stage) -> str:
    url = serve_git(stage)
    checkout(stage, url)
    stage.quiet("git checkout -q v1.4.0")
    stage.write("tariff.yaml", "left by an earlier build\n")
    return "git status --short\ngit checkout main\n"


def _pull_overwritten(stage: Stage) -> str:
    url = serve_git(stage)
    checkout(stage, url)
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && echo 'summer: 16.00' > tariff.yaml && git commit -qam 'Raise' && git push -q",
    )
    stage.write("tariff.yaml", "summer: 15.00\n")
    return "git pull --ff-only origin main\n"


def _merge_conflict(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    return _BOT + "git checkout main\ngit merge --no-edit origin/release/1.4\n./build.sh\n"


def _rebase_conflict(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    return _BOT + "git checkout -q release/1.4\ngit rebase origin/main\n"


def _corrupt(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    stage.quiet(
        "f=$(ls .git/objects/pack/*.pack); chmod u+w $f; rm README.md tariff.yaml build.sh;"
        " for at in $(seq 100 40 $(($(stat -c %s $f) - 60))); do printf 'XXXX' | dd of=$f bs=1 seek=$at conv=notrunc status=none; done"
    )
    return "git remote -v\ngit reset --hard\n./build.sh\n"


def _loose_object(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    with_identity(
        stage,
        "echo 'more' >> README.md; git commit -qam more; p=$(git rev-parse HEAD); f=.git/objects/${p:0:2}/${p:2}; chmod u+w $f; : > $f",
    )
    return "git fetch origin\ngit checkout -f main\n"


def _bad_index(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    stage.write(".git/index", b"DIRC\x00\x00\x00\x02\x00\x00\x00\x09broken")
    return "git remote -v\ngit checkout -f main\n"


def _tag_conflict(stage: Stage) -> str:
    url = serve_git(stage)
    checkout(stage, url)
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && git tag -f v1.4.0 >/dev/null && git push -qf origin v1.4.0",
    )
    return "git fetch --tags origin\n./build.sh\n"


def _branch_folder(stage: Stage) -> str:
    url = serve_git(stage)
    checkout(stage, url)
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && git push -q origin :release/1.4 && git push -q origin main:release",
    )
    return "git fetch origin\n"


def _identity(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    stage.env |= {"EMAIL": ""}
    return "git config user.useConfigOnly true\nsed -i s/14.00/14.50/ tariff.yaml\ngit commit -am 'Raise the tariff'\n"


def _identity_merge(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    stage.quiet("git config --global user.name '' && git config --global user.email ''")
    return "git checkout -q release/1.4\ngit merge --no-ff v1.4.0^0 origin/main\n"


def _not_fast_forward(stage: Stage) -> str:
    url = serve_git(stage)
    checkout(stage, url)
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && echo x >> README.md && git commit -qam 'Note' && git push -q",
    )
    return (
        _BOT
        + "./build.sh\necho 1.5.1 > VERSION\ngit add VERSION\ngit commit -m 'Version 1.5.1'\ngit push origin main\n"
    )


def _behind_unfetched(stage: Stage) -> str:
    checkout(stage, serve_git(stage))
    return _BOT + "git reset -q --hard HEAD~1\ngit commit --allow-empty -m 'Rebuild'\ngit push origin HEAD:main\n"


def _hook(stage: Stage) -> str:
    top = origin(stage)
    hook = "#!/bin/sh\necho 'BW-12: protected branch, changes come by merge request only.' >&2\nexit 1\n"
    stage.world.write("/srv/git/fares.git/hooks/pre-receive", hook, mode=0o755)
    checkout(stage, serve_git(stage, top=top))
    return _BOT + "git commit --allow-empty -m 'Release 1.5.0'\ngit push origin HEAD:main\n"


def _tag_exists(stage: Stage) -> str:
    url = serve_git(stage)
    checkout(stage, url)
    return _BOT + "./build.sh\ngit tag -f v1.4.0\ngit push origin v1.4.0\n"


def _push_auth(stage: Stage) -> str:
    rule = Rule(path="git-receive-pack", method="GET|POST", answer=Answer(status=401))
    checkout(stage, serve_git(stage, [rule]))
    return (
        "export GIT_TERMINAL_PROMPT=0\n"
        + _BOT
        + "git commit -q --allow-empty -m 'Release 1.5.0'\ngit push origin HEAD:main\n"
    )


def _lfs_missing(stage: Stage) -> str:
    stage.chest.system("git-lfs")
    _with_lfs(stage, serve_git(stage))
    stage.quiet(
        "git config --global filter.lfs.smudge 'git-lfs smudge -- %f' && git config --global filter.lfs.required true"
    )
    stage.quiet(
        "mkdir -p ../bin; for c in git sh bash sed ls cat; do ln -s $(command -v $c) ../bin/$c; done; ln -s /usr/lib ../lib"
    )
    stage.env["PATH"] = str(stage.project.parent / "bin")
    return "git clone $ORIGIN/fares.git .\n"


def _lfs_object(stage: Stage) -> str:
    stage.chest.system("git-lfs")
    batch = Rule(path="info/lfs/objects/batch", method="POST", answer=_lfs_answer)
    _with_lfs(stage, serve_git(stage, [batch]))
    stage.quiet("git lfs install --skip-repo >/dev/null")
    return "git lfs version\ngit clone $ORIGIN/fares.git .\n"


def _lfs_quota(stage: Stage) -> str:
    stage.chest.system("git-lfs")
    text = '{"message": "This repository is over its data quota. Purchase more or ask your administrator."}'
    answer = Answer(status=403, body=text, kind="application/vnd.git-lfs+json")
    _with_lfs(stage, serve_git(stage, [Rule(path="info/lfs", method="GET|POST", answer=answer)]))
    stage.quiet("git lfs install --skip-repo --skip-smudge >/dev/null")
    return "git clone -q $ORIGIN/fares.git .\ngit lfs pull\n"


def _with_lfs(stage: Stage, url: str) -> None:
    """Commit a large-file pointer whose content was never sent."""
    stage.env["ORIGIN"] = url
    pointer = f"version https://git-lfs.github.com/spec/v1\\noid sha256:{'4d7a' * 16}\\nsize 48213\\n"
    with_identity(
        stage,
        f"git clone -q {url}/fares.git ../edit && cd ../edit && printf '*.bin filter=lfs diff=lfs merge=lfs -text\\n' > .gitattributes"
        f" && printf '{pointer}' > chart.bin && git -c filter.lfs.clean=cat -c filter.lfs.required=false add . && git commit -qm Chart"
        " && git push -q --no-verify origin main",
    )


def _lfs_answer(request: object) -> Answer:
    oid = "4d7a" * 16
    body = f'{{"objects": [{{"oid": "{oid}", "size": 48213, "error": {{"code": 404, "message": "Object does not exist on the server"}}}}]}}'
    return Answer(body=body, kind="application/vnd.git-lfs+json")


def _no_client(stage: Stage) -> str:
    stage.quiet("mkdir -p ../bin; for c in sh bash ls cat mkdir; do ln -s $(command -v $c) ../bin/$c; done")
    stage.env["PATH"] = str(stage.project.parent / "bin")
    return f"mkdir -p src\ngit clone https://{HOST}/fares/fares.git src\n"


def _row(slug: str, prepare: object, failure: str, line: str, frame: str = "plain", **more: object) -> Scenario:
    return Scenario(tool="git", slug=slug, prepare=prepare, failure=failure, line=line, frame=frame, **more)  # type: ignore[arg-type]


SCENARIOS = (
    _row("submodule-not-found", _submodule_missing, "checkout-submodule-failed", "fatal: repository .*rates.git/' not found", "iso"),
    _row("submodule-without-url", _submodule_without_url, "checkout-submodule-failed", "fatal: No url found for submodule path|no submodule mapping found"),
    _row("submodule-commit-gone", _submodule_commit_gone, "checkout-submodule-failed", "not our ref|did not contain", "job"),
    _row("submodule-no-credential", _submodule_auth, "checkout-submodule-failed", "fatal: could not read Username", "clock"),
    _row("unsafe-ownership", _unsafe_ownership, "checkout-unsafe-ownership", "detected dubious ownership", "iso"),
    _row("index-lock", _index_lock, "checkout-lock-left-behind", "fatal: Unable to create '.*index.lock'"),
    _row("ref-lock", _ref_lock, "checkout-lock-left-behind", "Unable to create '.*1.5.lock'", "clock"),
    _row("shallow-lock", _shallow_lock, "checkout-lock-left-behind", "Unable to create '.*shallow.lock'"),
    _row("local-changes", _local_changes, "checkout-local-changes", "would be overwritten by checkout"),
    _row("untracked-files", _untracked, "checkout-local-changes", "untracked working tree files would be overwritten", "job"),
    _row("pull-over-changes", _pull_overwritten, "checkout-local-changes", "would be overwritten by merge", "clock"),
    _row("merge-conflict", _merge_conflict, "checkout-merge-conflict", "CONFLICT ", "iso"),
    _row("rebase-conflict", _rebase_conflict, "checkout-merge-conflict", "CONFLICT "),
    _row("pack-damaged", _corrupt, "checkout-corrupt-repository", "(error|fatal): "),
    _row("object-empty", _loose_object, "checkout-corrupt-repository", "error: object file .* is empty", "clock"),
    _row("index-damaged", _bad_index, "checkout-corrupt-repository", "(error|fatal): .*index", "iso"),
    _row("tag-would-clobber", _tag_conflict, "checkout-tag-conflict", "would clobber existing tag"),
    _row("branch-is-folder", _branch_folder, "checkout-tag-conflict", "error: cannot lock ref", "job"),
    _row("identity-missing", _identity, "checkout-identity-missing", r"Author identity unknown|Please tell me who you are"),
    _row("identity-missing-merge", _identity_merge, "checkout-identity-missing", "Committer identity unknown|Please tell me|empty ident", "iso"),
    _row("push-behind", _not_fast_forward, "deploy-git-push-rejected", r"! \[rejected\]"),
    _row("push-non-fast-forward", _behind_unfetched, "deploy-git-push-rejected", r"! \[rejected\]", "job"),
    _row("push-hook-declined", _hook, "deploy-git-push-rejected", "protected branch, changes come", "iso"),
    _row("push-tag-exists", _tag_exists, "deploy-git-push-rejected", r"! \[rejected\]", "clock"),
    _row("push-no-credential", _push_auth, "deploy-unauthorized", "fatal: could not read Username"),
    _row("lfs-not-installed", _lfs_missing, "checkout-large-files-failed", "git-lfs.*(not found|No such file)"),
    _row("lfs-object-missing", _lfs_object, "checkout-large-files-failed", "Object does not exist on the server", "iso"),
    _row("lfs-quota", _lfs_quota, "checkout-large-files-failed", "over its data quota", "job"),
    _row("client-missing", _no_client, "checkout-client-missing", "git: (command )?not found", "clock", version=("/usr/bin/git", "--version")),
)  # fmt: skip
