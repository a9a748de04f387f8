"""The themes: contrast by WCAG 2.2, as seen with full and with deficient colour vision."""

from __future__ import annotations

import numpy as np
import pytest
from colorspacious import cspace_convert

from tracker.screen.paint import BRIGHTNESS, THEMES, TONES, channel, dimmed, rgb, styles

COLOURED = [t for t in THEMES.values() if t.ground]
DEFICIENCIES = ("protanomaly", "deuteranomaly", "tritanomaly")


def luminance(colour: tuple[float, ...]) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    red, green, blue = (channel(c) for c in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(ink: tuple[float, ...], ground: tuple[float, ...]) -> float:
    """Contrast ratio (WCAG 2.2, definition of contrast ratio)."""
    light, dark = sorted((luminance(ink), luminance(ground)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def seen(colour: tuple[int, ...], deficiency: str) -> tuple[float, ...]:
    """A colour as seen with a complete deficiency (Machado, Oliveira, Fernandes 2009, by colorspacious)."""
    space = {"name": "sRGB1+CVD", "cvd_type": deficiency, "severity": 100}
    simulated = cspace_convert(np.array(colour) / 255, space, "sRGB1")
    return tuple(float(c) * 255 for c in np.clip(simulated, 0, 1))


@pytest.mark.parametrize(
    ("ink", "ground", "ratio"),
    [("#000000", "#ffffff", 21.0), ("#ffffff", "#ffffff", 1.0), ("#777777", "#ffffff", 4.48)],
)
def test_contrast_is_that_of_the_standard(ink: str, ground: str, ratio: float) -> None:
    """Black on white is 21 to 1, on itself 1 (WCAG 2.2); #777777 on white is 4.48 (WebAIM's example)."""
    assert contrast(rgb(ink), rgb(ground)) == pytest.approx(ratio, abs=5e-3)


def least(theme: str) -> float:
    """The contrast that a theme promises."""
    return 7.0 if theme == "stark" else 4.5


@pytest.mark.parametrize("theme", COLOURED, ids=lambda t: t.id)
def test_every_tone_of_every_theme_is_legible(theme: object) -> None:
    """Text has at least 4.5 to 1, in the high-contrast theme 7 to 1."""
    for tone, ink in theme.tones.items():  # type: ignore[attr-defined]
        if tone != "rule":
            assert contrast(rgb(ink), rgb(theme.ground)) >= least(theme.id), tone  # type: ignore[attr-defined]


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
@pytest.mark.parametrize("theme", COLOURED, ids=lambda t: t.id)
def test_every_tone_is_legible_with_deficient_colour_vision(theme: object, deficiency: str) -> None:
    """The same contrasts hold as seen without red, green or blue cones."""
    ground = seen(rgb(theme.ground), deficiency)  # type: ignore[attr-defined]
    for tone, ink in theme.tones.items():  # type: ignore[attr-defined]
        if tone != "rule":
            assert contrast(seen(rgb(ink), deficiency), ground) >= least(theme.id), tone  # type: ignore[attr-defined]


@pytest.mark.parametrize("theme", COLOURED, ids=lambda t: t.id)
def test_lines_are_seen_as_lines(theme: object) -> None:
    """A rule is no text: 3 to 1 (WCAG 2.2, success criterion 1.4.11)."""
    assert contrast(rgb(theme.tones["rule"]), rgb(theme.ground)) >= 3.0  # type: ignore[attr-defined]


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("step", range(len(BRIGHTNESS)))
def test_every_tone_is_painted_at_every_brightness(theme: str, step: int) -> None:
    """No tone of the board is without a style."""
    assert set(styles(theme, step)) == set(TONES)


def test_brightness_steps_are_steps_of_light() -> None:
    """Half the light is half the relative luminance, to a rounded channel."""
    for ink in THEMES["lamp"].tones.values():
        assert luminance(rgb(dimmed(ink, 0.4))) == pytest.approx(0.4 * luminance(rgb(ink)), rel=0.03)


def test_the_theme_without_colour_has_none() -> None:
    """The plain theme tells the mark and the red clock by reversal, all else by words."""
    painted = styles("plain", len(BRIGHTNESS) - 1)
    assert all(style.color is None and style.bgcolor is None for style in painted.values())
    assert painted["mark"].reverse


def test_the_dark_theme_is_warm() -> None:
    """Every ink of the dark theme has less blue than red: long waves disturb dark-adapted eyes least."""
    for ink in THEMES["lamp"].tones.values():
        red, _, blue = rgb(ink)
        assert blue < red / 2
