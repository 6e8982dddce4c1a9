"""What an import would do, told by the letters that are printed."""

from msgspec.structs import replace

from banks.intake.import_changes import ChangeKind, QuestionChange
from domain.questions import Kind, Option
from tests.builders import full, keyed
from tui.widgets.import_lines import change_words

BEFORE = full(1, "Which is force 8?", ("gale", "calm", "storm"), "a")
REORDERED = replace(
    BEFORE, options=(Option("c", "storm"), Option("a", "gale"), Option("b", "calm"))
)
"""As an edition may print it: options keep their ids by text, whatever their new letters."""


def told(before, after) -> str:
    return change_words(QuestionChange(ChangeKind.KEY_CHANGED, 2, before, after))


def test_a_changed_key_is_told_by_printed_letter_and_text():
    assert told(BEFORE, replace(REORDERED, answer_key=("c",))) == "key a) gale → a) storm"


def test_the_key_of_a_question_in_the_printed_bank_is_told_by_its_letters():
    assert told(keyed(1, "a"), keyed(1, "bd")) == "key a → b, d"


def test_an_accepted_text_is_told_as_it_is():
    before = full(1, "Q?", kind=Kind.TEXT, key="x")

    assert told(before, replace(before, answer_key=("Quebec", "QC"))) == "key x → Quebec, QC"
