"""Questions that are there twice: found where they are the same, left alone where they differ."""

from pathlib import Path

import pytest

from banks.find_duplicates import Likeness, Pair, find_duplicates, merge
from banks.library import Given
from domain.questions import Bank, Question
from domain.responses import Purpose
from domain.tiers import Tier
from domain.verdicts import Verdict
from tests.builders import bank, full, library

TEXTS = ("cirrus", "stratus", "cumulus", "nimbostratus")


def book(*stems: str, texts: tuple[str, ...] = TEXTS) -> Bank:
    questions = [full(number, stem, texts) for number, stem in enumerate(stems, 1)]
    return bank("Book", {"Air": {"One": questions}})


def pairs(questions: Bank) -> list[tuple[int, int, Likeness]]:
    return [
        (*sorted((pair.keep.number, pair.drop.number)), pair.likeness)
        for pair in find_duplicates(questions)
    ]


def with_questions(*questions: Question) -> Bank:
    return bank("Book", {"Air": {"One": list(questions)}})


def test_case_and_white_space_do_not_make_a_second_question() -> None:
    assert pairs(
        book("Which cloud is highest?", " which  CLOUD is\nhighest?", "Which is lowest?")
    ) == [(1, 2, Likeness.EXACT)]


def test_every_copy_is_paired_with_the_first() -> None:
    assert pairs(book(*["Which cloud is highest?"] * 3)) == [
        (1, 2, Likeness.EXACT),
        (1, 3, Likeness.EXACT),
    ]


@pytest.mark.parametrize(
    ("stem", "other"),
    [
        (
            "Which cloud genus forms at the greatest height?",
            "Which cloud genus forms at the greatest heights",
        ),
        (
            "The barometer was invented by whom and where?",
            "The barometre was invented by whom and where ?",
        ),
        (
            "Halo phenomena are usually seen in which genus of cloud?",
            "Halo phenomena are usualy seen in which genus of cloud:",
        ),
    ],
)
def test_a_slip_of_spelling_or_a_closing_sign_is_nearly_the_same(stem: str, other: str) -> None:
    assert pairs(book(stem, other)) == [(1, 2, Likeness.NEAR)]


@pytest.mark.parametrize(
    ("first", "other"),
    [
        (
            "At low temperature and J << a the slope of the curve is",
            "At low temperature and J >> a the slope of the curve is",
        ),
        (
            "Which of these is a genus of high cloud in the atlas?",
            "Which of these is not a genus of high cloud in the atlas?",
        ),
        (
            "All of these are high clouds of the atlas, except which?",
            "All of these are high clouds of the atlas: which?",
        ),
        (
            "Wind of force 10 on the Beaufort scale is called what?",
            "Wind of force 11 on the Beaufort scale is called what?",
        ),
        (
            "A cold front of type I is followed by which clouds?",
            "A cold front of type II is followed by which clouds?",
        ),
        (
            "The pressure of vapour A in the chamber rises when?",
            "The pressure of vapour B in the chamber rises when?",
        ),
        (
            "The coefficient α of the series is found by which rule?",
            "The coefficient β of the series is found by which rule?",
        ),
        (
            "Which unit holds 10² of the smaller units together?",
            "Which unit holds 10³ of the smaller units together?",
        ),
        (
            "Which station reports the highest pressure of the day?",
            "Which station reports the lowest pressure of the day?",
        ),
        (
            "The bulletin of the VHF service is sent at what time?",
            "The bulletin of the UHF service is sent at what time?",
        ),
    ],
)
def test_a_sign_a_digit_or_a_word_that_turns_the_sense_makes_another_question(
    first: str, other: str
) -> None:
    assert pairs(book(first, other)) == []


def test_the_same_stem_with_other_options_is_another_question() -> None:
    both = with_questions(
        full(1, "Which of these is a cloud?", TEXTS),
        full(2, "Which of these is a cloud?", ("altostratus", "barometer", "anemometer", "vane")),
    )
    assert find_duplicates(both) == []


def test_options_in_another_order_make_no_other_question_and_keys_are_compared_by_text() -> None:
    turned = tuple(reversed(TEXTS))
    same = with_questions(full(1, "Highest?", TEXTS, "a"), full(2, "Highest?", turned, "d"))
    differ = with_questions(full(1, "Highest?", TEXTS, "a"), full(2, "Highest?", turned, "a"))
    assert [pair.conflict for pair in find_duplicates(same)] == [False]
    assert [pair.conflict for pair in find_duplicates(differ)] == [True]


def test_the_better_explained_one_is_proposed_to_stay() -> None:
    (pair,) = find_duplicates(
        with_questions(
            full(1, "Highest?", TEXTS), full(2, "Highest?", TEXTS, explanation="It is of ice.")
        )
    )
    assert (pair.keep.number, pair.drop.number) == (2, 1)
    (pair,) = find_duplicates(book("Highest?", "Highest?"), {"book/air.one/2": 3})
    assert pair.keep.number == 2


def test_retired_and_bare_questions_are_left_alone() -> None:
    assert find_duplicates(with_questions(full(1, ""), full(2, ""))) == []
    gone = full(2, "Highest?", TEXTS, retired=True)
    assert find_duplicates(with_questions(full(1, "Highest?", TEXTS), gone)) == []


def test_merging_completes_the_one_and_retires_the_other() -> None:
    before = with_questions(
        full(1, "Highest?", TEXTS, explanation="Ice.", tags=("a",)),
        full(2, "Highest?", TEXTS, reference="p. 9", tags=("b",)),
    )
    after = merge(before, find_duplicates(before))
    (kept,) = after.in_chapter("air.one")
    assert (kept.number, kept.explanation, kept.reference) == (1, "Ice.", "p. 9")
    assert kept.tags == ("a", "b")
    assert after.duplicates(kept.id) == ("book/air.one/2",)


def test_a_chain_of_merges_ends_in_one_question() -> None:
    three = book("Highest?", "Highest?", "Highest?")
    first, middle, last = three.in_chapter("air.one")

    def into(keep: Question, drop: Question) -> Pair:
        return Pair(likeness=Likeness.EXACT, keep=keep, drop=drop, percent=100, conflict=False)

    half = merge(three, [into(middle, last)])
    assert merge(half, [into(first, middle)]).duplicates(first.id) == (middle.id, last.id)
    at_once = merge(three, [into(middle, last), into(first, middle), into(middle, first)])
    assert set(at_once.duplicates(first.id)) == {middle.id, last.id}


def test_both_histories_count_after_a_merge_each_under_its_own_key(tmp_path: Path) -> None:
    turned = tuple(reversed(TEXTS))
    before = with_questions(full(1, "Highest?", TEXTS, "a"), full(2, "Highest?", turned, "d"))
    shelf = library(tmp_path, before)
    kept, two = "book/air.one/1", "book/air.one/2"
    shelf.record([Given(question=two, chosen=("a",))], Purpose.REVISION)
    shelf.save_bank(merge(before, find_duplicates(before)))
    assert shelf.history.standing(kept).tier is Tier.HARD
    assert [shelf.history.verdict(r) for r in shelf.history.responses(kept)] == [Verdict.WRONG]
    shelf.record([Given(question=kept, chosen=("a",))], Purpose.REVISION)
    verdicts = [shelf.history.verdict(r) for r in shelf.history.responses(kept)]
    assert verdicts == [Verdict.WRONG, Verdict.RIGHT]
    shelf.close()
    again = library(tmp_path)
    assert len(again.history.responses(kept)) == 2
