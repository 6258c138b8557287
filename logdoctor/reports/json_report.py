"""The verdict as JSON: one object, or one object a line."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from logdoctor.reports.plain import Gate, plain_verdict

if TYPE_CHECKING:
    from logdoctor.model import Verdict

__all__ = ["error_line", "json_line", "json_object"]


def json_object(verdict: Verdict) -> str:
    """One indented object."""
    return json.dumps(plain_verdict(verdict), indent=2, ensure_ascii=False)


def json_line(verdict: Verdict) -> str:
    """One object on one line."""
    return json.dumps(plain_verdict(verdict), ensure_ascii=False)


def error_line(name: str, problem: str) -> str:
    """The line that stands for an input that can't be read."""
    gate = Gate()
    return json.dumps({"source": {"name": gate.text(name)}, "error": gate.text(problem)}, ensure_ascii=False)
