"""The built-in catalogue as one file that is updated apart from the program; LOGDOCTOR_KNOWLEDGE names it.

Two lines of JSON: the format and the second line's SHA-256, then the entries, marks and facts, checked when the file was
made. The digest tells a file that was cut or edited; it does not tell who made it.
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

from logdoctor.catalogue.problems import Problem
from logdoctor.catalogue.reading import CACHE_FORMAT, Knowledge

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["VARIABLE", "packed_apart", "read_apart"]

VARIABLE = "LOGDOCTOR_KNOWLEDGE"
FORMAT = f"logdoctor-knowledge/{CACHE_FORMAT}"
MAX_BYTES = 64 << 20
MEND = (
    f"the catalogue that came with the program is used; make {VARIABLE} name a file that .build/offline_bundle.py wrote"
)


def packed_apart(folder: Path) -> bytes:
    """A knowledge folder as such a file; raises ValueError with all problems."""
    from logdoctor.catalogue.packing import bundle

    body = json.dumps(bundle(folder), ensure_ascii=False).encode()
    head = {"format": FORMAT, "sha256": hashlib.sha256(body).hexdigest()}
    return json.dumps(head).encode() + b"\n" + body + b"\n"


def read_apart(path: Path) -> Knowledge:
    """What the file holds; where it is no use, nothing but the one problem that says why."""
    try:
        data = _checked(path)
        return Knowledge(entries=data["entries"], marks=data["marks"], facts=data["facts"])
    except OSError as error:
        problem = error.strerror or "can't be read"
    except ValueError as error:
        problem = str(error)
    return Knowledge(problems=[Problem(file=str(path), key=VARIABLE, problem=problem, mend=MEND)])


def _checked(path: Path) -> dict[str, Any]:
    if not path.is_file():
        raise ValueError("there is no such file")
    if path.stat().st_size > MAX_BYTES:
        raise ValueError("is larger than 64 MiB")
    first, _, body = path.read_bytes().partition(b"\n")
    try:
        head = json.loads(first)
        form = head["format"]
    except (ValueError, TypeError, KeyError, RecursionError):
        raise ValueError("is no knowledge file") from None
    if form != FORMAT:
        raise ValueError(f"has the format {str(form)[:40]!r}, and this version of the program reads {FORMAT!r}")
    body = body.rstrip(b"\n")
    if head.get("sha256") != hashlib.sha256(body).hexdigest():
        raise ValueError("was cut or changed after it was made")
    data: dict[str, Any] = json.loads(body)
    return data
