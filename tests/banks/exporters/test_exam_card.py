"""The card for the exam's morning: its figures, and the same text in every format."""

from datetime import date, time

import pytest
from pypdf import PdfReader

from banks.exporters.exam_card import checkpoints, exam_card, to_bytes
from domain.errors import UsageError
from domain.marking.blueprint import ExamBlueprint
from tests.banks.studied import studied
from tui.cli import main
from tui.score_words import guessing_words

EXAM = ExamBlueprint(questions=200, minutes=210, scheme="+4/-1", hour=time(9))


def test_checkpoints_are_where_the_exams_own_pace_leads():
    assert list(checkpoints(EXAM)) == ["50 by 0:52", "100 by 1:45", "150 by 2:37", "200 by 3:30"]


def test_a_short_exam_has_as_many_checkpoints_as_questions():
    assert list(checkpoints(ExamBlueprint(questions=2, minutes=3))) == ["1 by 0:01", "2 by 0:03"]


@pytest.mark.parametrize(
    ("break_even", "beginning"),
    [
        (1 / 5, "Answer every one: break-even 20%"),
        (1 / 4, "Answer wherever you can strike out an option: break-even 25%"),
        (1 / 2, "Leave it blank unless at most 2 options are left: break-even 50%"),
        (0, "Answer every one: a wrong response costs no more"),
    ],
)
def test_the_guessing_rule_follows_from_the_scheme(break_even, beginning):
    """For +4/−1, +3/−1, +1/−1 and +1/0 among four options; computed by hand."""
    assert guessing_words(break_even, 1 / 4).startswith(beginning)


def text_of_pdf(content, path):
    path.write_bytes(content)
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_every_format_says_the_same(tmp_path):
    card = exam_card(EXAM, date(2027, 7, 5), ("admission card", "two <pens> & *ink*"), "Answer.")
    expected = ["Monday 5 July 2027, 09:00", "200 questions, 210 minutes", "50 by 0:52", "two"]
    texts = {ending: to_bytes(card, ending).decode() for ending in (".txt", ".md", ".html")} | {
        ".pdf": text_of_pdf(to_bytes(card, ".pdf"), tmp_path / "card.pdf")
    }
    for ending, text in texts.items():
        for words in expected:
            assert words in text, ending
    assert "&lt;pens&gt; &amp;" in texts[".html"]
    with pytest.raises(UsageError):
        to_bytes(card, ".doc")


def test_the_command_keeps_the_checklist_and_writes_the_card(tmp_path, capsys):
    studied(tmp_path / "store").close()
    call = ["--store", str(tmp_path / "store"), "--today", "2026-05-01", "exam"]
    path = tmp_path / "card.md"
    assert main([*call, "--scheme", "+4/-1", "--checklist", "admission card;  two pens;"]) == 0
    assert "To take along: admission card; two pens" in capsys.readouterr().out
    assert main([*call, "--card", str(path)]) == 0
    assert str(path) in capsys.readouterr().out
    assert "[ ] two pens" in path.read_text(encoding="utf-8")
    assert main([*call, "--card", str(tmp_path / "card.doc")]) == 2
