"""The demo's bank against the standards that its questions name.

A question that rests on a table carries a tag `fact:TABLE:ENTRY`; its key must say what the
table, typed from the standard in `demo_tables.py`, says for that entry.
"""

import math
import re
from datetime import date

import pytest
from scipy import constants

from tests.banks.test_sample_banks import QUESTIONS, key_texts
from tests.published.demo_tables import (
    BEAUFORT,
    BEAUFORT_LAND,
    BEAUFORT_SEA,
    CLOUD_SPECIES,
    CLOUDS,
    COMPASS,
    DERIVED,
    FIGURE_WORDS,
    ISO_WEEKS,
    MORSE,
    MORSE_SIGNS,
    OFFSETS,
    ORDINALS,
    PREFIXES,
    SPELLING,
    SPOKEN,
    isa,
)

FACTS = [
    pytest.param(question, *tag.split(":", 2)[1:], id=tag)
    for question in QUESTIONS
    for tag in question.get("tags", ())
    if tag.startswith("fact:")
]
SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def _mark(text: str) -> str:
    return text.replace(",", "").replace(" ", "-")


def _flipped(table: dict[str, str]) -> dict[str, str]:
    return {value: name for name, value in table.items()}


def _power(exponent: int) -> str:
    return "10" + str(exponent).translate(SUPERSCRIPT)


def _minus(value: float) -> str:
    return f"{value:g}".replace("-", "−")


def _force_at(speed: float, column: int) -> str:
    return str(next(force for force, row in enumerate(BEAUFORT) if speed <= row[column]))


def _knots(force: int) -> str:
    return f"{BEAUFORT[force - 1][1] + 1}–{BEAUFORT[force][1]} kn"


def _metres(force: int) -> str:
    return f"{BEAUFORT[force - 1][2] + 0.1:.1f}–{BEAUFORT[force][2]} m/s"


def _height_of(pressure: float) -> str:
    height = min(range(20_000), key=lambda metres: abs(isa(metres)[1] - pressure))
    return f"{height:,} m".replace(",", " ")


def _figures(words: str) -> str:
    table = _flipped(FIGURE_WORDS)
    return "".join(table[word] for word in words.split("-"))


_SIGNALS = _flipped(MORSE) | {
    code: name for name, code in MORSE_SIGNS.items() if code not in MORSE.values()
}
_BY_SIGN = MORSE | {name.lower().replace(" ", "-"): code for name, code in MORSE_SIGNS.items()}
_FORCE_OF = {_mark(name): str(force) for force, (name, *_) in enumerate(BEAUFORT)}
_SI_UNIT = {"hectare": constants.hectare, "nautical_mile": constants.nautical_mile,
            "day": constants.day}  # fmt: skip

EXPECTED = {
    "morse": _BY_SIGN.__getitem__,
    "morse-letter": _SIGNALS.__getitem__,
    "morse-word": lambda codes: "".join(_SIGNALS[code] for code in codes.split("/")),
    "morse-sent": lambda text: " ".join(MORSE[sign] for sign in text),
    "spelling": SPELLING.__getitem__,
    "spelling-letter": _flipped(SPELLING).__getitem__,
    "spelling-word": lambda words: "".join(_flipped(SPELLING)[w] for w in words.split("-")),
    "spelled": lambda text: " ".join(SPELLING[letter] for letter in text),
    "figure-word": FIGURE_WORDS.__getitem__,
    "figure-word-value": _flipped(FIGURE_WORDS).__getitem__,
    "figure-words": _figures,
    "number-spoken": SPOKEN.__getitem__,
    "number-figure": _flipped(SPOKEN).__getitem__,
    "frequency-spoken": lambda text: " ".join(SPOKEN[sign] for sign in text),
    "beaufort-name": lambda force: BEAUFORT[int(force)][0],
    "beaufort-number": _FORCE_OF.__getitem__,
    "beaufort-knots": lambda force: _knots(int(force)),
    "beaufort-ms": lambda force: _metres(int(force)),
    "beaufort-force-at": lambda knots: _force_at(float(knots), 1),
    "beaufort-force-at-ms": lambda metres: _force_at(float(metres), 2),
    "beaufort-land": {_mark(sign): str(force) for sign, force in BEAUFORT_LAND.items()}.get,
    "beaufort-sea": {_mark(sign): str(force) for sign, force in BEAUFORT_SEA.items()}.get,
    "kn-in-kmh": lambda knots: f"{float(knots) * constants.knot / constants.kmh:.1f}",
    "kn-in-ms": lambda knots: f"{float(knots) * constants.knot:.1f}",
    "cloud-abbr": lambda genus: CLOUDS[genus][0],
    "cloud-genus": {abbreviation: genus for genus, (abbreviation, _) in CLOUDS.items()}.get,
    "cloud-level": lambda genus: CLOUDS[genus][1],
    "cloud-species": CLOUD_SPECIES.__getitem__,
    "si-symbol": lambda name: PREFIXES[name][0],
    "si-power": lambda name: _power(PREFIXES[name][1]),
    "si-prefix": {_power(exponent): name for name, (_, exponent) in PREFIXES.items()}.get,
    "si-derived": DERIVED.__getitem__,
    "si-name": {"J/s": "watt"}.get,
    "si-unit": {"Hz": "hertz"}.get,
    "celsius-in-kelvin": lambda degrees: f"{float(degrees) + constants.zero_Celsius:g}",
    "unit-in-si": lambda name: f"{_SI_UNIT[name]:.0f}",
    "iso-week": ISO_WEEKS.__getitem__,
    "ordinal": ORDINALS.__getitem__,
    "ordinal-date": {ordinal: day for day, ordinal in ORDINALS.items()}.get,
    "offset": OFFSETS.__getitem__,
    "compass": lambda point: f"{COMPASS[point]:g}",
    "compass-point": {f"{degrees:g}": point for point, degrees in COMPASS.items()}.get,
    "utm-zone": lambda longitude: str(int((float(longitude) + 180) // 6) + 1),
    "isa-celsius": lambda metres: _minus(round(isa(float(metres))[0] - 273.15, 1)),
    "isa-pressure": lambda metres: f"{isa(float(metres))[1]:.2f}",
    "isa-pressure-hpa": lambda metres: f"{isa(float(metres))[1]:.0f} hPa",
    "isa-height": lambda pressure: _height_of(float(pressure)),
}


@pytest.mark.parametrize(("question", "table", "entry"), FACTS)
def test_the_key_says_what_the_standard_says(question, table, entry):
    bare = [re.sub(r"( ?°C|°)$", "", text) for text in key_texts(question)]
    assert EXPECTED[table](entry) in bare


def test_every_table_is_asked_about_and_enough_questions_rest_on_one():
    asked = {fact.values[1] for fact in FACTS}
    assert asked == set(EXPECTED)
    assert len(FACTS) >= 110


def test_the_prefix_table_agrees_with_a_reference_library():
    for name, (_, exponent) in PREFIXES.items():
        value = getattr(constants, "deka" if name == "deca" else name)
        assert value == pytest.approx(10.0**exponent), name


def test_the_week_and_ordinal_tables_agree_with_the_standard_library():
    for day, week in ISO_WEEKS.items():
        year, number, weekday = date.fromisoformat(day).isocalendar()
        assert week == f"{year}-W{number:02}-{weekday}"
    for day, ordinal in ORDINALS.items():
        assert ordinal == date.fromisoformat(day).strftime("%Y-%j")


def test_the_beaufort_bounds_follow_the_formula_behind_them():
    """v = 0.836 B^(3/2) m/s (International Meteorological Committee, 1946), cut to a decimal."""
    for force, (name, _, bound) in enumerate(BEAUFORT[:-1]):
        assert bound == math.floor(8.36 * (force + 0.5) ** 1.5) / 10, name


def test_no_two_signals_of_the_morse_table_are_alike():
    assert len(set(MORSE.values())) == 36


def test_the_isa_formula_gives_the_manual_s_tropopause():
    """ICAO Doc 7488: 216.65 K and 226.32 hPa at 11 km, 54.749 hPa at 20 km."""
    temperature, pressure = isa(11_000)
    assert temperature == pytest.approx(216.65)
    assert pressure == pytest.approx(226.32, abs=0.005)
    assert isa(20_000)[1] == pytest.approx(54.749, abs=0.0005)
