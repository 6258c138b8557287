"""Options of the labs."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--refresh-fixtures", action="store_true", help="rewrite the fixtures of the lab runs that went as planned"
    )


@pytest.fixture
def refresh_fixtures(request: pytest.FixtureRequest) -> bool:
    """Whether fixtures are to be rewritten; false where the option was not registered (a run from further up)."""
    return bool(request.config.getoption("--refresh-fixtures", default=False))
