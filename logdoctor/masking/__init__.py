"""The one gate that all text passes on its way out: finds secrets of known kinds and masks their values.

`mask` is for a single text, `Masker` for the lines of a log in order. Nothing here raises on any text, and
every pattern is near-linear. `LITERALS` and `URL_SECRET` pick the lines worth looking at in a pass over bytes.
"""

from __future__ import annotations

from logdoctor.masking.escapes import has_hidden
from logdoctor.masking.finder import also_find, find_secrets
from logdoctor.masking.literals import LITERALS
from logdoctor.masking.masker import Masker, replace_spans
from logdoctor.masking.model import MASK, Secret
from logdoctor.masking.urls import URL_SECRET

__all__ = ["LITERALS", "MASK", "URL_SECRET", "Masker", "Secret", "also_find", "find_secrets", "looks_secret", "mask"]


def mask(text: str) -> str:
    """The text with each secret value replaced by a mask of fixed length."""
    if not has_hidden(text):
        return replace_spans(text, [(secret.start, secret.end) for secret in find_secrets(text)])
    return Masker().mask(text)


def looks_secret(line: str) -> list[str]:
    """The kinds of secrets found in the line, each once, in order."""
    return list(dict.fromkeys(secret.kind for secret in find_secrets(line)))
