"""What an import does to a bank: the history goes with the question, never with the number."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from banks.find_duplicates import find_duplicates, merge
from banks.importers.common import Draft, DraftOption, Parsed
from banks.intake.import_changes import ChangeKind, ImportChanges
from banks.intake.reconcile import reconcile
from domain.questions import LETTERS, Bank, Form, Kind, Question, fingerprint

EMPTY = Bank(id="book", title="Book")
TEXTS = ("w", "x", "y", "z")


def draft(
    number: int | None, stem: str = "", key: int | str | None = 0, texts: tuple[str, ...] = TEXTS,
    **more: object,
) -> Draft:  # fmt: skip
    options = tuple(map(DraftOption, texts)) if stem else ()
    keyed = () if key is None else (key,)
    line = more.pop("line", (number or 0) + 1)
    return Draft(
        line=line, subject="Air", chapter="One", number=number, stem=stem, options=options,
        key=keyed, **more,
    )  # fmt: skip


def load(bank: Bank, *drafts: Draft, **how: object) -> ImportChanges:
    return reconcile(bank, Parsed(format="test", drafts=list(drafts)), **how)


def at(bank: Bank, number: int) -> Question:
    (match,) = [question for question in bank.in_chapter("air/one") if question.number == number]
    return match


def kinds(changes: ImportChanges) -> list[tuple[ChangeKind, int | None]]:
    return [
        (change.what, change.before.number if change.before else None) for change in changes.changes
    ]


@pytest.fixture
def book() -> Bank:
    """Three questions, A? B? C?, keys a b c."""
    return load(EMPTY, draft(1, "A?", 0), draft(2, "B?", 1), draft(3, "C?", 2)).bank


def test_new_questions_take_the_plain_identity_of_their_place(book: Bank) -> None:
    assert [question.id for question in book.in_chapter("air/one")] == [
        "book/air/one/1",
        "book/air/one/2",
        "book/air/one/3",
    ]
    assert [option.id for option in at(book, 1).options] == list("abcd")


def test_the_same_again_is_unchanged(book: Bank) -> None:
    again = load(book, draft(1, "A?", 0), draft(2, " B?\n", 1), draft(3, "C?", 2))
    assert again.counts() == {"added": 0, "updated": 0, "unchanged": 3, "retired": 0}
    assert again.bank == book


def test_a_changed_key_stays_the_same_question_and_is_said(book: Bank) -> None:
    changes = load(book, draft(2, "B?", 3))
    assert kinds(changes) == [(ChangeKind.KEY_CHANGED, 2)]
    assert (at(changes.bank, 2).id, at(changes.bank, 2).answer_key) == ("book/air/one/2", ("d",))
    assert "book/air/one/2" in changes.touched()


def test_a_key_of_two_letters_does_not_make_it_another_question(book: Bank) -> None:
    several = draft(2, "B?", 0, kind=Kind.MULTIPLE)
    several.key = (0, 1)
    changes = load(book, several)
    assert kinds(changes) == [(ChangeKind.KEY_CHANGED, 2)]
    assert at(changes.bank, 2).answer_key == ("a", "b")


def test_a_number_given_to_another_text_never_inherits_the_history(book: Bank) -> None:
    changes = load(book, draft(2, "Quite another?", 0))
    new = at(changes.bank, 2)
    assert kinds(changes) == [(ChangeKind.ADDED, 2), (ChangeKind.RETIRED, 2)]
    assert new.id == f"book/air/one/2~{fingerprint(new)[:6]}"
    old = changes.bank.questions["book/air/one/2"]
    assert (old.retired, old.stem) == (True, "B?")


def test_the_old_text_back_at_its_number_has_its_history_again(book: Bank) -> None:
    other = load(book, draft(2, "Quite another?", 0)).bank
    back = load(other, draft(2, "B?", 1)).bank
    assert at(back, 2).id == "book/air/one/2"
    assert sum(not question.retired for question in back.questions.values()) == 3


def test_a_third_text_at_the_same_number_has_a_third_identity(book: Bank) -> None:
    second = load(book, draft(2, "Second?", 0)).bank
    third = load(second, draft(2, "Third?", 0)).bank
    assert len({question.id for question in third.questions.values()}) == 5
    assert at(third, 2).stem == "Third?"


def test_a_question_at_another_number_takes_its_history_along(book: Bank) -> None:
    changes = load(book, draft(1, "New?", 0), draft(2, "A?", 0), draft(3, "B?", 1))
    assert {change.what for change in changes.changes} == {
        ChangeKind.ADDED, ChangeKind.MOVED, ChangeKind.RETIRED,
    }  # fmt: skip
    assert at(changes.bank, 2).id == "book/air/one/1"
    assert at(changes.bank, 3).id == "book/air/one/2"
    assert at(changes.bank, 1).id not in book.questions
    assert changes.bank.questions["book/air/one/3"].retired


def test_two_questions_that_change_places_keep_their_own_histories(book: Bank) -> None:
    changes = load(book, draft(1, "B?", 1), draft(2, "A?", 0))
    assert kinds(changes) == [(ChangeKind.MOVED, 2), (ChangeKind.MOVED, 1)]
    assert at(changes.bank, 1).id == "book/air/one/2"
    assert changes.counts()["retired"] == 0


def test_the_same_text_further_on_in_a_part_of_a_book_is_a_question_of_its_own(book: Bank) -> None:
    changes = load(book, draft(4, "A?", 0))
    assert kinds(changes) == [(ChangeKind.ADDED, None)]
    assert at(changes.bank, 1).id == "book/air/one/1"


def test_a_new_edition_withdraws_what_it_does_not_hold(book: Bank) -> None:
    changes = load(book, draft(1, "A?", 0), draft(2, "C?", 2), whole=True)
    assert (ChangeKind.MOVED, 3) in kinds(changes)
    assert at(changes.bank, 2).id == "book/air/one/3"
    assert changes.bank.questions["book/air/one/2"].retired
    gone = load(book, draft(1, "A?", 0), whole=True)
    assert kinds(gone) == [(ChangeKind.WITHDRAWN, 2), (ChangeKind.WITHDRAWN, 3)]


def test_an_edition_without_numbers_has_those_of_its_order(book: Bank) -> None:
    drafts = [draft(None, stem) for stem in ("C?", "New?", "A?")]
    bank = load(book, *drafts, whole=True).bank
    assert [at(bank, number).stem for number in (1, 2, 3)] == ["C?", "New?", "A?"]
    assert at(bank, 3).id == "book/air/one/1"


def test_a_hyphen_alone_makes_no_other_question(book: Bank) -> None:
    texts = ("well-known", "resign", "re-sign", "unknown")
    first = load(book, draft(4, "A bio-fuel?", 2, texts=texts)).bank
    later = load(
        first, draft(4, "A biofuel?", 3, texts=("un-known", "re-sign", "resign", "wellknown"))
    )
    assert kinds(later) == [(ChangeKind.KEY_CHANGED, 4)]
    question = at(later.bank, 4)
    assert (question.id, question.stem) == ("book/air/one/4", "A biofuel?")
    assert [(option.id, option.text) for option in question.options] == [
        ("d", "un-known"), ("c", "re-sign"), ("b", "resign"), ("a", "wellknown"),
    ]  # fmt: skip
    assert question.answer_key == ("a",)


def test_options_in_another_order_keep_their_names_so_that_history_points_right(
    book: Bank,
) -> None:
    changes = load(book, draft(1, "A?", 3, ("z", "y", "x", "w")))
    question = at(changes.bank, 1)
    assert question.id == "book/air/one/1"
    assert [(option.id, option.text) for option in question.options] == [
        ("d", "z"), ("c", "y"), ("b", "x"), ("a", "w"),
    ]  # fmt: skip
    assert question.answer_key == ("a",)
    assert kinds(changes) == [(ChangeKind.UPDATED, 1)]


def test_twins_among_options_keep_a_name_each(book: Bank) -> None:
    twins = load(EMPTY, draft(1, "Q?", 0, ("w", "x", "x"))).bank
    turned = load(twins, draft(1, "Q?", 2, ("x", "x", "w"))).bank
    assert sorted(option.id for option in at(turned, 1).options) == ["a", "b", "c"]
    assert at(turned, 1).answer_key == ("a",)


def test_a_bare_question_gains_key_and_text_without_losing_its_history() -> None:
    bare = load(EMPTY, draft(1, key=None)).bank
    keyed = load(bare, draft(1, key="c")).bank
    full = load(keyed, draft(1, "What?", 2)).bank
    assert [at(bank, 1).form for bank in (bare, keyed, full)] == [Form.BARE, Form.KEYED, Form.FULL]
    assert {at(bank, 1).id for bank in (bare, keyed, full)} == {"book/air/one/1"}
    assert at(full, 1).answer_key == ("c",)


def test_a_bare_number_or_a_key_takes_nothing_from_a_full_question(book: Bank) -> None:
    assert load(book, draft(1, key=None)).counts()["unchanged"] == 1
    keyed = at(load(book, draft(1, key="d")).bank, 1)
    assert (keyed.stem, keyed.answer_key) == ("A?", ("d",))


def test_what_the_candidate_added_outlives_a_file_that_does_not_say_it(book: Bank) -> None:
    noted = load(book, draft(1, "A?", 0, explanation="So.", tags=("mine",), reference="p. 3")).bank
    again = load(noted, draft(1, "A?", 0, tags=("theirs",))).bank
    question = at(again, 1)
    assert (question.explanation, question.reference) == ("So.", "p. 3")
    assert question.tags == ("mine", "theirs")


def test_a_number_that_comes_twice_is_told_and_the_first_kept() -> None:
    changes = load(EMPTY, draft(1, "A?", 0), draft(1, "B?", 0, line=9))
    assert [question.stem for question in changes.bank.questions.values()] == ["A?"]
    assert [(finding.line, "first on line 2" in finding.reason) for finding in changes.skipped] == [
        (9, True)
    ]


def test_questions_without_numbers_take_the_next_free_ones_and_are_known_again_by_text() -> None:
    three = [draft(None, text, 0, line=n) for n, text in enumerate(("A?", "B?", "A?"), 1)]
    first = load(EMPTY, *three)
    assert [question.number for question in first.bank.in_chapter("air/one")] == [1, 2, 3]
    assert load(first.bank, *reversed(three)).counts()["unchanged"] == 3
    more = load(first.bank, draft(None, "D?", 0), draft(None, "B?", 0))
    assert more.counts() == {"added": 1, "updated": 0, "unchanged": 1, "retired": 0}
    assert at(more.bank, 4).stem == "D?"


@pytest.mark.parametrize("numbered", [True, False])
def test_duplicates_that_were_joined_stay_joined(numbered: bool) -> None:
    drafts = [draft(n if numbered else None, "A?", 0, line=n) for n in (1, 2)]
    joined = merge(bank := load(EMPTY, *drafts).bank, find_duplicates(bank))
    again = load(joined, *drafts)
    assert again.counts() == {"added": 0, "updated": 0, "unchanged": 2, "retired": 0}
    assert again.bank == joined


def test_headings_are_the_same_whatever_their_case_and_space() -> None:
    parsed = Parsed(format="test", drafts=[draft(1, "A?", 0)])
    parsed.drafts[0].subject, parsed.drafts[0].chapter = " AIR ", "one"
    bank = load(EMPTY, draft(1, "A?", 0)).bank
    assert reconcile(bank, parsed).bank.subjects == bank.subjects


def test_headings_that_would_be_named_alike_are_told_apart() -> None:
    drafts = [draft(1, "A?", 0), draft(1, "B?", 0)]
    drafts[0].subject, drafts[1].subject = "C", "C++"
    bank = load(EMPTY, *drafts).bank
    assert len({subject.id for subject in bank.subjects}) == 2
    assert len(bank.questions) == 2


def test_two_machines_that_import_the_same_book_agree() -> None:
    drafts = [draft(n, f"Q{n}?", 0) for n in range(1, 9)]
    assert load(EMPTY, *drafts).bank == load(EMPTY, *drafts).bank


def test_figures_are_kept_under_a_name_of_their_own() -> None:
    drawn = draft(1, "A?", 0, figures=(("deep/map.png", "a map", b"one"),))
    other = draft(2, "B?", 0, figures=(("map.png", "", b"two"),))
    changes = load(EMPTY, drawn, other)
    assert len(changes.figures) == 2
    assert changes.figures[at(changes.bank, 1).figures[0].file] == b"one"


stems = st.sampled_from(["A?", "B?", "C?", "D?", "E?"])
editions = st.lists(stems, max_size=6)


@settings(max_examples=200)
@given(st.lists(editions, min_size=1, max_size=5), st.booleans(), st.integers())
def test_through_any_editions_an_identity_means_one_text_for_ever(
    books: list[list[str]], whole: bool, seed: int
) -> None:
    bank, meaning = EMPTY, {}
    turn = random.Random(seed)
    for texts in books:
        order = list(range(len(TEXTS)))
        turn.shuffle(order)
        options = tuple(TEXTS[index] for index in order)
        drafts = [
            draft(number, stem, options.index("w"), options) for number, stem in enumerate(texts, 1)
        ]
        bank = load(bank, *drafts, whole=whole).bank
        living = [question for question in bank.questions.values() if not question.retired]
        places = [(question.chapter, question.number) for question in living]
        assert len(places) == len(set(places))
        for number, stem in enumerate(texts, 1):
            assert at(bank, number).stem == stem
        for question in bank.questions.values():
            texts_by_id = {option.id: option.text for option in question.options}
            known = meaning.setdefault(question.id, (question.stem, texts_by_id))
            assert known == (question.stem, texts_by_id)
            assert texts_by_id[question.answer_key[0]] == "w"
        if whole:
            assert len(living) == len(texts)


def test_letters_go_up_to_eight() -> None:
    texts = tuple(f"option {letter}" for letter in LETTERS)
    assert at(load(EMPTY, draft(1, "A?", 7, texts)).bank, 1).answer_key == ("h",)


def test_a_key_with_a_fifth_letter_says_that_printed_questions_have_five_options() -> None:
    bare = load(EMPTY, draft(1, key=None)).bank
    assert bare.option_count == 4
    assert load(bare, draft(1, key="e")).bank.option_count == 5


def test_a_question_without_a_number_is_found_again_by_its_code() -> None:
    """A pool of item codes in another order, one text corrected: the codes keep their places."""
    first = load(EMPTY, *(draft(None, f"{code}?", 0, code=code) for code in ("A1B01", "A1B02")))
    again = load(
        first.bank, draft(None, "A1B02, corrected?", 0, code="A1B02"), draft(None, "A1B01?", 0)
    )

    held = {question.code: question.number for question in again.bank.in_chapter("air/one")}
    assert held == {"A1B01": 1, "A1B02": 2}
    assert again.counts()["added"] == 1
    assert again.counts()["retired"] == 1


def test_a_chapter_that_mostly_gets_other_texts_is_told(book: Bank) -> None:
    others = load(book, *(draft(number, f"Other {number}?") for number in (1, 2, 3, 4)))
    corrected = load(book, draft(1, "A?"), draft(2, "Other 2?"), draft(3, "Other 3?"))
    edition = load(book, *(draft(number, f"Other {number}?") for number in (1, 2, 3)), whole=True)

    assert [(each.title, each.replaced) for each in others.replaced] == [("One", 3)]
    assert corrected.replaced == edition.replaced == []


def test_missing_figures_and_full_duplicates_are_told_by_line() -> None:
    figure = (("map.png", "a map", b"png"),)
    warnings = load(
        EMPTY, draft(1, "Which cloud is shown below?"), draft(2, "What is in the map?"),
        draft(3, "What is in the map?"), draft(4, "What is as shown?", figures=figure),
        draft(5, "Which of the following maps shows wind?"),
    ).warnings  # fmt: skip

    assert [(each.line, each.reason) for each in warnings] == [
        (2, "question 1: speaks of a figure, which is not in the file"),
        (4, "question 3: the same text and options as question 2"),
    ]
