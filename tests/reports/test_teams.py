from __future__ import annotations

import subprocess
from dataclasses import replace
from pathlib import Path
from shutil import which

import pytest

from logdoctor.errors import InputError
from logdoctor.model import Finding, Item, Segment, Verdict
from logdoctor.reports.codeowners import CodeOwners, find_code_owners, path_matches
from logdoctor.reports.team_file import parse_team_file
from logdoctor.reports.teams import (
    FILE,
    NO_RULES,
    OWNERS,
    TeamRules,
    find_team_rules,
    read_team_rules,
    team_for,
)
from tests.reports.evil import LOGS
from tests.support import catalogue, verdict_of

RULES = """
teams:
  platform: {channel: '#build-platform'}
  fares: {channel: '#fares', code_owners: ['@brackwater/fares']}
  harbour:
owners: {repository-admin: platform, build-owner: fares, agent-admin: platform}
modules: {fares-*: fares}
paths:
  src/**: fares
  src/web/: harbour
hosts: {'*.brackwater.example': platform}
otherwise: platform
"""


def rules(text: str = RULES) -> TeamRules:
    return parse_team_file(text.encode(), "teams.yaml")


def with_items(*files: str, phase: str = "compile") -> Verdict:
    verdict = verdict_of(LOGS["items-with-files"])
    assert verdict.root is not None
    assert verdict.root.failure.phase == phase
    items = tuple(Item(text="x", file=file, line=1) for file in files)
    return replace(verdict, root=replace(verdict.root, items=items))


def test_path_of_the_project_file_comes_first_and_its_last_match_wins() -> None:
    owners = CodeOwners.parse("* @brackwater/everyone")
    team = team_for(with_items("src/web/a.ts"), rules(), owners)
    assert team is not None
    assert (team.name, team.channel) == ("harbour", None)
    assert team.why == f"src/web/a.ts is under src/web/ ({FILE}: paths)"


def test_code_owners_tell_a_compile_failure_and_their_team_is_known() -> None:
    owners = CodeOwners.parse("# who\n* @brackwater/everyone\nlib/ @brackwater/fares", name="docs/CODEOWNERS")
    team = team_for(with_items("lib/a.c"), rules(), owners)
    assert team is not None
    assert team.says() == "fares (#fares), as lib/a.c is theirs by docs/CODEOWNERS, line 3"
    stranger = team_for(with_items("etc/a.c"), NO_RULES, owners)
    assert stranger is not None
    assert (stranger.name, stranger.channel) == ("@brackwater/everyone", None)


def test_most_files_decide() -> None:
    owners = CodeOwners.parse("a/ @one\nb/ @two")
    team = team_for(with_items("a/1.c", "b/1.c", "b/2.c", "c/1.c"), NO_RULES, owners)
    assert team is not None
    assert team.name == "@two"
    assert team.why.endswith("(2 of 4 files)")


def test_a_failing_test_is_found_by_its_class(tmp_path: Path) -> None:
    folder = tmp_path / "core/src/test/java/example/brackwater/fares"
    folder.mkdir(parents=True)
    (folder / "TariffTest.java").touch()
    verdict = verdict_of(
        "[INFO] --- maven-surefire-plugin:3.2.5:test (default-test) @ fares-core ---\n"
        "[ERROR] example.brackwater.fares.TariffTest.surcharge -- Time elapsed: 0.012 s <<< FAILURE!\n"
        "[ERROR] Tests run: 12, Failures: 1, Errors: 0, Skipped: 0\n[INFO] BUILD FAILURE\n"
    )
    assert verdict.root is not None
    team = team_for(verdict, NO_RULES, CodeOwners.parse("/core/ @brackwater/fares"), root=tmp_path)
    assert team is not None
    assert team.name == "@brackwater/fares"


def test_a_path_of_the_agent_without_a_work_tree_tells_nobody() -> None:
    assert team_for(with_items("/home/ci/work/src/a.c"), NO_RULES, CodeOwners.parse("* @one")) is None


def test_host_comes_before_the_owner_for_what_is_in_another_system() -> None:
    verdict = verdict_of(LOGS["refused"])
    assert verdict.root is not None
    root = replace(verdict.root, facts={"url": "https://REPO.brackwater.example:8443/x"})
    team = team_for(replace(verdict, root=root), rules())
    assert team is not None
    assert team.why == f"it is about repo.brackwater.example ({FILE}: hosts)"
    elsewhere = replace(verdict, root=replace(root, facts={"url": "https://brackwater.example.org/"}))
    team = team_for(elsewhere, rules(RULES.replace("repository-admin: platform", "repository-admin: harbour")))
    owners = {c.cause.owner for c in verdict.root.causes}
    assert (team is not None and "owners)" in team.why) == (verdict.root.causes[0].cause.owner in rules().owners)
    assert owners


def test_owner_says_how_sure_it_is() -> None:
    verdict = verdict_of(LOGS["refused"])
    assert verdict.root is not None
    root: Finding = replace(verdict.root, facts={})
    owner = root.causes[0].cause.owner
    mapped = TeamRules(owners={owner: "harbour"})
    for informed, word in ((True, "the first cause ("), (False, "the most usual cause is")):
        team = team_for(replace(verdict, root=replace(root, shares_informed=informed)), mapped)
        assert team is not None
        assert word in team.why
    alone = team_for(replace(verdict, root=replace(root, causes=root.causes[:1])), mapped)
    assert alone is not None
    assert alone.why == f"every cause is for {owner} ({FILE}: owners)"


def test_module_tells_when_no_file_does() -> None:
    verdict = with_items()
    assert verdict.root is not None
    root = replace(verdict.root, facts={})
    segment = Segment(
        phase="compile", lane=None, module="fares-core", start=1, end=9, lines=9, state="failed", seconds=None
    )
    team = team_for(replace(verdict, root=root, segments=(segment,)), rules())
    assert team is not None
    assert team.why == f"it struck in module fares-core ({FILE}: modules)"


def test_unknown_reason_goes_to_whoever_takes_the_rest_and_success_to_nobody() -> None:
    team = team_for(verdict_of(LOGS["unknown"]), rules())
    assert team is not None
    assert team.name == "platform"
    assert team_for(verdict_of(LOGS["unknown"]), NO_RULES) is None
    assert team_for(verdict_of(LOGS["succeeded"]), rules()) is None


def test_owners_are_those_of_the_catalogue() -> None:
    assert {cause.owner for failure in catalogue() for cause in failure.causes} <= OWNERS


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("teems: {}", "line 1: the file has the unknown key teems"),
        ("teams:\n  a: {chanel: x}", "line 2: team a has the unknown key chanel"),
        ("teams: {a: }\nowners: {boss: a}", "line 2: boss is no owner"),
        ("teams: {a: }\nhosts: {x.example: b}", "line 2: hosts: b is not among the teams"),
        ("teams: {a: }\npaths:\n  x/: a\n  x/: a", "line 4: paths has the key x/ twice"),
        ("- a\n- b", "line 1: the file is no table"),
        ("teams: {a: {channel: [x]}}", "line 1: channel is no text"),
        ("teams: {a: }\notherwise: {b: c}", "line 2: otherwise is no text"),
        ("teams: [", "line "),
        ("a: 'b", "line "),
        ("\t- x", "line "),
        ("teams: &x {a: *x}", ""),
        ("[" * 5000, ""),
        ("!!python/object/apply:os.system ['true']", "is no table"),
    ],
)
def test_what_is_wrong_is_told_in_one_line(text: str, says: str) -> None:
    with pytest.raises(InputError) as told:
        rules(text)
    assert says in str(told.value)
    assert len(str(told.value).splitlines()) == 1
    assert len(str(told.value)) < 500


@pytest.mark.parametrize("text", ["", "# nothing\n", "teams:\n", "paths: {}\n"])
def test_an_empty_file_is_no_error(text: str) -> None:
    assert team_for(verdict_of(LOGS["refused"]), rules(text)) is None


def test_plain_words_are_texts_whatever_yaml_makes_of_them() -> None:
    read = rules("teams: {yes: {channel: 12}}\nowners: {ci-admin: yes}\n")
    assert read.channels == {"yes": "12"}


def test_file_is_found_bounded_and_need_not_be_there(tmp_path: Path) -> None:
    assert find_team_rules(tmp_path) is None
    file = tmp_path / FILE
    file.parent.mkdir()
    file.write_text(RULES)
    assert find_team_rules(tmp_path) == rules()
    file.write_bytes(b"#" * 300_000)
    with pytest.raises(InputError, match="larger than 256 KiB"):
        read_team_rules(file)
    file.write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="not UTF-8"):
        read_team_rules(file)
    with pytest.raises(InputError):
        read_team_rules(tmp_path)


# The examples that code hosts publish for this file, and what they say each line owns.
PUBLISHED = """
*       @everyone
*.js    @js-owner #This is an inline comment.
*.go docs@brackwater.example
/build/logs/ @doctocat
docs/*  docs@brackwater.example
apps/ @octocat
/docs/ @doctocat
/scripts/ @doctocat @octocat
**/logs @log-owner
/apps/ @octocat
/apps/free
path\\ with\\ spaces/ @space-owner
\\#pound @pound-owner
"""


@pytest.mark.parametrize(
    ("path", "names"),
    [
        ("README", ("@everyone",)),
        ("a/b/c.js", ("@js-owner",)),
        ("x.go", ("docs@brackwater.example",)),
        ("build/logs/a.txt", ("@log-owner",)),
        ("deep/logs/a.txt", ("@log-owner",)),
        ("docs/getting-started.md", ("@doctocat",)),
        ("scripts/x/y", ("@doctocat", "@octocat")),
        ("apps/x", ("@octocat",)),
        ("apps/free/x", None),
        ("path with spaces/x", ("@space-owner",)),
        ("#pound", ("@pound-owner",)),
    ],
)
def test_published_examples(path: str, names: tuple[str, ...] | None) -> None:
    owners = CodeOwners.parse(PUBLISHED).of(path)
    assert (owners.names if owners else None) == names


def test_star_at_the_end_of_a_folder_holds_its_own_files_alone() -> None:
    owners = CodeOwners.parse("docs/* @one\nsrc/**/* @two\n")
    assert owners.of("docs/a.md") is not None
    assert owners.of("docs/build/a.md") is None
    assert owners.of("src/a/b/c") is not None


def test_what_is_no_pattern_here_is_left_out_and_counted() -> None:
    owners = CodeOwners.parse("!a @one\n*.[ch] @two\nb \\\n" + "*a" * 20 + " @x\n")
    assert owners.left_out == (1, 2, 4)


def test_sections_each_have_their_own_last_match_and_standing_owners() -> None:
    owners = CodeOwners.parse("* @all\n[Docs] @writers\n*.md\ndocs/ @docs\n^[Safety][2] @safe\n/src/\n").of("docs/a.md")
    assert owners is not None
    assert owners.names == ("@all", "@docs")
    assert owners.lines == (1, 4)


def test_file_is_looked_for_in_the_published_places(tmp_path: Path) -> None:
    assert find_code_owners(tmp_path) is None
    for place in ("docs", ".", ".host"):
        (tmp_path / place).mkdir(exist_ok=True)
        (tmp_path / place / "CODEOWNERS").write_text("* @one")
        found = find_code_owners(tmp_path)
        assert found is not None
        assert found.name == (f"{place}/CODEOWNERS" if place != "." else "CODEOWNERS")
    (tmp_path / ".host/CODEOWNERS").write_bytes(b"#" * (3 * 1024 * 1024 + 1))
    with pytest.raises(InputError, match="larger than 3 MiB"):
        find_code_owners(tmp_path)


def test_many_stars_against_a_long_path_are_given_up() -> None:
    assert path_matches("*a" * 10 + "b", "a" * 4000) is False


@pytest.mark.skipif(which("git") is None, reason="git is not installed")
@pytest.mark.parametrize(
    "pattern", ["*", "*.js", "/a", "a/", "a/b", "a/**", "**/b", "a/**/c", "/a/*.c", "b*", "x\\ y", "?"]
)
def test_patterns_match_as_git_itself_matches(pattern: str, tmp_path: Path) -> None:
    paths = [
        "a",
        "b",
        "a.js",
        "a/b",
        "a/x.js",
        "a/b/c",
        "a/q/r/c",
        "q/a/b",
        "a/z.c",
        "a/y/z.c",
        "bb/b1",
        "x y",
        "q/b/t",
    ]
    subprocess.run(["git", "init", "-q", str(tmp_path)], check=True)
    (tmp_path / ".gitignore").write_text(pattern + "\n")
    asked = subprocess.run(
        ["git", "check-ignore", "--no-index", "--stdin"],
        cwd=tmp_path,
        input="\n".join(paths),
        capture_output=True,
        text=True,
        check=False,
    )
    assert {p for p in paths if path_matches(pattern, p)} == set(asked.stdout.splitlines())
