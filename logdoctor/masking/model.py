"""The values of the masking room: a found secret, and what stands in its place."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MASK", "Secret"]

MASK = "••••••"
"""Stands for every secret value, whatever its length, so that the length leaks nothing."""


@dataclass(frozen=True, slots=True)
class Secret:
    """Where the value of a secret stands in a text, and what it is in plain words."""

    start: int
    end: int
    kind: str
