"""Puts the finders together: all secrets of a text, sorted, none overlapping."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from logdoctor.masking.blocks import find_blocks, find_stray_bodies
from logdoctor.masking.commands import find_in_commands
from logdoctor.masking.headers import find_in_headers
from logdoctor.masking.model import Secret
from logdoctor.masking.named import find_named
from logdoctor.masking.pairs import find_in_pairs
from logdoctor.masking.tokens import find_tokens
from logdoctor.masking.urls import find_in_urls

__all__ = ["also_find", "find_secrets"]

Finder = Callable[[str], Iterator[Secret]]
_OWN: list[Finder] = []


def also_find(finder: Finder | None) -> None:
    """Have a further finder asked about every text, for secrets of an organisation's own kinds; None takes it back."""
    _OWN[:] = [finder] if finder else []


def find_secrets(text: str) -> list[Secret]:
    """All secrets in a line, or in a text of several lines; sorted and not overlapping."""
    if len(text) < 5 and not _OWN:
        return []
    ordered = sorted(_candidates(text), key=lambda secret: secret.start)
    merged: list[Secret] = []
    for secret in ordered:
        if secret.end <= secret.start:
            continue
        last = merged[-1] if merged else None
        if last is None or secret.start >= last.end:
            merged.append(secret)
        elif secret.end > last.end:
            merged[-1] = Secret(last.start, secret.end, last.kind)
    return merged


def _candidates(text: str) -> Iterator[Secret]:
    """The sort above is stable: of finders that agree on a start, the one named first here gives the kind."""
    lowered = text.lower()
    for find in _OWN:
        yield from find(text)
    if "PRIVATE KEY" in text:
        yield from find_blocks(text)
    yield from find_tokens(text)
    yield from find_in_urls(text, lowered)
    yield from find_in_headers(text, lowered)
    yield from find_in_commands(text, lowered)
    yield from find_named(text, lowered)
    yield from find_in_pairs(text)
    if len(text) >= 8:
        yield from find_stray_bodies(text)
