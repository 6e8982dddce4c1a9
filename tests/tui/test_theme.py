"""The two themes: contrast, order, difference under colour-vision deficiencies, 16 colours.

Reference for conversion, contrast and simulation: ColorAide. Contrast after WCAG 2.2 (1.4.3 text,
1.4.11 marks); deficiencies in full after Machado, Oliveira and Fernandes, "A physiologically-based
model for simulation of color vision deficiency" (2009); difference in OKLab. The smallest
differences asked for are ours: no source.
"""

from itertools import combinations, pairwise

import pytest
from coloraide import Color
from rich.color import Color as TerminalColor
from rich.color import ColorSystem

from tui.theme import DAYLIGHT, LAMP, Shade, hex_of

THEMES = pytest.mark.parametrize("shades", [LAMP, DAYLIGHT], ids=["lamp", "daylight"])
SIGHT = pytest.mark.parametrize("sight", ["usual", "protan", "deutan", "tritan"])
GROUNDS = ("background", "surface", "panel", "selected")
TIERS = ("clear", "hard", "harder", "hardest")
VERDICTS = ("right", "unsure", "wrong")
TEXT = ("muted", "foreground", "accent", *VERDICTS, *TIERS)


def seen(shade: Shade, sight: str = "usual") -> Color:
    """The colour as somebody of this sight has it."""
    color = Color(hex_of(shade))
    if sight == "usual":
        return color
    return color.filter(sight, method="machado").convert("srgb").clip()


def in_sixteen(shade: Shade) -> int | None:
    """The number of the colour that a terminal with 16 of them shows."""
    return TerminalColor.parse(hex_of(shade)).downgrade(ColorSystem.STANDARD).number


@THEMES
def test_colours_are_converted_as_the_reference_does_and_can_be_shown(shades):
    for role, shade in shades.items():
        reference = Color("oklch", list(shade))
        assert reference.in_gamut("srgb", tolerance=0.001), role
        assert hex_of(shade) == reference.convert("srgb").clip().to_string(hex=True), role


@THEMES
def test_text_stands_out_from_every_ground_and_marks_do_too(shades):
    for ground in GROUNDS:
        for role in TEXT:
            assert seen(shades[role]).contrast(seen(shades[ground])) >= 4.5, (role, ground)
        assert seen(shades["mark"]).contrast(seen(shades[ground])) >= 3, ground


@THEMES
def test_what_lies_on_the_accent_can_be_read(shades):
    for role in ("accent", *VERDICTS):
        assert seen(shades["background"]).contrast(seen(shades[role])) >= 4.5, role


@THEMES
@SIGHT
def test_tiers_rise_in_contrast_step_by_step(shades, sight):
    ground = seen(shades["background"], sight)
    contrasts = [seen(shades[tier], sight).contrast(ground) for tier in TIERS]

    assert all(louder >= 1.15 * quieter for quieter, louder in pairwise(contrasts)), contrasts
    for quieter, louder in pairwise(TIERS):
        pair = seen(shades[quieter], sight), seen(shades[louder], sight)
        assert pair[0].delta_e(pair[1], method="ok") >= 0.05, (quieter, louder)


@THEMES
@SIGHT
def test_verdicts_and_the_accent_stay_apart(shades, sight):
    for name, other in combinations((*VERDICTS, "accent"), 2):
        pair = seen(shades[name], sight), seen(shades[other], sight)
        assert pair[0].delta_e(pair[1], method="ok") >= 0.075, (name, other)


@THEMES
def test_in_sixteen_colours_text_keeps_apart_from_its_ground(shades):
    for ground in GROUNDS:
        hidden = [role for role in TEXT if in_sixteen(shades[role]) == in_sixteen(shades[ground])]
        assert not hidden, ground


@THEMES
def test_in_sixteen_colours_right_and_wrong_are_two(shades):
    assert len({in_sixteen(shades[role]) for role in ("right", "wrong", "foreground")}) == 3
