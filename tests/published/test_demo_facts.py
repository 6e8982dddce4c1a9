"""The demo's bank against the standards that its questions name.

A question that rests on a table carries a tag `fact:TABLE:ENTRY`; its key must say what the
table, typed from the standard in `demo_tables.py`, says for that entry.
"""

import csv
import json
import math
import re
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from scipy import constants

from banks.importers.common import Hints
from banks.importers.jsonfile import parse
from domain.questions import normal_text
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

SAMPLES = Path(__file__).parents[2] / "sample_banks"
QUESTIONS = [
    json.loads(line)
    for path in sorted((SAMPLES / "observer").glob("*.jsonl"))
    for line in path.read_text(encoding="utf-8").splitlines()
]
FACTS = [
    pytest.param(question, *tag.split(":", 2)[1:], id=tag)
    for question in QUESTIONS
    for tag in question.get("tags", ())
    if tag.startswith("fact:")
]
SUBJECTS = sorted({question["subject"] for question in QUESTIONS})
SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
STANDARD = re.compile(
    r"\b(WMO|ITU|ITU-R|ICAO|BIPM|CGPM|ISO|IHO|NGA|IANA)\b.*(\d|Atlas|Dictionary|Regulations|Brochure)"
)


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


def _key_texts(question: dict) -> list[str]:
    if "options" in question:
        return [question["options"]["abcdefgh".index(letter)] for letter in question["key"]]
    return [question["key"]] if isinstance(question["key"], str) else question["key"]


@pytest.mark.parametrize(("question", "table", "entry"), FACTS)
def test_the_key_says_what_the_standard_says(question, table, entry):
    bare = [re.sub(r"( ?°C|°)$", "", text) for text in _key_texts(question)]
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


# the shape of the bank


def test_there_are_eight_subjects_or_more_with_forty_questions_or_more():
    sizes = Counter(question["subject"] for question in QUESTIONS)
    assert len(sizes) >= 8
    assert min(sizes.values()) >= 40


@pytest.mark.parametrize("subject", SUBJECTS)
def test_a_subject_has_three_to_six_chapters_numbered_without_a_gap(subject):
    mine = [question for question in QUESTIONS if question["subject"] == subject]
    chapters = list(dict.fromkeys(question["chapter"] for question in mine))
    assert 3 <= len(chapters) <= 6
    assert [chapter.split()[0] for chapter in chapters] == [
        str(n) for n in range(1, len(chapters) + 1)
    ]
    for chapter in chapters:
        numbers = [question["number"] for question in mine if question["chapter"] == chapter]
        assert numbers == list(range(1, len(numbers) + 1))


@pytest.mark.parametrize("subject", SUBJECTS)
def test_no_key_letter_of_a_subject_is_favoured(subject):
    letters = Counter(
        question["key"][0]
        for question in QUESTIONS
        if question["subject"] == subject and question["kind"] == "best"
    )
    assert set(letters) == set("abcd")
    assert max(letters.values()) <= 0.3 * letters.total() + 1


def test_true_and_false_are_keyed_about_evenly():
    keyed = Counter(_key_texts(q)[0] for q in QUESTIONS if q["kind"] == "true-false")
    assert set(keyed) == {"True", "False"}
    assert max(keyed.values()) <= 0.65 * keyed.total()


@pytest.mark.parametrize(
    "question", QUESTIONS, ids=lambda q: f"{q['subject']}/{q['chapter']}/{q['number']}"
)
def test_a_question_is_whole(question):
    assert question["stem"].strip()
    assert question["explanation"].strip()
    assert STANDARD.search(question["reference"]), question["reference"]
    options = question.get("options", [])
    if question["kind"] in ("text", "numeric"):
        assert not options
        assert all(_key_texts(question))
        return
    assert 2 <= len(options) <= 8
    assert len({normal_text(option) for option in options}) == len(options)
    assert set(question["key"]) <= set("abcdefgh"[: len(options)])
    assert len(question["key"]) == 1 or question["kind"] == "multiple"
    if question["kind"] == "multiple":
        assert 2 <= len(question["key"]) < len(options)


@pytest.mark.parametrize("name", sorted(path.name for path in (SAMPLES / "observer").iterdir()))
def test_the_importer_reads_the_bank_as_it_is_written(name):
    data = (SAMPLES / "observer" / name).read_bytes()
    parsed = parse(data, Hints(name=name))
    assert parsed.skipped == []
    rows = [json.loads(line) for line in data.splitlines()]
    for row, draft in zip(rows, parsed.drafts, strict=True):
        assert (draft.stem, draft.kind, draft.number) == (row["stem"], row["kind"], row["number"])
        assert [option.text for option in draft.options] == row.get("options", [])
        held = [draft.options[at].text if isinstance(at, int) else at for at in draft.key]
        assert held == _key_texts(row)


def test_no_stem_leans_on_another_question():
    """Questions are drilled in any order."""
    for question in QUESTIONS:
        assert not re.match(r"(And|But|Then|Or)\b", question["stem"]), question["stem"]


def test_every_kind_of_question_is_there_and_single_best_is_the_rule():
    kinds = Counter(question["kind"] for question in QUESTIONS)
    assert set(kinds) == {"best", "multiple", "true-false", "text", "numeric"}
    assert kinds["best"] > kinds.total() / 2


def test_the_printed_outline_is_as_large_as_the_trade_says():
    """About 21 subjects of about 525 questions in about 9 chapters: common practice, no source."""
    with (SAMPLES / "observers-printed-outline.csv").open(encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    assert header == ["subject", "chapter", "questions", "weight"]
    subjects = Counter()
    chapters = Counter()
    for subject, chapter, count, _ in rows:
        subjects[subject] += int(count)
        chapters[subject] += 1
        assert 20 <= int(count) <= 120, chapter
    assert len(subjects) == 21
    assert 10_500 <= subjects.total() <= 11_500
    assert all(7 <= count <= 11 for count in chapters.values())
