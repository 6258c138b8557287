"""The looks: dark, light, high contrast on black and on white, and one without hues. Names say what they are for."""

from __future__ import annotations

from textual.theme import Theme

__all__ = ["DARK", "MONOCHROME", "THEMES"]

DARK = "dark"
MONOCHROME = "monochrome"


def _theme(  # noqa: PLR0913 - a look has that many parts
    name: str, *, dark: bool, ink: str, paper: str, raised: str, hues: tuple[str, str, str, str, str]
) -> Theme:
    primary, accent, success, warning, error = hues
    return Theme(
        name=name,
        dark=dark,
        foreground=ink,
        background=paper,
        surface=paper,
        panel=raised,
        primary=primary,
        secondary=primary,
        accent=accent,
        success=success,
        warning=warning,
        error=error,
        variables={"chosen-ink": paper, "chosen-paper": accent, "footer-key-foreground": accent},
    )


# Ink on paper and each hue on paper reach the contrast of 4.5 to 1 (7 to 1 in high contrast) that WCAG 2.1,
# success criteria 1.4.3 and 1.4.6, asks for; tests/terminal/test_themes.py measures it.
THEMES: tuple[Theme, ...] = (
    _theme(
        DARK,
        dark=True,
        ink="#d8dee4",
        paper="#14191f",
        raised="#222a33",
        hues=("#6cb0e0", "#7fc8d8", "#7ccf8a", "#e8c26a", "#f28b82"),
    ),
    _theme(
        "light",
        dark=False,
        ink="#1b2127",
        paper="#fbfbf8",
        raised="#e6e8e4",
        hues=("#1c5d94", "#0b6270", "#1d6b34", "#7a5200", "#a8241c"),
    ),
    _theme(
        "high contrast dark",
        dark=True,
        ink="#ffffff",
        paper="#000000",
        raised="#000000",
        hues=("#8fd0ff", "#ffff00", "#7dff7d", "#ffd75f", "#ff9a9a"),
    ),
    _theme(
        "high contrast light",
        dark=False,
        ink="#000000",
        paper="#ffffff",
        raised="#ffffff",
        hues=("#00316e", "#00316e", "#00441a", "#553300", "#7a0000"),
    ),
    _theme(
        MONOCHROME,
        dark=True,
        ink="#e0e0e0",
        paper="#101010",
        raised="#2a2a2a",
        hues=("#d0d0d0", "#ffffff", "#e0e0e0", "#e0e0e0", "#ffffff"),
    ),
)
