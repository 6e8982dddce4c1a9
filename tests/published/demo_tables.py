"""Tables from the public standards that the demo's bank is checked against.

Typed from memory of the standards, not taken from the bank; each table names its source. Where a
general library holds the same facts, `test_demo_facts.py` compares the table with it.
"""

import math

# ITU-R M.1677-1, International Morse code, part I, section 1.1.
MORSE = {
    "A": ".-", "B": "-...", "C": "-.-.", "D": "-..", "E": ".", "F": "..-.", "G": "--.",
    "H": "....", "I": "..", "J": ".---", "K": "-.-", "L": ".-..", "M": "--", "N": "-.",
    "O": "---", "P": ".--.", "Q": "--.-", "R": ".-.", "S": "...", "T": "-", "U": "..-",
    "V": "...-", "W": ".--", "X": "-..-", "Y": "-.--", "Z": "--..",
    "1": ".----", "2": "..---", "3": "...--", "4": "....-", "5": ".....",
    "6": "-....", "7": "--...", "8": "---..", "9": "----.", "0": "-----",
}  # fmt: skip
MORSE_SIGNS = {
    "Full stop": ".-.-.-", "Comma": "--..--", "Colon": "---...", "Question mark": "..--..",
    "Apostrophe": ".----.", "Hyphen": "-....-", "Fraction bar": "-..-.",
    "Left-hand bracket": "-.--.", "Right-hand bracket": "-.--.-", "Inverted commas": ".-..-.",
    "Double hyphen": "-...-", "Understood": "...-.", "Error": "........", "Cross": ".-.-.",
    "Invitation to transmit": "-.-", "Wait": ".-...", "End of work": "...-.-",
    "Starting signal": "-.-.-", "Commercial at": ".--.-.",
}  # fmt: skip

# ITU Radio Regulations, Appendix 14; ICAO Annex 10, Volume II, figure 5-1.
_WORDS = (
    "Alfa Bravo Charlie Delta Echo Foxtrot Golf Hotel India Juliett Kilo Lima Mike November "
    "Oscar Papa Quebec Romeo Sierra Tango Uniform Victor Whiskey X-ray Yankee Zulu"
)
SPELLING = {word[0]: word for word in _WORDS.split()}

# ITU Radio Regulations, Appendix 14, figure code.
FIGURE_WORDS = {
    "0": "NADAZERO", "1": "UNAONE", "2": "BISSOTWO", "3": "TERRATHREE", "4": "KARTEFOUR",
    "5": "PANTAFIVE", "6": "SOXISIX", "7": "SETTESEVEN", "8": "OKTOEIGHT", "9": "NOVENINE",
    ".": "DECIMAL",
}  # fmt: skip

# ICAO Annex 10, Volume II, 5.2.1.4.3.1, pronunciation of numbers.
SPOKEN = {
    "0": "ZE-RO", "1": "WUN", "2": "TOO", "3": "TREE", "4": "FOW-er", "5": "FIFE", "6": "SIX",
    "7": "SEV-en", "8": "AIT", "9": "NIN-er", ".": "DAY-SEE-MAL",
}  # fmt: skip

# WMO-No. 306, Manual on Codes, Volume I.1: name, upper bound in knots, upper bound in m/s.
BEAUFORT = [
    ("Calm", 0, 0.2), ("Light air", 3, 1.5), ("Light breeze", 6, 3.3), ("Gentle breeze", 10, 5.4),
    ("Moderate breeze", 16, 7.9), ("Fresh breeze", 21, 10.7), ("Strong breeze", 27, 13.8),
    ("Near gale", 33, 17.1), ("Gale", 40, 20.7), ("Strong gale", 47, 24.4), ("Storm", 55, 28.4),
    ("Violent storm", 63, 32.6), ("Hurricane", 999, 999.9),
]  # fmt: skip
BEAUFORT_LAND = {
    "smoke drifts, vanes still": 1,
    "wind extends light flag": 3,
    "raises dust and loose paper": 4,
    "small trees in leaf begin to sway": 5,
    "umbrellas used with difficulty": 6,
    "whole trees in motion": 7,
    "breaks twigs off trees": 8,
    "slight structural damage": 9,
}
BEAUFORT_SEA = {
    "like a mirror": 0,
    "fairly frequent white horses": 4,
    "many white horses": 5,
    "foam begins to be blown in streaks": 7,
    "crests topple, tumble and roll over": 9,
    "surface takes a white appearance": 10,
}

# WMO International Cloud Atlas (2017): abbreviation, and the level of table 2.2.
CLOUDS = {
    "Cirrus": ("Ci", "High"), "Cirrocumulus": ("Cc", "High"), "Cirrostratus": ("Cs", "High"),
    "Altocumulus": ("Ac", "Middle"), "Altostratus": ("As", "Middle"),
    "Nimbostratus": ("Ns", "Middle"), "Stratocumulus": ("Sc", "Low"), "Stratus": ("St", "Low"),
    "Cumulus": ("Cu", "Low"), "Cumulonimbus": ("Cb", "Low"),
}  # fmt: skip
CLOUD_SPECIES = {
    "hooked": "uncinus",
    "lens-shaped": "lenticularis",
    "turreted": "castellanus",
    "bald": "calvus",
    "rolled": "volutus",
}

# BIPM SI Brochure, 9th edition (updated 2022), table 7; table 4 for the derived units.
PREFIXES = {
    "quetta": ("Q", 30), "ronna": ("R", 27), "yotta": ("Y", 24), "zetta": ("Z", 21),
    "exa": ("E", 18), "peta": ("P", 15), "tera": ("T", 12), "giga": ("G", 9), "mega": ("M", 6),
    "kilo": ("k", 3), "hecto": ("h", 2), "deca": ("da", 1), "deci": ("d", -1),
    "centi": ("c", -2), "milli": ("m", -3), "micro": ("μ", -6), "nano": ("n", -9),
    "pico": ("p", -12), "femto": ("f", -15), "atto": ("a", -18), "zepto": ("z", -21),
    "yocto": ("y", -24), "ronto": ("r", -27), "quecto": ("q", -30),
}  # fmt: skip
DERIVED = {"Pa": "1 N/m²", "N": "1 kg m s⁻²", "J": "1 kg m² s⁻²"}

# ISO 8601: week dates as collected for aweek's and NumPy's tests, ordinal dates (1981-095 is the
# standard's own example).
ISO_WEEKS = {
    "2008-12-29": "2009-W01-1",
    "2010-01-03": "2009-W53-7",
    "2005-01-01": "2004-W53-6",
}
ORDINALS = {"2027-03-01": "2027-060", "2028-12-31": "2028-366", "1981-04-05": "1981-095"}

# IANA Time Zone Database: standard offsets.
OFFSETS = {"Asia/Kolkata": "+05:30", "Asia/Kathmandu": "+05:45", "America/St_Johns": "−03:30"}

# IHO S-32, compass rose: the sixteen points by name.
_POINTS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW"
COMPASS = {name: 22.5 * at for at, name in enumerate(_POINTS.split())}


def isa(height: float) -> tuple[float, float]:
    """Temperature (K) and pressure (hPa) at a geopotential height up to 20 km.

    ICAO Doc 7488: T₀ 288.15 K, p₀ 1013.25 hPa, −6.5 K/km up to 11 km, R 287.05287 J/(K kg).
    """
    gravity, gas, lapse = 9.80665, 287.05287, -0.0065
    low = min(height, 11_000)
    temperature = 288.15 + lapse * low
    pressure = 1013.25 * (temperature / 288.15) ** (-gravity / (gas * lapse))
    return temperature, pressure * math.exp(-gravity * (height - low) / (gas * temperature))
