"""Build hook: the wheel ships the catalogue as one file of JSON lines, made from `knowledge/`."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class PackKnowledge(BuildHookInterface):  # type: ignore[type-arg]
    """Adds `logdoctor/knowledge.jsonl` to the wheel; an editable install reads the YAML instead."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Parse and validate all entries; a bad one stops the build with all problems."""
        if version == "editable":
            return
        sys.path.insert(0, self.root)
        from logdoctor.catalogue.packing import for_the_wheel

        packed = Path(tempfile.mkdtemp()) / "knowledge.jsonl"
        packed.write_bytes(for_the_wheel(Path(self.root) / "knowledge"))
        build_data["force_include"][str(packed)] = "logdoctor/knowledge.jsonl"
