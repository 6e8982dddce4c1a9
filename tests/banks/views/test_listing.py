"""The list of all questions: filtered, and looked through by words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from banks.library import Library
from banks.views.listing import Listing, by_subject, match
from banks.views.triage import Filter, by_urgency, rows
from domain.tiers import HARD_TIERS, Tier
from tests.builders import bank, bares, full, library, respond

BOOK = {
    "Wind": {
        "Force": [
            full(1, "What is a STRASSE gale?", ["air", "storm"], "a", explanation="Near storms."),
            full(2, "Which number is calm?", ["0", "9"], "a", tags=("beaufort",)),
        ],
    },
    "Sea": {"State": bares(3)},
}


@pytest.fixture(scope="module")
def opened(tmp_path_factory) -> Library:
    made = library(tmp_path_factory.mktemp("store"), bank("Observer", BOOK))
    respond(made, "observer/sea.state/2", "wrong", "wrong")
    respond(made, "observer/wind.force/2", "wrong")
    made.note("observer/sea.state/3", "ask about swell")
    return made


def found(opened: Library, **fields: object) -> list[str]:
    rows = Listing(opened, by_urgency).find(Filter(**fields))
    return [row.question.id.partition("/")[2] for row in rows]


def test_every_filter_narrows(opened):
    assert found(opened, tiers=frozenset(HARD_TIERS)) == ["sea.state/2", "wind.force/2"]
    assert found(opened, subject="sea", bank="observer", missed=1) == ["sea.state/2"]
    assert found(opened, chapter="wind.force") == ["wind.force/2", "wind.force/1"]
    assert found(opened, bank="another") == []


def test_a_phrase_in_the_stem_stands_before_its_words_elsewhere(tmp_path):
    questions = [
        full(1, "How low is cloud?", ["1", "2"], "a", explanation="Base of a high one."),
        full(2, "How is the  cloud base found?", ["1", "2"], "a"),
    ]
    made = library(tmp_path, bank("Observer", {"Wind": {"Force": questions}}))

    assert found(made, text="cloud base") == ["wind.force/2", "wind.force/1"]
    assert found(made, text="base") == ["wind.force/2", "wind.force/1"]


@pytest.mark.parametrize(
    ("sought", "part", "marked"),
    [
        ("gale", "", ["gale"]),
        ("straße", "", ["STRASSE"]),
        ("gale what", "", ["What", "gale"]),
        ("near st", "explanation", ["Near st"]),
        ("storm gale", "", ["gale"]),
        ("storms", "explanation", ["storms"]),
        ("storm", "option b", ["storm"]),
        ("swell", "note", ["swell"]),
    ],
)
def test_what_matched_is_told_with_its_place(sought, part, marked):
    question = BOOK["Wind"]["Force"][0]
    matched = match(question, "ask about swell", sought)

    assert (matched.part, [matched.text[start:end] for start, end in matched.spans]) == (
        part,
        marked,
    )


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("gale", ["wind.force/1"]),
        ("storm gale", ["wind.force/1"]),
        ("gale calm", []),
        ("BEAUFORT", ["wind.force/2"]),
        ("swell", ["sea.state/3"]),
        ("straße", ["wind.force/1"]),
        ("   ", ["sea.state/2", "wind.force/2", "wind.force/1", "sea.state/1", "sea.state/3"]),
    ],
)
def test_words_are_found_in_all_text_in_any_order_and_case(opened, text, numbers):
    assert found(opened, text=text) == numbers


@given(st.text(alphabet="gale storm0", max_size=6), st.sets(st.sampled_from(list(Tier))))
def test_it_finds_what_the_plain_view_finds_for_a_single_word(opened, text, tiers):
    chosen = Filter(text="".join(text.split()), tiers=frozenset(tiers))
    by_id = {row.question.id: row for row in Listing(opened).find(chosen)}

    assert by_id == {row.question.id: row for row in rows(opened, chosen)}


def test_a_new_listing_finds_edited_questions_and_notes(opened):
    from msgspec.structs import replace

    listing = Listing(opened)
    assert listing.find(Filter(text="halo")) == []
    before = opened.banks["observer"]
    edited = replace(before.questions["observer/wind.force/1"], stem="What is a halo?")
    opened.save_bank(before.with_questions([edited]))
    opened.note("observer/sea.state/1", "halo too")
    again = Listing(opened)
    ids = [row.question.id for row in again.find(Filter(text="halo"))]
    opened.save_bank(before)
    opened.undo()

    assert ids == [edited.id, "observer/sea.state/1"]


@given(st.lists(st.text(alphabet="gale sto", max_size=6), max_size=6))
def test_going_on_typing_finds_what_typing_it_at_once_finds(opened, typed):
    listing = Listing(opened)

    for text in typed:
        for end in range(len(text) + 1):
            rows = listing.find(Filter(text=text[:end]))
            assert rows == Listing(opened).find(Filter(text=text[:end]))


def test_subjects_are_counted_in_the_banks_order(opened):
    counted = by_subject(Listing(opened, by_urgency).rows)

    assert [(row.title, row.counts.total, row.counts.harder) for row in counted] == [
        ("Wind", 2, 0),
        ("Sea", 3, 1),
    ]
