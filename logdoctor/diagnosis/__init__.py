"""Hits to segments, outcome, findings with roles, facts, causes and the verdict."""

from __future__ import annotations

from logdoctor.diagnosis.reranking import rerank
from logdoctor.diagnosis.verdict import Diagnoser

__all__ = ["Diagnoser", "rerank"]
