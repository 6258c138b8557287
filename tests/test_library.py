"""The library: a program that imports only public names, what they promise, and what importing them costs."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

import logdoctor
from logdoctor import Catalogue, InputError, Verdict
from tests.support import ROOT

LOG = ROOT / "sample_logs" / "fares-deploy-403.log"
LEAKY = b"Login with password=Quay-Lantern-4471x and go\n[ERROR] status: 403 Forbidden\nBUILD FAILURE\n"
CANARY = "Quay-Lantern-4471x"

PROGRAM = """
from __future__ import annotations

import sys
from pathlib import Path

from logdoctor import Finding, InputError, Segment, Verdict, diagnose, load_catalogue, report


def advice(root: Finding) -> str:
    first = root.causes[0]
    return f"{first.cause.owner}: {first.cause.fix[0]} ({first.share:.0%})"


def slowest(segments: tuple[Segment, ...]) -> float:
    return max((segment.seconds or 0.0 for segment in segments), default=0.0)


def main(path: Path) -> int:
    catalogue = load_catalogue()
    try:
        verdict: Verdict = diagnose(path, answers={"open-as-that-account": False}, catalogue=catalogue)
    except InputError as error:
        print(error.mend)
        return 2
    if verdict.root is not None:
        print(verdict.root.failure.id, verdict.root.line, advice(verdict.root), slowest(verdict.segments))
    print(report(verdict, "message"))
    return 0


raise SystemExit(main(Path(sys.argv[1])))
"""


def test_a_program_of_public_names_is_well_typed_and_runs(tmp_path: Path) -> None:
    pytest.importorskip("mypy")
    program = tmp_path / "ask.py"
    program.write_text(PROGRAM)
    checked = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path / "cache"), str(program)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert checked.returncode == 0, checked.stdout
    wrong = tmp_path / "wrong.py"
    wrong.write_text("from logdoctor import diagnose\n\nnumber: int = diagnose(b'x').headline\n")
    refused = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path / "cache"), str(wrong)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Incompatible types" in refused.stdout, "the package's types are seen by its users"
    ran = subprocess.run(
        [sys.executable, str(program), str(LOG)],
        env={"PYTHONPATH": str(ROOT), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.startswith("deploy-forbidden 135 ")


def test_a_path_bytes_and_a_file_give_one_verdict() -> None:
    by_path = logdoctor.diagnose(LOG)
    by_bytes = logdoctor.diagnose(LOG.read_bytes(), name=str(LOG))
    with LOG.open("rb") as file:
        by_file = logdoctor.diagnose(file, name=str(LOG))
        assert not file.closed
    by_stream = logdoctor.diagnose(io.BytesIO(LOG.read_bytes()), name=str(LOG))
    assert by_path == by_bytes == by_file == by_stream
    assert by_path.root is not None
    assert (str(by_path.root.failure.id), by_path.root.line, by_path.outcome) == ("deploy-forbidden", 135, "failed")


def test_a_text_file_is_refused_by_its_type() -> None:
    with LOG.open(encoding="utf-8") as file, pytest.raises(TypeError, match="binary mode"):
        logdoctor.diagnose(file)  # type: ignore[arg-type]  # what is refused


def test_what_can_t_be_read_tells_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(InputError) as told:
        logdoctor.diagnose(tmp_path / "no.log")
    assert told.value.mend
    assert "\n" not in str(told.value)
    with pytest.raises(InputError):
        logdoctor.diagnose(LOG, settings=tmp_path / "no-settings.xml")


def test_an_empty_log_is_unknown() -> None:
    empty = logdoctor.diagnose(b"")
    assert (empty.outcome, empty.root, empty.source.lines) == ("unknown", None, 0)


def test_no_text_of_a_verdict_shows_a_secret() -> None:
    verdict = logdoctor.diagnose(LEAKY)
    assert [secret.line for secret in verdict.exposed_secrets] == [1]
    assert CANARY not in repr(verdict)
    for form in logdoctor.FORMATS:
        assert CANARY not in logdoctor.report(verdict, form)


def test_the_report_is_what_the_command_prints(tmp_path: Path) -> None:
    command = [
        sys.executable,
        "-m",
        "logdoctor",
        "diagnose",
        "--no-history",
        "--no-teams",
        "--format",
        "json",
        str(LOG),
    ]
    printed = subprocess.run(command, cwd=ROOT, env={"HOME": str(tmp_path)}, capture_output=True, check=True)
    assert json.loads(logdoctor.report(logdoctor.diagnose(LOG), "json")) == json.loads(printed.stdout)
    with pytest.raises(ValueError, match="markdown"):
        logdoctor.report(logdoctor.diagnose(LOG), "telegram")


def test_answers_and_set_up_files_move_the_shares(tmp_path: Path) -> None:
    plain = logdoctor.diagnose(LOG)
    assert plain.root is not None
    asked = plain.root.next_checks[0].check.id
    answered = logdoctor.diagnose(LOG, answers={asked: True})
    useless = logdoctor.diagnose(LOG, answers={"no-such-check": True})
    assert answered.root is not None
    assert [c.share for c in plain.root.causes] != [c.share for c in answered.root.causes]
    assert any("no-such-check" in notice for notice in useless.notices)
    settings = tmp_path / "settings.xml"
    settings.write_text("<settings/>\n")
    build = tmp_path / "pom.xml"
    build.write_text("<project><modelVersion>4.0.0</modelVersion></project>\n")
    witnessed = logdoctor.diagnose(LOG, settings=settings, build_files=[build])
    assert witnessed.root is not None
    assert set(witnessed.root.facts) > set(plain.root.facts)


def test_a_command_s_exit_status_decides_where_the_log_is_silent() -> None:
    assert logdoctor.diagnose(b"all quiet\n").outcome == "unknown"
    assert logdoctor.diagnose(b"all quiet\n", exit_status=3).outcome == "failed"


def test_the_catalogue_takes_the_project_s_entries_only_when_named(tmp_path: Path) -> None:
    (tmp_path / ".logdoctor").mkdir()
    (tmp_path / ".logdoctor" / "bad.yaml").write_text("id: [\n")
    assert logdoctor.load_catalogue().problems == ()
    named: Catalogue = logdoctor.load_catalogue(project=tmp_path)
    assert [problem.file for problem in named.problems] == ["bad.yaml"]
    verdict: Verdict = logdoctor.diagnose(LOG, catalogue=named)
    assert verdict.root is not None


def test_every_public_name_is_there_and_documented() -> None:
    assert set(logdoctor.__all__) <= set(dir(logdoctor))
    for name in logdoctor.__all__:
        made = getattr(logdoctor, name)
        if isinstance(made, type) or callable(made):
            assert (made.__doc__ or "").strip(), name
            assert not (made.__doc__ or "").startswith(f"{name}("), f"{name}: a docstring of its own"
    assert (Path(logdoctor.__file__).parent / "py.typed").is_file()
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = logdoctor.no_such_name  # type: ignore[attr-defined]  # what is refused


def test_importing_the_package_loads_none_of_its_rooms() -> None:
    code = (
        "import sys, logdoctor; print([m for m in sys.modules if m.startswith('logdoctor.') or m in ('yaml', 'regex')])"
    )
    printed = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert printed.stdout.strip() == "[]"
