"""Dataclasses that cost little to define; `dataclasses` for those who check types. See `logdoctor.quickly`."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dataclasses import dataclass, field, replace
else:
    from logdoctor.quickly import dataclass, field, replace

__all__ = ["dataclass", "field", "replace"]
