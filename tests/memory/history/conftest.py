from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from logdoctor.memory.history import Place, place_of

ACCOUNT = "postgres"


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The address of a PostgreSQL server of our own, reached through a socket in its folder."""
    if importlib.util.find_spec("psycopg") is None:
        pytest.skip("the package psycopg is not installed")
    binaries = [*sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True), shutil.which("initdb")]
    folder = next((Path(b) if Path(b).is_dir() else Path(b).parent for b in binaries if b), None)
    if folder is None or not (folder / "initdb").exists():
        pytest.skip("no PostgreSQL server is installed (Debian package postgresql)")
    account = ACCOUNT if os.geteuid() == 0 else None  # the server refuses to run as root
    with tempfile.TemporaryDirectory(prefix="ld-pg-") as name:
        if account:
            shutil.chown(name, account)
        data = f"{name}/data"

        def call(*command: str) -> None:
            subprocess.run(command, check=True, capture_output=True, user=account, cwd=name, timeout=60)

        call(str(folder / "initdb"), "-D", data, "-A", "trust", "-U", "ferry", "-N", "-E", "UTF8")
        settings = f"-k {name} -c listen_addresses= -c fsync=off -c max_connections=80"
        call(str(folder / "pg_ctl"), "-D", data, "-w", "-l", f"{name}/log", "-o", settings, "start")
        try:
            yield f"postgresql://ferry@/postgres?host={name}"
        finally:
            call(str(folder / "pg_ctl"), "-D", data, "-m", "immediate", "stop")


@pytest.fixture(params=["sqlite", "postgres"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Place:
    """An empty history, once in a file and once on the server."""
    environ = {"XDG_DATA_HOME": str(tmp_path)}
    if request.param == "sqlite":
        found = place_of(str(tmp_path / "history.db"), environ)
    else:
        address = request.getfixturevalue("server")
        import psycopg

        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute("DROP TABLE IF EXISTS logdoctor_about, logdoctor_runs, logdoctor_remarks")
        found = place_of(address, environ)
    assert found is not None
    return found


@pytest.fixture
def file_place(tmp_path: Path) -> Place:
    """An empty history in a file."""
    found = place_of(str(tmp_path / "history.db"), {})
    assert found is not None
    return found
