"""Colours: contrast of every pair in use, and a style sheet that grows with the text."""

from __future__ import annotations

import colorsys
import re
from dataclasses import fields

import pytest

from app.model.theme import DARK, LIGHT, PAIRS, WORDS, Theme, contrast, luminance, style_sheet

BOTH = pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda t: t.name)


def test_contrast_formula_agrees_with_published_figures() -> None:
    """W3C WCAG 2.1: black on white is 21:1. Grey #767676 on white is 4.54:1, #777777 is 4.48:1 (W3C technique G18
    discussions; from memory): the one passes 4.5:1, the other does not."""
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


@BOTH
@pytest.mark.parametrize("pair", PAIRS, ids=lambda p: f"{p[0]} on {p[1]}")
def test_every_pair_has_its_contrast(theme: Theme, pair: tuple[str, str, float]) -> None:
    fore, back, least = pair
    assert contrast(getattr(theme, fore), getattr(theme, back)) >= least


def test_words_of_every_kind_are_among_the_pairs() -> None:
    words = {fore for fore, _, least in PAIRS if least >= WORDS}
    assert {"ink", "muted", "suspect_text", "warning_text"} <= words


def test_light_is_as_designed() -> None:
    assert (LIGHT.paper, LIGHT.ink, LIGHT.suspect, LIGHT.warning) == ("#F4F6F1", "#1B2830", "#B24F00", "#8C6A00")


def test_dark_is_warm_grey_and_its_suspect_as_plain_as_in_light() -> None:
    assert 0.015 < luminance(DARK.paper) < 0.06
    red, green, blue = (int(DARK.paper[i : i + 2], 16) for i in (1, 3, 5))
    assert red > green > blue
    assert contrast(DARK.suspect, DARK.paper) == pytest.approx(contrast(LIGHT.suspect, LIGHT.paper), abs=0.3)
    assert contrast(DARK.ink, DARK.paper) < contrast(LIGHT.ink, LIGHT.paper)


@BOTH
def test_suspect_and_warning_keep_their_hues(theme: Theme) -> None:
    def hue(colour: str) -> float:
        return colorsys.rgb_to_hsv(*(int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)))[0] * 360

    assert hue(theme.suspect) == pytest.approx(26, abs=4)
    assert hue(theme.warning) == pytest.approx(44, abs=4)


@BOTH
def test_all_colours_are_written_alike(theme: Theme) -> None:
    for entry in fields(theme):
        if entry.name != "name":
            assert re.fullmatch(r"#[0-9A-F]{6}", getattr(theme, entry.name)), entry.name


@BOTH
@pytest.mark.parametrize("scale", [1.0, 1.6, 2.0])
def test_text_is_never_below_fifteen_pixels(theme: Theme, scale: float) -> None:
    sheet = style_sheet(theme, scale)
    sizes = [int(s) for s in re.findall(r"font-size: (\d+)px", sheet)]
    assert sizes
    assert min(sizes) >= round(15 * scale)


def test_sheet_has_one_ink_filled_class_and_square_corners() -> None:
    sheet = style_sheet(LIGHT, 1.0)
    assert 'QPushButton[role="decision"]' in sheet
    assert ":focus" in sheet
    assert set(re.findall(r"border-radius: (\S+?);", sheet)) == {"0"}


def test_scale_is_held_to_its_range() -> None:
    assert style_sheet(LIGHT, 0.2) == style_sheet(LIGHT, 1.0)
    assert style_sheet(LIGHT, 9.0) == style_sheet(LIGHT, 2.0)
