"""The gate for a run of lines: it remembers an open private-key block, a name without its value, and every value already seen.

A value that was found once is masked wherever it turns up later, also URL-encoded, JSON- or XML-escaped, or in base64.
"""

from __future__ import annotations

from logdoctor.masking.blocks import KIND, LONGEST_BLOCK, STRAY, opens, rest_of_block
from logdoctor.masking.finder import find_secrets
from logdoctor.masking.model import MASK, Secret
from logdoctor.masking.pairs import OpenName, find_pairs

__all__ = ["Masker", "replace_spans"]

SHORTEST = 8
"""Shorter values are masked where they are found but not looked for elsewhere: they would hit ordinary words."""
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
        self._open_name: OpenName | None = None
        """A telling name on a line before, whose value may stand on this one."""

    def mask(self, text: str) -> str:
        """The text with every secret's value replaced."""
        secrets = self._remember(text)
        spans = [(secret.start, secret.end) for secret in secrets]
        spans += self._block_spans(text)
        spans += self._seen_spans(text)
        return replace_spans(text, spans)

    def learn(self, text: str) -> None:
        """Look at a line that is not written, so that its secrets are known later."""
        self._remember(text)
        self._block_spans(text)

    def _remember(self, text: str) -> list[Secret]:
        """The secrets of a text, all of which are known from now on."""
        paired, self._open_name = find_pairs(text, self._open_name)
        secrets = [*find_secrets(text), *paired]
        for secret in secrets:
            value = text[secret.start : secret.end]
            if secret.kind in (KIND, STRAY):
                continue
            if SHORTEST <= len(value) <= 4096 and value.lower() not in _EVERYDAY:
                for form in _forms(value):
                    self._add(form)
        return secrets

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
