"""A question that was there twice: after merging, all that was said of either counts for one."""

from pathlib import Path

import pytest
from msgspec.structs import replace

from banks.exporters.disputes import disputed
from banks.exporters.question_rows import marked
from banks.find_duplicates import find_duplicates, merge
from banks.library import Given, Library
from banks.planning.workload import PlanWorkload
from banks.views import drill
from banks.views.confusions import confusions
from banks.views.evidence_log import evidence_log
from banks.views.headings import disputed_rows
from banks.views.papers import begin, draw, hand_in
from domain.marking.blueprint import Blueprint, Section
from domain.questions import Kind
from domain.responses import PaperKind, Purpose
from domain.verdicts import Verdict
from tests.builders import bank, full, library

STEM = "What is wind force 8 called?"
FIRST, SECOND = ("gale", "calm", "breeze", "storm"), ("storm", "breeze", "calm", "gale")
STAYS, DUPLICATE = "book/wind.one/1", "book/wind.one/2"


@pytest.fixture
def opened(tmp_path: Path) -> Library:
    """The same question twice, its options in another order."""
    return library(
        tmp_path,
        bank("Book", {"Wind": {"One": [full(1, STEM, FIRST, "a"), full(2, STEM, SECOND, "d")]}}),
    )


def choose(opened: Library, question: str, option: str) -> None:
    opened.record([Given(question=question, chosen=(option,))], Purpose.REVISION)
    opened.now.go_on(days=1)


def join(opened: Library) -> None:
    """Merge the second into the first."""
    book = opened.banks["book"]
    (pair,) = find_duplicates(book, {STAYS: 1_000})
    assert (pair.keep.id, pair.drop.id) == (STAYS, DUPLICATE)
    opened.save_bank(merge(book, [pair]), [STAYS, DUPLICATE])


def test_what_was_chosen_in_the_duplicate_is_told_under_the_letters_of_the_question_that_stays(
    opened,
):
    choose(opened, DUPLICATE, "a")  # storm
    choose(opened, DUPLICATE, "d")  # gale
    join(opened)
    question = opened.question(STAYS)
    earlier = drill.context(opened, drill.show_question(opened, question, None)).earlier

    assert [(first.given, first.verdict) for first in earlier] == [("a", "right"), ("d", "wrong")]


def test_what_was_mixed_up_in_the_duplicate_is_told_by_its_own_words(opened):
    choose(opened, DUPLICATE, "a")
    choose(opened, DUPLICATE, "a")
    join(opened)
    (mixed,) = confusions(opened)
    (question,) = mixed.questions

    assert (question.id, question.chosen_text, question.key_text) == (STAYS, "storm", "gale")
    assert mixed.times == 2


def test_an_option_that_only_the_duplicate_has_is_told_by_its_text(tmp_path):
    options, other = ("gale", "a light air, or calm"), ("gale", "a light air; or calm")
    opened = library(
        tmp_path,
        bank("Book", {"Wind": {"One": [full(1, STEM, options, "a"), full(2, STEM, other, "a")]}}),
    )
    choose(opened, DUPLICATE, "b")
    join(opened)
    shown = drill.show_question(opened, opened.question(STAYS), None)
    (earlier,) = drill.context(opened, shown).earlier

    assert (earlier.given, earlier.verdict) == ("a light air; or calm", "wrong")


def test_a_key_corrected_after_merging_regrades_what_was_given_to_the_twin(opened):
    choose(opened, DUPLICATE, "a")  # storm, and the key says gale
    join(opened)
    before = opened.history.standing(STAYS).missed_days
    opened.dispute(STAYS, ("d",))  # storm

    assert (before, opened.history.standing(STAYS).missed_days) == (1, 0)


def test_where_the_keys_differ_the_one_that_stays_judges_both(tmp_path):
    opened = library(
        tmp_path,
        bank("Book", {"Wind": {"One": [full(1, STEM, FIRST, "a"), full(2, STEM, SECOND, "a")]}}),
    )
    choose(opened, DUPLICATE, "a")
    join(opened)

    assert [opened.history.verdict(response) for response in opened.history.responses(STAYS)] == [
        "wrong"
    ]


def test_note_and_dispute_of_the_duplicate_are_kept(opened):
    opened.note(DUPLICATE, "Beaufort has no storm at 8")
    opened.dispute(DUPLICATE, ("c",), "calm, says the chart")
    join(opened)
    history = opened.history
    (dispute,) = disputed(opened.banks["book"], history)

    assert history.note(STAYS) == "Beaufort has no storm at 8"
    assert (dispute.key, dispute.note) == (("b",), "calm, says the chart")
    assert [row.question.id for row in disputed_rows(opened)] == [STAYS]


def test_a_newer_word_on_the_question_that_stays_goes_before_the_twins(opened):
    opened.note(DUPLICATE, "old")
    opened.dispute(DUPLICATE, ("c",))
    join(opened)
    opened.now.go_on(days=1)
    opened.note(STAYS, "new")
    opened.dispute(STAYS, ())

    assert opened.history.note(STAYS) == "new"
    assert opened.history.dispute(STAYS) is None


def test_undoing_a_response_to_the_duplicate_is_seen_in_the_question_that_stays(opened):
    choose(opened, DUPLICATE, "a")
    choose(opened, DUPLICATE, "a")
    join(opened)
    before = opened.history.standing(STAYS).missed_days
    opened.undo()

    assert (before, opened.history.standing(STAYS).missed_days) == (2, 1)


def test_the_duplicate_is_counted_once_and_only_as_the_question_that_stays(opened):
    choose(opened, DUPLICATE, "a")
    choose(opened, STAYS, "a")
    join(opened)

    assert list(opened.history.questions()) == [STAYS]
    read = evidence_log(opened)
    assert [read.ids[number] for number in read.responses.question] == [STAYS, STAYS]
    workload = PlanWorkload(opened)
    events = [*workload.responses(), *workload.events_on(opened.today())]
    assert [event.number for event in events] == [1, 1]
    assert len(marked(opened.history, STAYS, opened.today()).marks) == 2


def test_a_paper_that_held_both_is_marked_as_it_was_taken(opened):
    paper = Blueprint(minutes=10, sections=(Section("book/wind", 2),))
    opened.save_settings(replace(opened.settings, paper=paper))
    sitting = begin(opened, draw(opened, evidence_log(opened), PaperKind.MOCK, 1), 1)
    for question, option in ((STAYS, "a"), (DUPLICATE, "a")):
        opened.record([Given(question=question, chosen=(option,))], Purpose.PAPER, sitting=sitting)
    join(opened)
    result = hand_in(opened, opened.history.sittings[sitting])

    assert (result.won, result.lost) == (4, 1)


def test_a_typed_text_counts_for_the_question_that_stays(tmp_path):
    asked = [full(number, STEM, kind=Kind.TEXT, key=key) for number, key in ((1, "G"), (2, "H"))]
    opened = library(tmp_path, bank("Book", {"Wind": {"One": asked}}))
    opened.record([Given(question=DUPLICATE, chosen=("g",))], Purpose.REVISION)
    (pair,) = find_duplicates(opened.banks["book"], {STAYS: 5})
    opened.save_bank(merge(opened.banks["book"], [pair]), [STAYS, DUPLICATE], label="merged")

    assert opened.history.verdict(opened.history.responses(STAYS)[0]) is Verdict.RIGHT
