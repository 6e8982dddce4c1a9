"""Published question sets import whole: counts and traps as stated with the files.

The sets are not part of the project. Where their folder is not there, each check is skipped with
the reason, and the same traps are tried on our own small fixtures in tests/banks/importers.
Sources: MedMCQA (Pal et al. 2022), MMLU (Hendrycks et al. 2021), AQuA-RAT (Ling et al. 2017),
OpenBookQA (Mihaylov et al. 2018).
"""

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import pytest

from banks.editing.duplicates import find_duplicates
from banks.importers.common import Hints, Parsed
from banks.importers.detect import parse, read_bytes
from banks.intake.drafting import new_question
from banks.intake.reconcile import reconcile
from domain.errors import InputError
from domain.grading import grade
from domain.questions import Bank, speaks_of_others
from domain.responses import Response
from domain.verdicts import Verdict

FOLDER = Path(__file__).parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(not FOLDER.is_dir(), reason=f"no open data sets in {FOLDER}")


def read(name: str) -> Parsed:
    return parse(read_bytes(FOLDER / name), Hints(name=name))


def bank_of(name: str) -> Bank:
    return reconcile(Bank(id="open", title="Open"), read(name)).bank


@pytest.mark.parametrize(
    ("name", "format_name", "count"),
    [
        ("medmcqa_validation.jsonl", "jsonl", 4183),
        ("aqua_test.json", "jsonl", 254),
        ("openbookqa_test.pasted.txt", "text", 300),
        ("mmlu_clinical_knowledge_test.csv", "csv", 265),
        ("mmlu_college_chemistry_test.csv", "csv", 100),
        ("mmlu_high_school_us_history_test.csv", "csv", 204),
        ("mmlu_international_law_test.csv", "csv", 121),
        ("mmlu_management_test.csv", "csv", 103),
        ("mmlu_medical_genetics_test.csv", "csv", 100),
        ("mmlu_sociology_test.csv", "csv", 201),
    ],
)
def test_every_row_is_accounted_for(name: str, format_name: str, count: int) -> None:
    parsed = read(name)
    assert (parsed.format, len(parsed.drafts), parsed.skipped) == (format_name, count, [])
    assert all(len(draft.key) == 1 for draft in parsed.drafts)
    changes = reconcile(Bank(id="open", title="Open"), parsed)
    assert changes.counts() == {"added": count, "updated": 0, "unchanged": 0, "retired": 0}
    again = reconcile(changes.bank, read(name))
    assert again.counts() == {"added": 0, "updated": 0, "unchanged": count, "retired": 0}


@pytest.mark.parametrize("name", ["MathExam14W.csv", "lsat6.csv"])
def test_tables_of_scores_are_not_taken_for_questions(name: str) -> None:
    with pytest.raises(InputError, match="no column for the stem"):
        read(name)


def test_medmcqa_has_one_key_each_counted_from_0_whatever_its_choice_type_says() -> None:
    drafts = read("medmcqa_validation.jsonl").drafts
    keys = Counter(draft.key[0] for draft in drafts)
    assert keys == {0: 1348, 1: 1085, 2: 925, 3: 825}
    assert {draft.kind for draft in drafts} == {"best"}
    assert sum(not draft.explanation for draft in drafts) == 1977
    assert sum("\n" in draft.explanation for draft in drafts) == 517
    assert sum("\n" in draft.stem for draft in drafts) == 124


def test_medmcqa_options_that_speak_of_others_keep_their_place() -> None:
    drafts = read("medmcqa_validation.jsonl").drafts
    found = sum(any(speaks_of_others(option.text) for option in d.options) for d in drafts)
    assert 280 <= found <= 420, "297 by the stated count of the set, which depends on the pattern"


def test_medmcqa_repeated_questions_are_all_found() -> None:
    bank = bank_of("medmcqa_validation.jsonl")
    folded: dict[tuple[str, ...], list[str]] = {}
    for question in bank.questions.values():
        texts = [question.stem, *sorted(option.text for option in question.options)]
        plain = tuple("".join(filter(str.isalnum, text.casefold())) for text in texts)
        folded.setdefault(plain, []).append(question.id)
    repeated = [tuple(sorted(ids)) for ids in folded.values() if len(ids) > 1]
    found = {tuple(sorted((pair.keep.id, pair.drop.id))) for pair in find_duplicates(bank)}
    assert len(repeated) >= 13
    assert set(repeated) <= found


def test_aqua_options_lose_their_own_letters_and_keep_their_texts() -> None:
    drafts = read("aqua_test.json").drafts
    assert [option.text for option in drafts[0].options][-1] == "None of these"
    assert sum("\n" in draft.explanation for draft in drafts) == 246
    assert Counter(len(draft.options) for draft in drafts) == {5: 254}
    twins = sum(len({o.text for o in d.options}) < len(d.options) for d in drafts)
    assert twins == 7


def test_mmlu_newlines_and_next_line_signs_stay_inside_their_cells() -> None:
    history = read("mmlu_high_school_us_history_test.csv").drafts
    assert all("\n" in draft.stem for draft in history)
    for name in ("mmlu_management_test.csv", "mmlu_sociology_test.csv"):
        assert b"\xc2\x85" in read_bytes(FOLDER / name)
        assert all("\x85" not in draft.stem for draft in read(name).drafts)


@pytest.mark.parametrize(
    ("name", "line", "texts"),
    [
        ("mmlu_clinical_knowledge_test.csv", 55, ["2:25", "15:02", "1:05", "30:02:00"]),
        ("mmlu_medical_genetics_test.csv", 49, ["2-Jan", "4-Jan", "8-Jan", "16-Jan"]),
    ],
)
def test_mmlu_ratios_that_became_dates_and_times_are_kept_and_told(
    name: str, line: int, texts: list[str]
) -> None:
    parsed = read(name)
    (draft,) = [draft for draft in parsed.drafts if draft.line == line]
    assert [option.text for option in draft.options] == texts
    assert [finding.line for finding in parsed.warnings] == [line]


def test_mmlu_questions_that_differ_by_a_sign_are_no_duplicates() -> None:
    bank = bank_of("mmlu_college_chemistry_test.csv")
    questions = list(bank.questions.values())
    assert "J << a" in questions[5].stem
    assert "J >> a" in questions[92].stem
    assert questions[5].key != questions[92].key
    assert find_duplicates(bank) == []


@pytest.mark.parametrize(
    ("name", "twin"), [("mmlu_sociology_test.csv", "d"), ("mmlu_international_law_test.csv", "b")]
)
def test_mmlu_choosing_the_twin_of_the_key_is_right(name: str, twin: str) -> None:
    parsed = read(name)
    (line,) = [finding.line for finding in parsed.warnings if "the same" in finding.reason]
    (draft,) = [draft for draft in parsed.drafts if draft.line == line]
    question = new_question(draft, "open/x/1", "x", 1)
    chosen = Response(
        id="1", at=datetime(2027, 1, 4, 12, tzinfo=UTC), question=question.id, chosen=(twin,)
    )
    assert twin not in question.key
    assert grade(question, chosen) is Verdict.RIGHT


def test_the_printed_text_has_the_key_of_its_key_section() -> None:
    drafts = read("openbookqa_test.pasted.txt").drafts
    section = read_bytes(FOLDER / "openbookqa_test.pasted.txt").decode().split("ANSWER KEY")[1]
    printed = dict(pair.split("-") for pair in section.split())
    assert {str(d.number): "ABCD"[d.key[0]] for d in drafts} == printed
    assert [draft.number for draft in drafts] == list(range(1, 301))
