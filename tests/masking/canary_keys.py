"""Private keys of many lines, as logs print them: with prefixes, in quotations, cut off, between lines of other lanes."""

from __future__ import annotations

import random
from collections.abc import Callable

from tests.masking.canary_kinds import base64_text, drawn

__all__ = ["KEY_LABELS", "KEY_PLACES", "key_leak", "key_lines"]

# RFC 7468 for the first, RFC 5958, RFC 9580 and the secure shell's own format (memory) for the others.
KEY_LABELS = (
    "PRIVATE KEY",
    "ENCRYPTED PRIVATE KEY",
    "RSA PRIVATE KEY",
    "EC PRIVATE KEY",
    "DSA PRIVATE KEY",
    "OPENSSH PRIVATE KEY",
    "PGP PRIVATE KEY BLOCK",
)
OTHER = ("Tests run: 12, Failures: 0", "> Task :fares:compileJava", "Downloaded 3 of 7 files", "PASS src/tide.test.ts")
_WIDTHS = {"PRIVATE KEY": 64, "OPENSSH PRIVATE KEY": 70, "PGP PRIVATE KEY BLOCK": 64}


def key_lines(rng: random.Random, label: str) -> tuple[list[str], list[str]]:
    """The lines of a made-up key, and the lines of its body alone; the last one is shorter."""
    size = rng.randint(400, 1700)
    body = base64_text(rng.randbytes(size))
    width = _WIDTHS.get(label, 64)
    lines = [body[place : place + width] for place in range(0, len(body), width)]
    head = ["Proc-Type: 4,ENCRYPTED", "DEK-Info: AES-128-CBC," + drawn(rng, "0123456789ABCDEF", 32), ""]
    head = head if label == "RSA PRIVATE KEY" and rng.random() < 0.5 else []
    tail = ["=" + drawn(rng, "ABCDEFabcdef0123", 4)] if "PGP" in label else []
    return [f"-----BEGIN {label}-----", *head, *lines, *tail, f"-----END {label}-----"], lines


def _prefixed(prefix: str) -> Callable[[list[str], random.Random], list[str]]:
    return lambda lines, rng: [prefix + line for line in lines]


def _stamped(lines: list[str], rng: random.Random) -> list[str]:
    return [
        f"2026-03-02T10:11:{12 + place % 40:02d}.{rng.randint(0, 999):03d}Z {line}" for place, line in enumerate(lines)
    ]


def _laned(lines: list[str], rng: random.Random) -> list[str]:
    mixed: list[str] = []
    for line in lines:
        mixed += [f"[test] {rng.choice(OTHER)}"] * rng.randint(0, 2)
        mixed.append(f"[deploy] {line}")
    return mixed


def _coloured(lines: list[str], rng: random.Random) -> list[str]:
    return [f"\x1b[32m{line[:5]}\x1b[1m{line[5:]}\x1b[0m" for line in lines]


def _beheaded(lines: list[str], rng: random.Random) -> list[str]:
    """The log begins within the key: the first lines are cut off."""
    return lines[rng.randint(1, max(1, len(lines) - 3)) :]


KEY_PLACES: dict[str, Callable[[list[str], random.Random], list[str]]] = {
    "plain": _prefixed(""),
    "in a YAML block": lambda lines, rng: ["deploy_key: |", *("  " + line for line in lines), "next: 1"],
    "deep in a YAML block": _prefixed("            "),
    "time stamps": _stamped,
    "image build": _prefixed("#12 0.345 "),
    "lane": _prefixed("[deploy] "),
    "stamps and lane": lambda lines, rng: [f"[deploy] {line}" for line in _stamped(lines, rng)],
    "between other lanes": _laned,
    "level word": _prefixed("[INFO] "),
    "in a diff": _prefixed("+"),
    "quoted in mail style": _prefixed("> "),
    "colours": _coloured,
    "carriage returns": lambda lines, rng: [line + "\r" for line in lines],
    "JSON": lambda lines, rng: ['{"private_key": "' + "\\n".join(lines) + '\\n"}'],
    "JSON in JSON": lambda lines, rng: ['{"body": "{\\"private_key\\": \\"' + "\\\\n".join(lines) + '\\\\n\\"}"}'],
    "environment": lambda lines, rng: [f"SIGNING_KEY={lines[0]}", *lines[1:]],
    "shell here-document": lambda lines, rng: ["+ cat > key.pem <<EOF", *lines, "EOF"],
    "strings of a program": lambda lines, rng: [f'    "{line}\\n" +' for line in lines],
    "blank lines between": lambda lines, rng: [one for line in lines for one in (line, "")],
    "one line, blanks between": lambda lines, rng: [" ".join(lines)],
    "base64 of the whole": lambda lines, rng: ["SIGNING_KEY=" + base64_text("\n".join(lines))],
    "head cut off": _beheaded,
    "end cut off": lambda lines, rng: lines[:-1],
}


def key_leak(body: list[str], text: str) -> str | None:
    """A piece of eight characters of the key's body that stands in the text."""
    whole = "".join(body)
    return next((whole[place : place + 8] for place in range(len(whole) - 7) if whole[place : place + 8] in text), None)
