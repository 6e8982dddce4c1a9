"""The shape of the demo's banks: whole, evenly keyed, as large as a printed bank."""

import csv
import json
import re
from collections import Counter
from pathlib import Path

import pytest

from banks.importers.common import Hints
from banks.importers.json_reader import parse
from domain.questions import normal_text

SAMPLES = Path(__file__).parents[2] / "sample_banks"
QUESTIONS = [
    json.loads(line)
    for path in sorted((SAMPLES / "observer").glob("*.jsonl"))
    for line in path.read_text(encoding="utf-8").splitlines()
]

SUBJECTS = sorted({question["subject"] for question in QUESTIONS})


STANDARD = re.compile(
    r"\b(WMO|ITU|ITU-R|ICAO|BIPM|CGPM|ISO|IHO|NGA|IANA)\b.*(\d|Atlas|Dictionary|Regulations|Brochure)"
)


def key_texts(question: dict) -> list[str]:
    if "options" in question:
        return [question["options"]["abcdefgh".index(letter)] for letter in question["key"]]
    return [question["key"]] if isinstance(question["key"], str) else question["key"]


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
    keyed = Counter(key_texts(q)[0] for q in QUESTIONS if q["kind"] == "true-false")
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
        assert all(key_texts(question))
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
        assert held == key_texts(row)


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
