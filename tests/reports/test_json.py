from __future__ import annotations

import json
from functools import cache
from importlib.resources import files

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logdoctor.reports.json_report import json_line, json_object
from tests.support import ROOT, verdict_of


@cache
def validator() -> jsonschema.Draft202012Validator:
    schema = json.loads(files("logdoctor.reports").joinpath("verdict.schema.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


SAMPLES = sorted((ROOT / "sample_logs").glob("*.log")) + sorted((ROOT / "tests" / "fixtures").rglob("*.log"))[::6]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_every_verdict_keeps_the_contract(path: object) -> None:
    verdict = verdict_of(path.read_bytes())  # type: ignore[attr-defined]
    assert list(validator().iter_errors(json.loads(json_object(verdict)))) == []


@given(st.binary(max_size=400))
@settings(max_examples=200, deadline=None)
def test_any_text_keeps_the_contract(data: bytes) -> None:
    text = (
        b"an ordinary line of a build log\n" * 100
        + data.replace(b"\0", b"")
        + b"\nfatal: Authentication failed for 'https://git.brackwater.example/"
        + data.replace(b"\0", b"").replace(b"\n", b"")
        + b"'\n"
    )
    verdict = verdict_of(text)
    assert list(validator().iter_errors(json.loads(json_line(verdict)))) == []


def test_line_form_and_object_form_say_the_same() -> None:
    verdict = verdict_of("fatal: Authentication failed for 'https://git.brackwater.example/x.git'\n")
    assert "\n" not in json_line(verdict)
    assert json.loads(json_line(verdict)) == json.loads(json_object(verdict))
