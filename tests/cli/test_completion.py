"""`logdoctor completion`: scripts that the shells take, and words that bash completes with them."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from logdoctor.cli import main
from logdoctor.cli.completion import SHELLS, every_parser, parser_of
from logdoctor.cli.main import COMMANDS
from tests.support import ROOT

Printed = pytest.CaptureFixture[str]


def script(shell: str, capsys: Printed) -> str:
    assert main(["completion", shell]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    return printed.out


@pytest.mark.parametrize("shell", SHELLS)
def test_the_shell_takes_the_script(shell: str, capsys: Printed, tmp_path: Path) -> None:
    text = script(shell, capsys)
    for command in COMMANDS:
        assert command in text
    if shutil.which(shell) is None:
        pytest.skip(f"no {shell} on this machine")
    path = tmp_path / "script"
    path.write_text(text)
    checked = subprocess.run([shell, "-n", str(path)], capture_output=True, text=True, check=False)
    assert (checked.returncode, checked.stderr) == (0, "")


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash on this machine")
@pytest.mark.parametrize(
    ("words", "found", "absent"),
    [
        (["logdoctor", "dia"], {"diagnose"}, {"draft"}),
        (["logdoctor", "d"], {"diagnose", "draft"}, {"run"}),
        (["logdoctor", "diagnose", "--sett"], {"--settings"}, {"--strict"}),
        (["logdoctor", "diagnose", "--format", "mark"], {"markdown"}, {"json"}),
        (["logdoctor", "run", "--report"], {"--report-dir"}, {"--redact"}),
        (["logdoctor", "run", "--red"], {"--redact"}, {"--report-dir"}),
        (["logdoctor", "catalogue", "--v"], {"--vet"}, {"--coverage"}),
        (["logdoctor", "diagnose", "--settings", "ci-"], {"ci-settings.xml"}, {"--settings"}),
    ],
)
def test_bash_completes(words: list[str], found: set[str], absent: set[str], capsys: Printed, tmp_path: Path) -> None:
    (tmp_path / "completion").write_text(script("bash", capsys))
    (tmp_path / "ci-settings.xml").touch()
    asking = """
        source "$1"; shift
        function_name=$(complete -p logdoctor | sed 's/.*-F \\([^ ]*\\).*/\\1/')
        COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMP_LINE="$*"; COMP_POINT=${#COMP_LINE}
        "$function_name" logdoctor "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD - 1]}"
        printf '%s\\n' "${COMPREPLY[@]}"
    """
    command = ["bash", "--norc", "-c", asking, "ask", "completion", *words]
    answered = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=True)
    offered = {word.strip() for word in answered.stdout.splitlines()}
    assert found <= offered, answered
    assert not absent & offered


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_with_an_example(command: str, capsys: Printed) -> None:
    assert main([command, "--help"]) == 0
    told = capsys.readouterr().out
    assert "example" in told
    assert f"  logdoctor {command}" in told or f"| logdoctor {command}" in told or f"; logdoctor {command}" in told
    assert parser_of(command).prog == f"logdoctor {command}"


def test_the_list_of_commands_keeps_its_columns(capsys: Printed) -> None:
    assert main(["--help"]) == 0
    listed = [line for line in capsys.readouterr().out.splitlines() if line.split()[:1] and line.split()[0] in COMMANDS]
    assert [line.split()[0] for line in listed] == list(COMMANDS)
    assert len({len(line) - len(line[2:].split(None, 1)[1]) for line in listed}) == 1
    assert all(len(line) < 120 for line in listed)


def test_help_loads_no_command_and_no_completion_library() -> None:
    code = "import sys; from logdoctor.cli import main; main(['--help']); print(sorted(sys.modules), file=sys.stderr)"
    loaded = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stderr
    for module in ("shtab", "regex", "textual", "logdoctor.cli.completion", "logdoctor.diagnosis", "logdoctor.reports"):
        assert f"'{module}'" not in loaded


def test_an_unknown_shell_is_refused_with_the_known_ones(capsys: Printed) -> None:
    assert main(["completion", "tide"]) == 2
    assert "bash" in capsys.readouterr().err


def test_the_whole_parser_names_every_command() -> None:
    assert set(COMMANDS) <= set(every_parser().format_help().split())
