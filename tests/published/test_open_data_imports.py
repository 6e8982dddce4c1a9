"""Published question sets import whole: counts and traps as stated with the files.

Each check runs on an excerpt of the set, and on the whole set where it is at hand.
Sources: MedMCQA (Pal et al. 2022), MMLU (Hendrycks et al. 2021), AQuA-RAT (Ling et al. 2017),
OpenBookQA (Mihaylov et al. 2018).
"""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from banks.find_duplicates import find_duplicates
from banks.importers.common import Hints, Parsed
from banks.importers.detect import parse, read_bytes
from banks.intake.reconcile import new_question, reconcile
from domain.errors import InputError
from domain.grading import grade
from domain.questions import Bank, speaks_of_others
from domain.responses import Response
from domain.verdicts import Verdict
from tests.printed.scoring import Score
from tests.printed.trial import set_trial
from tests.published.open_sets import EXCERPTS, WHOLE, each

MEDMCQA = "medmcqa_validation.jsonl"
AQUA = "aqua_test.json"
OPENBOOK = "openbookqa_test.pasted.txt"
SETS = {
    MEDMCQA: ("jsonl", 30, 4183),
    AQUA: ("jsonl", 30, 254),
    OPENBOOK: ("text", 30, 300),
    "mmlu_clinical_knowledge_test.csv": ("csv", 5, 265),
    "mmlu_college_chemistry_test.csv": ("csv", 5, 100),
    "mmlu_high_school_us_history_test.csv": ("csv", 4, 204),
    "mmlu_international_law_test.csv": ("csv", 4, 121),
    "mmlu_management_test.csv": ("csv", 4, 103),
    "mmlu_medical_genetics_test.csv": ("csv", 4, 100),
    "mmlu_sociology_test.csv": ("csv", 4, 201),
}
"""Format, rows of the excerpt, rows of the whole set as stated with it."""


def read(path: Path) -> Parsed:
    return parse(read_bytes(path), Hints(name=path.name))


def bank_of(path: Path) -> Bank:
    return reconcile(Bank(id="open", title="Open"), read(path)).bank


@pytest.mark.parametrize("path", each(*SETS))
def test_a_set_that_is_printed_comes_back(path: Path) -> None:
    """In three layouts; the long form is `python -m tests.printed --sets FILE`."""
    total = Score()
    for seed in range(3):
        total.add(set_trial(path, seed)[1])
    assert total.wrong == []
    assert total.complete >= 0.9 * total.questions or total.questions < 20


@pytest.mark.parametrize("path", each(*SETS))
def test_every_row_is_accounted_for(path: Path) -> None:
    format_name, excerpt_rows, whole_rows = SETS[path.name]
    count = excerpt_rows if path.parent == EXCERPTS else whole_rows
    parsed = read(path)
    assert (parsed.format, len(parsed.drafts), parsed.skipped) == (format_name, count, [])
    assert all(len(draft.key) == 1 for draft in parsed.drafts)
    changes = reconcile(Bank(id="open", title="Open"), parsed)
    assert changes.counts() == {"added": count, "updated": 0, "unchanged": 0, "retired": 0}
    again = reconcile(changes.bank, read(path))
    assert again.counts() == {"added": 0, "updated": 0, "unchanged": count, "retired": 0}


def test_tables_of_scores_are_not_taken_for_questions(tmp_path: Path) -> None:
    made_up = tmp_path / "scores.csv"
    made_up.write_text("item1,item2,item3\n1,0,1\n0,0,1\n", encoding="utf-8")
    real = [WHOLE / name for name in ("MathExam14W.csv", "lsat6.csv")]
    for path in (made_up, *(path for path in real if path.is_file())):
        with pytest.raises(InputError, match="no column for the stem"):
            read(path)


@pytest.mark.parametrize("path", each(MEDMCQA))
def test_medmcqa_has_one_key_each_counted_from_0_whatever_its_choice_type_says(path: Path) -> None:
    rows = [json.loads(line) for line in path.read_text("utf-8").splitlines()]
    drafts = read(path).drafts
    assert {row["choice_type"] for row in rows} == {"single", "multi"}
    assert [draft.key for draft in drafts] == [(row["cop"],) for row in rows]
    assert {draft.kind for draft in drafts} == {"best"}
    unexplained = sum(not draft.explanation for draft in drafts)
    explained_in_lines = sum("\n" in draft.explanation for draft in drafts)
    asked_in_lines = sum("\n" in draft.stem for draft in drafts)
    assert (unexplained, explained_in_lines, asked_in_lines) == (
        (20, 6, 3) if path.parent == EXCERPTS else (1977, 517, 124)
    )


@pytest.mark.parametrize("path", each(MEDMCQA))
def test_medmcqa_options_that_speak_of_others_keep_their_place(path: Path) -> None:
    drafts = read(path).drafts
    speaking = sum(any(speaks_of_others(option.text) for option in d.options) for d in drafts)
    if path.parent == EXCERPTS:
        assert speaking == 10
    else:
        assert 280 <= speaking <= 420, "297 as stated with the set, which depends on the pattern"


@pytest.mark.parametrize("path", each(MEDMCQA))
def test_medmcqa_repeated_questions_are_all_found(path: Path) -> None:
    bank = bank_of(path)
    folded: dict[tuple[str, ...], list[str]] = {}
    for question in bank.questions.values():
        texts = [question.stem, *sorted(option.text for option in question.options)]
        plain = tuple("".join(filter(str.isalnum, text.casefold())) for text in texts)
        folded.setdefault(plain, []).append(question.id)
    repeated = [tuple(sorted(ids)) for ids in folded.values() if len(ids) > 1]
    pairs = {tuple(sorted((pair.keep.id, pair.drop.id))) for pair in find_duplicates(bank)}
    assert len(repeated) >= (2 if path.parent == EXCERPTS else 13)
    assert set(repeated) <= pairs


@pytest.mark.parametrize("path", each(AQUA))
def test_aqua_options_lose_their_own_letters_and_keep_their_texts(path: Path) -> None:
    rows = [json.loads(line) for line in path.read_text("utf-8").splitlines()]
    drafts = read(path).drafts
    for row, draft in zip(rows, drafts, strict=True):
        assert [option.text for option in draft.options] == [
            " ".join(option.partition(")")[2].split()) for option in row["options"]
        ]
    explained_in_lines = sum("\n" in draft.explanation for draft in drafts)
    alike = sum(len({o.text for o in d.options}) < len(d.options) for d in drafts)
    assert (explained_in_lines, alike) == ((26, 2) if path.parent == EXCERPTS else (246, 7))


@pytest.mark.parametrize("path", each("mmlu_high_school_us_history_test.csv"))
def test_mmlu_newlines_stay_inside_their_cells(path: Path) -> None:
    assert all("\n" in draft.stem for draft in read(path).drafts)


@pytest.mark.parametrize("path", each("mmlu_management_test.csv", "mmlu_sociology_test.csv"))
def test_mmlu_next_line_signs_stay_inside_their_cells(path: Path) -> None:
    assert b"\xc2\x85" in read_bytes(path)
    assert all("\x85" not in draft.stem for draft in read(path).drafts)


BECAME_TIMES = {
    "mmlu_clinical_knowledge_test.csv": ["2:25", "15:02", "1:05", "30:02:00"],
    "mmlu_medical_genetics_test.csv": ["2-Jan", "4-Jan", "8-Jan", "16-Jan"],
}


@pytest.mark.parametrize("path", each(*BECAME_TIMES))
def test_mmlu_ratios_that_became_dates_and_times_are_kept_and_told(path: Path) -> None:
    parsed = read(path)
    (warning,) = parsed.warnings
    (draft,) = [draft for draft in parsed.drafts if draft.line == warning.line]
    assert [option.text for option in draft.options] == BECAME_TIMES[path.name]


@pytest.mark.parametrize("path", each("mmlu_college_chemistry_test.csv"))
def test_mmlu_questions_that_differ_by_a_sign_are_no_duplicates(path: Path) -> None:
    bank = bank_of(path)
    (less,) = [q for q in bank.questions.values() if "J << a" in q.stem]
    (more,) = [q for q in bank.questions.values() if "J >> a" in q.stem]
    assert less.answer_key != more.answer_key
    assert find_duplicates(bank) == []


SAME_TEXT_AS_KEY = {"mmlu_sociology_test.csv": "d", "mmlu_international_law_test.csv": "b"}


@pytest.mark.parametrize("path", each(*SAME_TEXT_AS_KEY))
def test_mmlu_choosing_the_option_that_says_the_same_as_the_key_is_right(path: Path) -> None:
    parsed = read(path)
    (line,) = [finding.line for finding in parsed.warnings if "the same" in finding.reason]
    (draft,) = [draft for draft in parsed.drafts if draft.line == line]
    question = new_question(draft, "open/x/1", "x", 1)
    letter = SAME_TEXT_AS_KEY[path.name]
    chosen = Response(
        id="1", at=datetime(2027, 1, 4, 12, tzinfo=UTC), question=question.id, chosen=(letter,)
    )
    assert letter not in question.answer_key
    assert grade(question, chosen) is Verdict.RIGHT


@pytest.mark.parametrize("path", each(OPENBOOK))
def test_the_printed_text_has_the_key_of_its_key_section(path: Path) -> None:
    drafts = read(path).drafts
    section = read_bytes(path).decode().split("ANSWER KEY")[1]
    printed = dict(pair.split("-") for pair in section.split())
    assert {str(d.number): "ABCD"[d.key[0]] for d in drafts} == printed
    assert [draft.number for draft in drafts] == list(range(1, len(printed) + 1))
