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
    opened.save_bank(BOOK.with_questions([changed]), [NAME], label="the key")
    after = opened.history.standing(NAME).tier
    undone = opened.undo()

    assert (after, undone.label) == (Tier.CLEAR, "the key")
    assert opened.history.standing(NAME).tier is Tier.HARD
    assert opened.banks["observer"].questions[NAME].answer_key == ("a",)


def test_edits_are_on_the_drive(opened, tmp_path):
    opened.save_bank(
        BOOK.with_questions(retired([BOOK.questions[NAME]])), [NAME], label="one question retired"
    )
    opened.close()
    again = Library.open(tmp_path, FakeClock())

    assert again.banks["observer"].questions[NAME].retired
    again.close()


def test_undo_never_takes_back_what_something_else_changed_since(opened):
    edited = BOOK.with_questions(retired([BOOK.questions[NAME]]))
    opened.save_bank(edited, [NAME], label="one question retired")
    imported = edited.with_questions([replace(BOOK.questions[NAME], stem="Other?")])
    opened.save_bank(imported)

    with pytest.raises(InputError, match="changed otherwise"):
        opened.undo()
    assert opened.banks["observer"] is imported
    assert opened.undo() is None


def test_a_new_bank_is_gone_after_undo_but_its_file_is_kept(opened, tmp_path):
    opened.save_bank(Bank(id="mine", title="Mine"), [], label="a new bank")

    assert opened.undo().label == "a new bank"
    assert "mine" not in opened.banks
    assert not (tmp_path / "banks" / "mine.json").exists()
    assert list(tmp_path.glob("former/*/mine.json"))
