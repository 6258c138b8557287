"""A history of verdicts and of what fixed them: kept in one SQLite file, or for a team in a PostgreSQL database.

`History` is what a diagnosis uses: it never raises and never holds it up for more than `LIMIT` seconds in all. `Ledger`
is what the `history` command uses: it may wait, and says what is wrong.
"""

from __future__ import annotations

from logdoctor.memory.history.errors import HistoryError
from logdoctor.memory.history.keeping import LIMIT, History, Recalled
from logdoctor.memory.history.ledger import Ledger
from logdoctor.memory.history.model import Job, Remark, Run, Seen
from logdoctor.memory.history.place import Place, place_of

__all__ = [
    "LIMIT",
    "History",
    "HistoryError",
    "Job",
    "Ledger",
    "Place",
    "Recalled",
    "Remark",
    "Run",
    "Seen",
    "place_of",
]
