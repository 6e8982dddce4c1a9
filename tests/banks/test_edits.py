"""Edits of banks are saved, and taken back one by one."""

import pytest
from msgspec.structs import replace

from banks.library import Library
from domain.editing import retired
from domain.errors import InputError
from domain.questions import Bank
from domain.tiers import Tier
from tests.builders import FakeClock, bank, full, library

NAME = "observer/wind.force/1"
BOOK = bank("Observer", {"Wind": {"Force": [full(1, "Which?", ["x", "y"], "a")]}})


@pytest.fixture
def opened(tmp_path) -> Library:
    return library(tmp_path, BOOK)


def test_a_changed_key_regrades_and_undo_regrades_back(opened):
    from banks.library import Given
    from domain.responses import Purpose

    opened.record([Given(question=NAME, chosen=("b",))], Purpose.REVISION)
    changed = replace(BOOK.questions[NAME], answer_key=("b",))
    opened.edits.save(BOOK.with_questions([changed]), [NAME], "the key")
    after = opened.history.standing(NAME).tier
    undone = opened.edits.undo()

    assert (after, undone.label) == (Tier.CLEAR, "the key")
    assert opened.history.standing(NAME).tier is Tier.HARD
    assert opened.banks["observer"].questions[NAME].answer_key == ("a",)


def test_edits_are_on_the_drive(opened, tmp_path):
    opened.edits.save(
        BOOK.with_questions(retired([BOOK.questions[NAME]])), [NAME], "one question retired"
    )
    opened.close()
    again = Library.open(tmp_path, FakeClock())

    assert again.banks["observer"].questions[NAME].retired
    again.close()


def test_undo_never_takes_back_what_something_else_changed_since(opened):
    edited = BOOK.with_questions(retired([BOOK.questions[NAME]]))
    opened.edits.save(edited, [NAME], "one question retired")
    imported = edited.with_questions([replace(BOOK.questions[NAME], stem="Other?")])
    opened.save_bank(imported)

    with pytest.raises(InputError, match="changed otherwise"):
        opened.edits.undo()
    assert opened.banks["observer"] is imported
    assert opened.edits.undo() is None


def test_a_new_bank_is_kept(opened):
    opened.edits.save(Bank(id="mine", title="Mine"), [], "a new bank")

    assert opened.edits.undo() is None
    assert "mine" in opened.banks
