"""Contrast by the formula of WCAG 2.1 (relative luminance, contrast ratio)."""

from __future__ import annotations

import pytest
from textual.color import Color
from textual.theme import Theme

from logdoctor.terminal.themes import THEMES


def luminance(color: str) -> float:
    parts = [value / 255 for value in Color.parse(color).rgb]
    red, green, blue = (p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_published_extremes() -> None:
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_every_ink_can_be_read_on_every_paper(theme: Theme) -> None:
    least = 7.0 if "contrast" in theme.name else 4.5
    inks = (theme.foreground, theme.primary, theme.accent, theme.success, theme.warning, theme.error)
    for ink in inks:
        for paper in (theme.background, theme.panel):
            assert ink is not None
            assert paper is not None
            assert contrast(ink, paper) >= least, (theme.name, ink, paper)


def test_the_monochrome_look_has_no_hue() -> None:
    theme = next(t for t in THEMES if t.name == "monochrome")
    for color in (theme.foreground, theme.background, theme.panel, theme.accent, theme.error):
        assert color is not None
        assert len(set(Color.parse(color).rgb)) == 1
