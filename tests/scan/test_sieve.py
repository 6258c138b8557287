"""The sieve says of all rules at once what each says of itself."""

from __future__ import annotations

from logdoctor.intake import clean, open_log
from logdoctor.scan import RuleBook, scan
from logdoctor.scan.rulebook import Candidates
from logdoctor.scan.scanner import PARTS_OF_A_LINE, PIECES_BEFORE_SIEVE
from tests.support import ROOT, catalogue, diagnoser, verdict_of

EVERY = 7


def lines() -> list[str]:
    logs = sorted((ROOT / "tests" / "fixtures").rglob("*.log"))[::EVERY]
    return [line for log in logs for line in log.read_text(encoding="utf-8", errors="replace").splitlines()[:200]]


def test_it_keeps_exactly_the_rules_that_may_match() -> None:
    book = RuleBook(catalogue().rules())
    tried = 0
    for line in lines():
        picked = book.candidates(line.encode())
        text = clean(line).text[:4000]
        alone = [rule.key for rule in picked.rules if rule.may_match(text)]
        for _ in range(2):  # the second answer is the one that was kept
            together = [rule.key for rule in book.sieve.may_match(text, picked.literals, picked.rules)]
            assert together == alone, line
        tried += len(picked.rules)
    assert tried > 10_000


def test_a_log_of_many_picked_lines_has_the_verdict_of_a_short_one() -> None:
    noise = b"WARNING: Retrying (Retry(total=4)) after connection broken by 'NewConnectionError': /simple/fares/\n"
    end = (ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes()
    short, long = verdict_of(noise + end), verdict_of(noise * (PIECES_BEFORE_SIEVE + 50) + end)
    assert short.root is not None
    assert long.root is not None
    assert (short.root.failure.id, short.outcome) == (long.root.failure.id, long.outcome)
    assert long.root.line - short.root.line == PIECES_BEFORE_SIEVE + 49
    assert "sieve" in vars(diagnoser().book)


def test_of_an_endless_line_only_so_many_parts_are_looked_at() -> None:
    words = b"Could not transfer artifact " * 400
    line = b"[ERROR] " + words * (PARTS_OF_A_LINE + 200) + b"\n"
    end = (ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes()
    counted: list[int] = []

    class Counting(RuleBook):
        def candidates(self, piece: bytes) -> Candidates:
            counted.append(len(piece))
            return super().candidates(piece)

    with open_log(line + end) as log:
        found = scan(log, Counting(catalogue().rules()))
    assert sum(size > 4096 for size in counted) <= PARTS_OF_A_LINE
    assert any(hit.line > 1 for hits in found.hits.values() for hit in hits.kept())
