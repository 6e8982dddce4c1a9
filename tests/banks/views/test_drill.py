"""What the drill is told: seats, scores, what a response did."""

import pytest

from banks.library import Library
from banks.sittings.drill_sitting import DrillSitting
from banks.views import drill
from banks.views.evidence_log import evidence_log
from banks.views.open_sittings import open_sittings
from banks.views.results import TierMoves
from domain.errors import InputError
from domain.questions import Kind
from domain.responses import Purpose
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict
from tests.builders import bank, bare, full, library, respond

BOOK = {
    "Wind": {
        "Force": [
            full(1, "Which?", ["calm", "gale"], "a", shuffle=False),
            full(2, "Which two?", ["x", "y", "z"], "ac", kind=Kind.MULTIPLE, shuffle=False),
            full(3, "How many?", key=("12",), kind=Kind.NUMERIC, tolerance=0.5),
            bare(4),
        ]
    }
}
NAMES = [f"observer/wind.force/{number}" for number in (1, 2, 3, 4)]


@pytest.fixture
def opened(tmp_path) -> Library:
    return library(tmp_path, bank("Observer", BOOK))


def start(opened: Library, *names: str) -> DrillSitting:
    return DrillSitting(
        opened, opened.open_sitting("Force", Purpose.SWEEP, names or NAMES), lambda: 0.0
    )


def say(run: DrillSitting, *chosen: str, **fields: object) -> None:
    run.record(run.given(chosen, **fields))


def test_the_key_is_named_as_it_sits(opened):
    run = start(opened)
    words = []
    for _ in NAMES[:3]:
        words.append(drill.key_words(run.shown))
        say(run, "a")
        run.next()

    assert words == ["a", "a, c", "12 ± 0.5"]


def test_a_chapter_that_is_partly_in_the_book_keeps_the_order_of_its_options(tmp_path):
    texts = [f"{colour} sky" for colour in ("red", "grey", "blue", "black")]
    sky = [full(1, "Which?", texts, "a")]
    made = library(tmp_path, bank("Book", {"Sky": {"Printed": [*sky, bare(2)], "Typed": sky}}))
    seats = {
        chapter: {
            drill.show_question(made, made.question(f"book/sky.{chapter}/1"), seed).seating.options
            for seed in range(20)
        }
        for chapter in ("printed", "typed")
    }

    assert len(seats["printed"]) == 1
    assert len(seats["typed"]) > 1


def test_a_second_response_on_a_day_counts_with_it_and_says_so(opened):
    run = start(opened, NAMES[0])
    say(run, "b")
    again = start(opened, NAMES[0])
    say(again, "a")

    assert again.feedback.is_repeat
    assert again.feedback.verdict is Verdict.RIGHT
    assert (again.feedback.step.before.tier, again.feedback.step.after.tier) == (
        Tier.UNTRIED,
        Tier.HARD,
    )
    assert [(earlier.given, earlier.verdict) for earlier in again.feedback.earlier] == [
        ("b", Verdict.WRONG)
    ]


def test_the_score_counts_verdicts_and_doubts(opened):
    run = start(opened)
    say(run, "a", confidence=Confidence.GUESS)
    run.next()
    say(run, "a")
    run.next()
    say(run)

    score = run.score
    assert (score.right, score.wrong, score.blank, score.unsure, score.given, score.total) == (
        1, 1, 1, 1, 3, 4,
    )  # fmt: skip
    assert [question.number for question in run.missed()] == [2, 3]


def test_a_sitting_counts_what_it_promoted_and_settled(opened):
    respond(opened, NAMES[0], "wrong", "right")
    opened.now.go_on(days=2)
    respond(opened, NAMES[3], "right")
    run = start(opened, NAMES[0], NAMES[1], NAMES[3])
    say(run, "a")
    run.next()
    say(run, "b")
    run.next()
    run.record(run.given(verdict=Verdict.WRONG))

    assert run.moved() == TierMoves(promoted=2, settled=1)


def test_what_another_sitting_of_the_day_did_is_not_counted_as_promoted(opened):
    respond(opened, NAMES[0], "wrong")
    run = start(opened, NAMES[0])
    say(run, "a")

    assert run.moved() == TierMoves(promoted=0, settled=0)


def test_thinking_and_reading_are_recorded_apart_and_both_are_pace(opened):
    clock = [0.0]
    sitting = opened.open_sitting("Force", Purpose.REVISION, [NAMES[0], NAMES[1]])
    run = DrillSitting(opened, sitting, lambda: clock[0])
    clock[0] = 2.0
    say(run, "a")
    clock[0] = 27.0
    run.next()
    run.step(-1)
    clock[0] = 30.0
    run.next()

    [response] = opened.history.responses(NAMES[0])
    assert (response.seconds, opened.history.reading(response)) == (2.0, 28.0)
    assert (run.score.seconds, run.score.reading) == (2.0, 28.0)
    assert evidence_log(opened).responses.seconds.tolist() == [30.0]


def test_reading_counts_no_more_than_the_cap(opened):
    clock = [0.0]
    sitting = opened.open_sitting("Force", Purpose.REVISION, [NAMES[0]])
    run = DrillSitting(opened, sitting, lambda: clock[0])
    say(run, "a")
    clock[0] = 5_000.0
    run.close()

    [response] = opened.history.responses(NAMES[0])
    assert opened.history.reading(response) == opened.settings.idle_cap


def test_a_response_given_again_takes_the_place_of_the_first_and_keeps_its_time(opened):
    clock = [0.0]
    sitting = opened.open_sitting("Force", Purpose.REVISION, [NAMES[0], NAMES[1]])
    run = DrillSitting(opened, sitting, lambda: clock[0])
    clock[0] = 4.0
    say(run, "b")
    run.next()
    run = DrillSitting(opened, sitting, lambda: clock[0])
    run.step(-1)
    clock[0] = 9.0
    say(run, "a")

    [response] = opened.history.responses(NAMES[0])
    assert (response.chosen, response.seconds) == (("a",), 4.0)
    assert opened.history.standing(NAMES[0]).tier is Tier.CLEAR
    run.undo()
    [response] = opened.history.responses(NAMES[0])
    assert response.chosen == ("b",)


def test_a_correction_on_a_later_day_counts_for_the_day_of_what_it_corrects(opened):
    run = start(opened, NAMES[0], NAMES[1])
    say(run, "b")
    day = opened.today()
    opened.now.go_on(days=2)
    say(run, "a")

    [response] = opened.history.responses(NAMES[0])
    assert opened.history.day(response.at) == day


def test_a_sitting_whose_questions_were_answered_since_is_not_left_open(opened):
    left = start(opened, NAMES[0], NAMES[1])
    say(left, "a")
    assert [sitting.left for sitting in open_sittings(opened)] == [1]
    opened.now.go_on(seconds=60)
    respond(opened, NAMES[1], "right")

    assert open_sittings(opened) == []


def test_a_dispute_regrades_the_sitting(opened):
    run = start(opened, NAMES[0])
    say(run, "b")
    run.dispute(("b",), "page 9")

    assert run.score.right == 1
    assert run.remarks().dispute == "the bank's key is a, yours b: page 9"


def test_undo_never_reaches_beyond_the_sitting(opened):
    respond(opened, NAMES[3], "right")
    run = start(opened, NAMES[0])

    assert run.undo() is None
    assert opened.history.standing(NAMES[3]).tier is Tier.CLEAR


def test_undo_takes_notes_and_reasons_back_too(opened):
    run = start(opened)
    run.note("hm")
    undone = run.undo()

    assert undone.label == "the note"
    assert opened.history.note(NAMES[0]) == ""


def test_retired_questions_are_left_out_and_the_sitting_is_no_longer_offered(opened):
    from msgspec.structs import replace

    run = start(opened, NAMES[0])
    book = opened.banks["observer"]
    opened.save_bank(book.with_questions([replace(book.questions[NAMES[0]], retired=True)]))

    assert DrillSitting(opened, run.sitting.opened.id).is_over
    assert open_sittings(opened) == []


def test_a_sitting_that_is_not_there_is_said_so(opened):
    with pytest.raises(InputError, match="not found"):
        DrillSitting(opened, "nothing")


def test_more_options_than_letter_keys_are_answered_by_typing_the_letter(tmp_path):
    clouds = full(1, "Which one?", [f"cloud {n}" for n in range(12)], "k", shuffle=False)
    opened = library(tmp_path, bank("Observer", {"Wind": {"Force": [clouds]}}))
    shown = start(opened, NAMES[0]).shown

    assert shown.is_typed
    assert drill.typed_response(shown, " K?") == (("k",), Confidence.UNSURE)
    assert drill.typed_response(shown, "") == ((), Confidence.SURE)
    for text in ("m", "a b", "kk2"):
        with pytest.raises(InputError, match="is not one letter from a to l"):
            drill.typed_response(shown, text)
