"""The tables of a history, in the SQL that SQLite and PostgreSQL share, and the steps from one version to the next."""

from __future__ import annotations

__all__ = ["ABOUT", "ASK_VERSION", "REMARK_COLUMNS", "RUN_COLUMNS", "SET_VERSION", "STEPS", "VERSION"]

ABOUT = "logdoctor_about"

RUN_COLUMNS = (
    "id",
    "at",
    "outcome",
    "fingerprint",
    "failure",
    "title",
    "phase",
    "tool",
    "wording",
    "evidence",
    "host",
    "job",
    "run",
    "branch",
    "revision",
    "agent",
)
REMARK_COLUMNS = ("id", "run_id", "at", "kind", "failure", "cause", "who", "note")

# Each step leads from the version before it. A step that was published is never changed: a new one is added.
STEPS: tuple[tuple[str, ...], ...] = (
    (
        f"CREATE TABLE {ABOUT} (name TEXT PRIMARY KEY, value TEXT NOT NULL)",
        (
            "CREATE TABLE logdoctor_runs (id TEXT PRIMARY KEY, at DOUBLE PRECISION NOT NULL, outcome TEXT NOT NULL,"
            " fingerprint TEXT NOT NULL, failure TEXT, phase TEXT, tool TEXT, wording TEXT, evidence TEXT, host TEXT,"
            " job TEXT, run TEXT, branch TEXT, revision TEXT, agent TEXT)"
        ),
        (
            "CREATE TABLE logdoctor_remarks (id TEXT PRIMARY KEY, run_id TEXT NOT NULL, at DOUBLE PRECISION NOT NULL,"
            " kind TEXT NOT NULL, failure TEXT, cause TEXT, who TEXT, note TEXT)"
        ),
    ),
    (
        "ALTER TABLE logdoctor_runs ADD COLUMN title TEXT",
        "CREATE INDEX logdoctor_runs_fingerprint ON logdoctor_runs (fingerprint, at)",
        "CREATE INDEX logdoctor_runs_at ON logdoctor_runs (at)",
        "CREATE INDEX logdoctor_remarks_run ON logdoctor_remarks (run_id, at)",
        "CREATE INDEX logdoctor_remarks_failure ON logdoctor_remarks (failure)",
    ),
)
VERSION = len(STEPS)
ASK_VERSION = f"SELECT value FROM {ABOUT} WHERE name = 'schema'"  # noqa: S608 - a constant
SET_VERSION = (
    f"DELETE FROM {ABOUT} WHERE name = 'schema'",  # noqa: S608 - a constant
    f"INSERT INTO {ABOUT} (name, value) VALUES ('schema', '{VERSION}')",  # noqa: S608 - a constant
)
