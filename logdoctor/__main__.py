"""``python -m logdoctor``."""

from __future__ import annotations

from logdoctor.cli import main

raise SystemExit(main())
