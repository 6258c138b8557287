"""Plain data (from YAML or JSON) to catalogue objects; the data has been validated before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from logdoctor.catalogue.literals import derive_literals, needed_texts
from logdoctor.model import (
    Cause,
    Check,
    CheckFact,
    Clue,
    Example,
    Failure,
    FailureId,
    Mark,
    Near,
    Signature,
    SignatureId,
)

__all__ = ["build_failure", "build_mark", "normalized_entry", "normalized_facts", "normalized_marks"]

Data = dict[str, Any]


def normalized_entry(data: Any) -> Any:
    """Undo YAML's reading of yes and no, and fill in the literals; leaves anything malformed as it is."""
    if not isinstance(data, dict):
        return data
    entry = _worded_keys(data)
    if isinstance(entry.get("stand_in"), bool):
        entry["stand_in"] = "general" if entry["stand_in"] else "no"
    for rule in _dicts(entry.get("signatures")):
        _fill_literal(rule)
    return entry


def normalized_marks(data: Any) -> Any:
    """The same for a file of marks."""
    if isinstance(data, dict):
        data = _worded_keys(data)
        for mark in _dicts(data.get("marks")):
            _fill_literal(mark)
    return data


def build_failure(data: Mapping[str, Any]) -> Failure:
    """Build one entry from validated, normalized data."""
    return Failure(
        id=FailureId(data["id"]),
        phase=data["phase"],
        title=data["title"],
        meaning=" ".join(str(data["meaning"]).split()),
        stand_in=data.get("stand_in", "no"),
        wrapper=data.get("wrapper", False),
        explains=tuple(data.get("explains", ())),
        outcome=data.get("outcome"),
        becomes=dict(data.get("becomes", {})),
        standard=dict(data.get("standard", {})),
        references=tuple(data.get("references", ())),
        facts={f["name"]: f["line"] for f in data.get("facts", ())},
        signatures=tuple(_signature(s) for s in data["signatures"]),
        causes=tuple(_cause(c) for c in data["causes"]),
        checks=tuple(_check(c) for c in data.get("checks", ())),
        layer=data.get("layer", "built in"),
    )


def build_mark(data: Mapping[str, Any], tool: str) -> Mark:
    """Build one mark of a tool."""
    known = {
        "id",
        "does",
        "line",
        "literal",
        "phase",
        "table",
        "outcome",
        "by",
        "examples",
        "lookalikes",
        "needs",
        "table_needs",
    }
    return Mark(
        id=f"{tool}/{data['id']}",
        tool=data.get("tool", tool),
        does=data["does"],
        line=data["line"],
        literals=tuple(data["literal"]),
        phase=data.get("phase"),
        table=dict(data.get("table", {})),
        table_needs=dict(data.get("table_needs", {})),
        outcome=data.get("outcome"),
        by=data.get("by", "tool"),
        options={k: v for k, v in data.items() if k not in known},
    )


def _worded_keys(value: Any) -> Any:
    if isinstance(value, dict):
        return {
            ({True: "yes", False: "no"}.get(k, k) if isinstance(k, bool) else k): _worded_keys(v)
            for k, v in value.items()
        }
    if isinstance(value, list):
        return [_worded_keys(v) for v in value]
    return value


def _dicts(value: Any) -> list[Data]:
    return [v for v in value if isinstance(v, dict)] if isinstance(value, list) else []


def normalized_facts(data: Any) -> Any:
    """The facts with the literals of those that are looked for by a pattern."""
    lines = data.get("line") if isinstance(data, dict) else None
    if not isinstance(lines, dict):
        return data
    return {**data, "literals": {name: list(derive_literals(line)) for name, line in lines.items()}}


def _fill_literal(rule: Data) -> None:
    given = rule.get("literal")
    if isinstance(given, str):
        rule["literal"] = [given]
    elif given is None and isinstance(rule.get("line"), str):
        derived = derive_literals(rule["line"])
        if derived:
            rule["literal"] = list(derived)
    if isinstance(rule.get("line"), str):
        rule["needs"] = needed_texts(rule["line"])
    if isinstance(rule.get("table"), dict):
        rule["table_needs"] = {p: needed_texts(p) for p in rule["table"] if isinstance(p, str)}


def _signature(data: Mapping[str, Any]) -> Signature:
    return Signature(
        id=SignatureId(data["id"]),
        tool=data["tool"],
        line=data["line"],
        literals=tuple(data.get("literal", ())),
        near=tuple(Near(**near) for near in data.get("near", ())),
        prefers=tuple(data.get("prefers", ())),
        ends=data.get("ends", False),
        summary=data.get("summary", False),
        bare=data.get("bare", False),
        soft=data.get("soft", False),
        items=data.get("items", False),
        shares=tuple(data.get("shares", ())),
        examples=tuple(Example(text=e["text"], seen=e["seen"]) for e in data["examples"]),
        lookalikes=tuple(data.get("lookalikes", ())),
    )


def _cause(data: Mapping[str, Any]) -> Cause:
    return Cause(
        id=data["id"],
        says=_prose(data["says"]),
        usual=data["usual"],
        rerun=data["rerun"],
        clues=tuple(_clue(c) for c in data.get("clues", ())),
        owner=data["owner"],
        fix=tuple(_prose(step) for step in data["fix"]),
        caution=_prose(data["caution"]) if data.get("caution") else None,
        proof=_prose(data["proof"]),
    )


def _clue(data: Mapping[str, Any]) -> Clue:
    wanted = data["is"]
    matches = wanted["matches"] if isinstance(wanted, Mapping) else None
    accepts: Sequence[Any] = () if matches is not None else wanted if isinstance(wanted, list) else (wanted,)
    return Clue(
        fact=data["fact"],
        accepts=tuple(accepts),
        matches=matches,
        speaks=data["speaks"],
        group=data.get("group", data["fact"]),
        why=_prose(data.get("why", "")),
    )


def _check(data: Mapping[str, Any]) -> Check:
    return Check(
        id=data["id"],
        ask=_prose(data["ask"]),
        how=_prose(data["how"]),
        effort=data["effort"],
        yes=dict(data["yes"]),
        no=dict(data["no"]),
        fact=_check_fact(data["fact"]) if "fact" in data else None,
    )


def _check_fact(data: Mapping[str, Any]) -> CheckFact:
    wanted = data.get("is", [])
    return CheckFact(name=data["name"], accepts=tuple(wanted if isinstance(wanted, list) else [wanted]))


def _prose(text: str) -> str:
    return " ".join(text.split())
