"""The literals that pick lines: rare in ordinary logs, never missing where a secret stands."""

from __future__ import annotations

import random

import pytest

from logdoctor.masking import LITERALS, URL_SECRET


def ordinary_log(lines: int = 4000) -> bytes:
    """What most lines of a build log look like: downloads, compiled files, test counts, layers, requests."""
    rng = random.Random(11)
    words = [
        "fares",
        "core",
        "web",
        "report",
        "parser",
        "client",
        "server",
        "model",
        "index",
        "cache",
        "render",
        "layout",
        "chart",
        "harbour",
        "tide",
        "pilot",
    ]

    def word() -> str:
        return rng.choice(words)

    def line() -> str:
        number = rng.randint(1, 99)
        return rng.choice(
            (
                f"[INFO] Downloading from central: https://repo.public.example/maven2/org/{word()}/{word()}/{number}.0/{word()}-{number}.0.pom",
                f"[INFO] --- maven-jar-plugin:3.{number}:jar (default-jar) @ {word()}-{word()} ---",
                f"npm http fetch GET 200 https://registry.public.example/@{word()}%2f{word()} {number}ms (cache miss)",
                f"   Compiling {word()}-{word()} v0.{number}.1 (https://crates.public.example:8443/{word()})",
                f"Tests run: {number}, Failures: 0, Errors: 0, Skipped: 0, Time elapsed: 0.{number} s - in example.{word()}Test",
                f"#{number} sha256:{rng.getrandbits(256):064x} {number}.1MB / {number}.1MB done",
                f"HEAD is now at {rng.getrandbits(28):07x} Fix {word()} {word()}",
                f"{word()}/{word()}.c:{number}:12: warning: unused variable '{word()}' [-Wunused-variable]",
                f"go: downloading example.brackwater/{word()} v1.{number}.0",
                f"Get:{number} https://mirror.public.example/debian stable/main amd64 lib{word()} {number} [12 kB]",
            )
        )

    return "\n".join(line() for _ in range(lines)).encode()


def test_literals_are_rare_in_ordinary_logs() -> None:
    lines = ordinary_log().split(b"\n")
    picked = [line for line in lines if any(literal in line for literal in LITERALS)]
    assert len(picked) <= len(lines) * 0.001, picked[:3]


def test_the_url_pattern_picks_nothing_from_downloads() -> None:
    assert URL_SECRET.search(ordinary_log()) is None


@pytest.mark.parametrize("literal", LITERALS)
def test_no_literal_is_too_short_or_too_common(literal: bytes) -> None:
    assert len(literal) >= 3 or literal == b"=}"
    assert literal.lower() not in {b"key", b"://", b"http", b"user", b"auth"}


@pytest.mark.parametrize(
    "line",
    [
        "https://a:b@h.example/",
        "https://x@h.example/",
        "redis://:b@h.example",
        "https://a:p/q@h.example",
        "ssh://a:b:c@h",
    ],
)
def test_the_url_pattern_picks_user_information(line: str) -> None:
    assert URL_SECRET.search(f"see {line} for more".encode()) is not None
