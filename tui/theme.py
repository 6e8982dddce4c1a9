"""The looks: two themes of our own, computed from hue, chroma and lightness, and how one is chosen.

Colours are chosen in OKLCH, where equal steps look equally large: B. Ottosson, "A perceptual color
space for image processing" (2020). What each role has to keep (contrast, order, difference under
colour-vision deficiencies, 16 colours) is checked in `tests/tui/test_theme.py`.
"""

import os
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

from textual.theme import Theme

if TYPE_CHECKING:
    from textual.app import App

Shade = tuple[float, float, float]
"""Lightness 0 to 1, chroma, hue in degrees."""

# Neutrals lean towards paper (85). The hues of verdicts and accent lie where they stay apart
# under every deficiency; the tiers share one hue and rise in contrast.
LAMP: dict[str, Shade] = {
    "background": (0.165, 0.006, 85),
    "surface": (0.205, 0.008, 85),
    "panel": (0.250, 0.010, 85),
    "selected": (0.300, 0.030, 270),
    "rule": (0.457, 0.012, 85),
    "muted": (0.690, 0.014, 85),
    "foreground": (0.926, 0.018, 85),
    "accent": (0.765, 0.105, 272),
    "mark": (0.620, 0.105, 272),
    "right": (0.815, 0.095, 185),
    "unsure": (0.865, 0.125, 103),
    "wrong": (0.715, 0.160, 33),
    "clear": (0.690, 0.030, 66),
    "hard": (0.745, 0.075, 66),
    "harder": (0.815, 0.110, 66),
    "hardest": (0.900, 0.069, 66),
}
DAYLIGHT: dict[str, Shade] = {
    "background": (0.985, 0.006, 85),
    "surface": (0.960, 0.009, 85),
    "panel": (0.925, 0.012, 85),
    "selected": (0.900, 0.030, 285),
    "rule": (0.694, 0.012, 85),
    "muted": (0.475, 0.014, 85),
    "foreground": (0.232, 0.018, 85),
    "accent": (0.420, 0.130, 290),
    "mark": (0.560, 0.110, 285),
    "right": (0.465, 0.070, 185),
    "unsure": (0.490, 0.085, 85),
    "wrong": (0.400, 0.138, 33),
    "clear": (0.485, 0.030, 42),
    "hard": (0.445, 0.085, 42),
    "harder": (0.392, 0.105, 42),
    "hardest": (0.315, 0.088, 42),
}


def hex_of(shade: Shade) -> str:
    """The shade as "#rrggbb"; what sRGB can't show is cut off. Matrices as in the source above."""
    lightness, chroma, hue = shade
    a, b = chroma * cos(radians(hue)), chroma * sin(radians(hue))
    long = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3
    middle = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (lightness - 0.0894841775 * a - 1.2914855480 * b) ** 3
    linear = (
        4.0767416621 * long - 3.3077115913 * middle + 0.2309699292 * short,
        -1.2684380046 * long + 2.6097574011 * middle - 0.3413193965 * short,
        -0.0041960863 * long - 0.7034186147 * middle + 1.7076147010 * short,
    )
    return "#" + "".join(f"{round(255 * _encoded(part)):02x}" for part in linear)


def _encoded(linear: float) -> float:
    """sRGB's transfer function (IEC 61966-2-1)."""
    part = min(max(linear, 0.0), 1.0)
    return 12.92 * part if part <= 0.0031308 else 1.055 * part ** (1 / 2.4) - 0.055


def _theme(name: str, shades: dict[str, Shade], *, dark: bool) -> Theme:
    """Textual's names for the roles, and our own as variables: $muted, $selected, $hardest …"""
    own = {role: hex_of(shade) for role, shade in shades.items()}
    text = {
        "text": own["foreground"],
        "text-muted": own["muted"],
        "text-accent": own["accent"],
        "text-primary": own["accent"],
        "text-success": own["right"],
        "text-warning": own["unsure"],
        "text-error": own["wrong"],
    }
    return Theme(
        name=name,
        dark=dark,
        primary=own["mark"],
        secondary=own["muted"],
        accent=own["accent"],
        success=own["right"],
        warning=own["unsure"],
        error=own["wrong"],
        foreground=own["foreground"],
        background=own["background"],
        surface=own["surface"],
        panel=own["panel"],
        variables=own | text,
    )


DARK = _theme("lamp", LAMP, dark=True)
LIGHT = _theme("daylight", DAYLIGHT, dark=False)
NAMES = {"lamp": "dark", "daylight": "light"}


def register(app: "App[Any]") -> None:
    """Make both themes known and start in the one that the terminal's hints ask for."""
    app.register_theme(DARK)
    app.register_theme(LIGHT)
    app.theme = _hinted()


def apply(app: "App[Any]", name: str) -> None:
    """Use the theme that was set, or go on with the hinted one."""
    if name in NAMES and app.theme != name:
        app.theme = name


def _hinted() -> str:
    """COLORFGBG ("15;0") is how a terminal tells its colours; a light ground is 7 or 15."""
    ground = os.environ.get("COLORFGBG", "").rpartition(";")[2]
    return LIGHT.name if ground in ("7", "15") else DARK.name
