"""A chapter's answer key laid on its questions."""

from msgspec.structs import replace

from banks.contents import Location
from banks.intake.keying import Keyed, key_in
from domain.questions import Bank, Kind, Option
from tests.builders import bank, bares, full


def place(made: Bank) -> Location:
    subject = made.subjects[0]
    return Location(made, subject, subject.chapters[0])


def key(made: Bank, text: str, first: int = 1) -> Keyed:
    return key_in(place(made), text, first)


BARE = bank("Book", {"Air": {"One": bares(6)}})


def test_a_key_makes_bare_questions_keyed() -> None:
    keyed = key(BARE, "1 b 2 c 3-a 4. (d) 5 b 6 a")
    assert [q.answer_key for q in keyed.bank.in_chapter("air.one")] == [(k,) for k in "bcadba"]
    assert (len(keyed.new), keyed.changed, keyed.without, keyed.problems) == (6, [], 0, [])


def test_a_part_of_the_key_will_do_and_a_correction_names_what_regrades() -> None:
    first = key(BARE, "1 b 2 c").bank
    keyed = key(first, "2 d 3 a")
    assert keyed.changed == ["book/air.one/2"]
    assert keyed.new == ["book/air.one/3"]
    assert keyed.without == 3


def test_what_does_not_fit_the_chapter_is_told_by_number() -> None:
    keyed = key(BARE, "1 b 2 e 4 a 4 c 27 b")
    assert {problem.number: problem.reason for problem in keyed.problems} == {
        2: "2: 'e' is not one of a–d",
        3: "3 has no letter",
        4: "4 occurs twice (a kept, c not)",
        27: "27 is not in the chapter (1–6)",
    }
    assert keyed.counts()["total"] == 2


def test_letters_stand_for_the_printed_order_of_a_full_question() -> None:
    turned = tuple(Option(id=letter, text=letter) for letter in "cab")
    made = bank("Book", {"Air": {"One": [full(1, "Q?", key="")]}})
    question = made.questions["book/air.one/1"]
    made = made.with_questions([replace(question, options=turned)])
    assert key(made, "1 a").bank.questions["book/air.one/1"].answer_key == ("c",)
    assert key(made, "1 d").problems[0].number == 1


def test_a_letter_is_no_key_for_a_question_that_is_answered_by_typing() -> None:
    made = bank(
        "Book",
        {"Air": {"One": [full(1, "Capital?", kind=Kind.TEXT, key="x"), *bares(3)[1:]]}},
    )
    keyed = key(made, "1 b 2 c 3 a")
    assert keyed.bank.questions["book/air.one/1"].answer_key == ("x",)
    assert [problem.number for problem in keyed.problems] == [1]
    assert keyed.new == ["book/air.one/2", "book/air.one/3"]


def test_a_number_that_the_chapter_does_not_have_is_no_gap_in_its_key() -> None:
    gappy = bank("Book", {"Air": {"One": [bares(9)[at] for at in (0, 1, 4, 8)]}})
    assert key(gappy, "1 b 2 c 5 a 9 d").problems == []
    assert [problem.number for problem in key(gappy, "1 b 5 a 9 d").problems] == [2]


def test_each_question_s_own_options_say_which_letters_there_are() -> None:
    made = bank("Book", {"Air": {"One": [full(1, "Q?", "vwxyz", "a"), *bares(3)[1:]]}})
    keyed = key(made, "1 e 2 e 3 d")
    assert keyed.bank.questions["book/air.one/1"].answer_key == ("e",)
    assert [problem.reason for problem in keyed.problems] == ["2: 'e' is not one of a–d"]
