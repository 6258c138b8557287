"""The gate for a run of lines: it remembers an open private-key block, a name without its value, and every value already seen.

A value that was found once is masked wherever it turns up later, also URL-encoded, JSON- or XML-escaped, or in base64.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from logdoctor.masking.blocks import KIND, LONGEST_BLOCK, STRAY, closes, last_of_body, opens, rest_of_block
from logdoctor.masking.escapes import has_hidden, shown_parts
from logdoctor.masking.finder import find_secrets
from logdoctor.masking.model import MASK, Secret
from logdoctor.masking.pairs import Waiting, find_pairs

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["Masker", "replace_spans"]

SHORTEST = 8
"""Shorter values are masked where they are found but not looked for elsewhere: they would hit ordinary words."""
MOST_BETWEEN = 4
"""Lines of other lanes that may stand between the last lines of a key block."""
LONGEST_KEY_LINE = 400
MOST_VALUES = 2000
"""Values remembered; the oldest go first, so that a log full of signed addresses stays within bounds."""

# Passwords that are also everyday words of build logs: masked where they are a password, left alone elsewhere.
_EVERYDAY = frozenset(
    [
        "password",
        "passwort",
        "changeit",
        "changeme",
        "postgres",
        "postgresql",
        "username",
        "rabbitmq",
        "elastic",
        "minioadmin",
        "jenkins",
        "testcontainers",
        "localhost",
        "production",
        "staging",
        "development",
        "database",
        "secret-key",
        "integration",
    ]
)

_ENTITIES = (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;"), ("'", "&#39;"))


class Masker:
    """Masks lines in order; one for each log."""

    def __init__(self) -> None:
        self._forms: dict[str, None] = {}
        self._by_head: dict[str, list[str]] = {}
        self._gap: int | None = None
        """Foreign lines since the last line of an open private-key block; None: no block is open."""
        self._block_lines = 0
        self._open_name: Waiting = None
        """A telling name on a line before, whose value may stand on this one."""
        self._in_body = 0
        """Lines in which the rest of a key block may stand whose BEGIN line was not seen."""
        self._last: deque[str] = deque(maxlen=MOST_BETWEEN)

    def mask(self, text: str) -> str:
        """The text with every secret's value replaced."""
        if not has_hidden(text):
            return replace_spans(text, self._spans(text))
        # A secret may be cut in two by a colour code, and one may stand inside a code.
        shown, places = shown_parts(text)
        spans = [(places[start], places[end - 1] + 1) for start, end in self._spans(shown) if end > start]
        spans += [(secret.start, secret.end) for secret in find_secrets(text)]
        return replace_spans(text, spans + self._seen_spans(text))

    def learn(self, text: str) -> None:
        """Look at a line that is not written, so that its secrets are known later."""
        shown = shown_parts(text)[0] if has_hidden(text) else text
        self._remember(shown)
        self._block_spans(shown)

    def learn_apart(self, texts: Iterable[str]) -> None:
        """Learn lines that don't follow each other: a block or a name that one opens does not reach into the next."""
        for text in texts:
            self.learn(text)
            self._gap, self._open_name, self._in_body = None, None, 0
            self._last.clear()

    def _spans(self, text: str) -> list[tuple[int, int]]:
        secrets = self._remember(text)
        spans = [(secret.start, secret.end) for secret in secrets]
        spans += self._block_spans(text)
        return spans + self._seen_spans(text)

    def _remember(self, text: str) -> list[Secret]:
        """The secrets of a text, all of which are known from now on."""
        paired, self._open_name = find_pairs(text, self._open_name)
        secrets = [*find_secrets(text), *paired]
        secrets += self._body_without_begin(text, secrets)
        for secret in secrets:
            value = text[secret.start : secret.end]
            if secret.kind in (KIND, STRAY):
                self._add_lines(value)
                continue
            if SHORTEST <= len(value) <= 4096 and value.lower() not in _EVERYDAY:
                for form in _forms(value):
                    self._add(form)
        return secrets

    def _body_without_begin(self, text: str, found: list[Secret]) -> list[Secret]:
        """The last and shorter line of a key block whose BEGIN line was not seen: an END line tells, or the line before."""
        if closes(text) and self._gap is None:
            for before in self._last:
                if span := last_of_body(before):
                    self._add_lines(before[slice(*span)])
        self._last.append(text)
        span = None
        if any(secret.kind == STRAY for secret in found):
            self._in_body = MOST_BETWEEN
        elif self._in_body:
            span = last_of_body(text) if self._gap is None else None
            self._in_body = 0 if span else self._in_body - 1
        return [Secret(*span, STRAY)] if span else []

    def _add_lines(self, body: str) -> None:
        """Encoded data of a key is known as it stands, line by line."""
        for line in body.split("\n"):
            for piece in line.replace("\\r", "\\n").split("\\n"):
                if SHORTEST <= len(bare := piece.strip()) <= LONGEST_KEY_LINE:
                    self._add(bare)

    def _add(self, form: str) -> None:
        if form in self._forms:
            return
        self._forms[form] = None
        self._by_head.setdefault(form[:SHORTEST], []).append(form)
        if len(self._forms) > MOST_VALUES * 8:
            oldest = next(iter(self._forms))
            del self._forms[oldest]
            same_head = self._by_head[oldest[:SHORTEST]]
            same_head.remove(oldest)
            if not same_head:
                del self._by_head[oldest[:SHORTEST]]

    def _seen_spans(self, text: str) -> list[tuple[int, int]]:
        """Places of known values: the first eight characters are looked up, so the cost doesn't grow with their number."""
        if not self._by_head:
            return []
        return [
            (place, place + len(form))
            for place in range(len(text) - SHORTEST + 1)
            for form in self._by_head.get(text[place : place + SHORTEST], ())
            if text.startswith(form, place) and _stands_alone(text, place, form)
        ]

    def _block_spans(self, text: str) -> list[tuple[int, int]]:
        spans: list[tuple[int, int]] = []
        start = 0
        if self._gap is not None:
            for line in text.splitlines(keepends=True) or [""]:
                found, self._gap = rest_of_block(line, self._gap)
                for left, right in found:
                    self._add_lines(line[left:right])
                spans += [(start + left, start + right) for left, right in found]
                start += len(line)
                self._block_lines += 1
                if self._gap is None or self._block_lines > LONGEST_BLOCK:
                    self._gap = None
                    break
        if opens(text[start:]):
            self._gap, self._block_lines = 0, 0
        return spans


def replace_spans(text: str, spans: list[tuple[int, int]]) -> str:
    """The text with each span replaced by the mask; spans that touch or overlap become one."""
    pieces: list[str] = []
    place = 0
    for start, end in sorted(spans):
        if end <= place:
            continue
        if start > place or not pieces:
            pieces += [text[place:start], MASK]
        place = end
    pieces.append(text[place:])
    return "".join(pieces)


def _forms(value: str) -> list[str]:
    """The value and the other ways in which tools print it, each at least eight characters long."""
    # Imported here since most logs hold no secret and start-up is measured.
    from urllib.parse import quote, quote_plus, unquote

    plain = {value, unquote(value), _replaced(value, back=True)}
    if "\\" in value:
        plain.add(value.replace('\\"', '"').replace("\\\\", "\\"))
    forms = set(plain)
    for one in plain:
        forms |= {quote(one, safe=sign, errors="surrogatepass") for sign in ("", "/", "!*'()", "/:@")}
        forms |= {quote_plus(one, errors="surrogatepass"), _replaced(one), _escaped(one)}
        forms |= set(_base64_cores(one.encode("utf-8", "surrogatepass")))
    return sorted(form for form in forms if len(form) >= SHORTEST)


def _replaced(value: str, *, back: bool = False) -> str:
    """The value as XML text holds it, or the value that an XML text stands for."""
    for char, name in _ENTITIES if not back else reversed(_ENTITIES):
        value = value.replace(name, char) if back else value.replace(char, name)
    return value


def _escaped(value: str) -> str:
    """The value as a JSON string holds it."""
    return value.replace("\\", "\\\\").replace('"', '\\"')


def _base64_cores(value: bytes) -> list[str]:
    """What the value looks like inside base64 text, at each of the three places where it can begin."""
    import base64

    cores: list[str] = []
    for lead in range(3):
        text = base64.b64encode(b"\0" * lead + value).decode("ascii").rstrip("=")
        # The first characters depend on what stands before, the last one on what follows.
        first = (lead * 8 + 5) // 6
        whole = len(text) if (lead + len(value)) % 3 == 0 else len(text) - 1
        core = text[first:whole]
        if len(core) >= 10:
            cores += [core, core.replace("+", "-").replace("/", "_")]
    return cores


def _stands_alone(text: str, place: int, form: str) -> bool:
    """A value of letters alone is not looked for inside longer words."""
    if not form.isalpha():
        return True
    end = place + len(form)
    return not (text[place - 1 : place].isalnum() or text[end : end + 1].isalnum())
