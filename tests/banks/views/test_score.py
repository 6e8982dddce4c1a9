"""What is said of the score: papers of the bank anchor it, papers sat elsewhere shift it."""

from dataclasses import dataclass

import pytest
from msgspec.structs import replace

from banks.library import Library
from banks.sittings.paper_sitting import PaperSitting
from banks.views.evidence import evidence
from banks.views.evidence_log import evidence_log
from banks.views.papers import begin, draw, paper_report, under_way
from banks.views.score import (
    RECENT_DAYS,
    OutsideFigures,
    ScoreView,
    paper_lines,
    predicted_for,
    record_outside,
)
from domain.marking.blueprint import ExamBlueprint
from domain.responses import PaperKind
from tests.banks.studied import studied
from tui.score_words import (
    bank_words,
    outside_words,
    predicted_reason,
    target_words,
    too_short_words,
)


@dataclass
class Candidate:
    """A library with two months of history, and papers taken in it."""

    library: Library

    def sit(self, share: float, *, reached: int = 60) -> None:
        """A sample paper with this share right, so many questions of it; a day goes by."""
        read = evidence_log(self.library)
        paper = draw(self.library, read, PaperKind.SAMPLE, 1, 60)
        begin(self.library, paper, 1, predicted=predicted_for(self.library, read, paper))
        exam = PaperSitting(self.library, under_way(self.library))
        for n in range(reached):
            if not (exam.shown.is_typed or exam.shown.takes_several):
                key = exam.shown.answer_key
                is_right = n % 10 < 10 * share
                other = next(letter for letter in "abcd" if letter not in key)
                exam.give(key if is_right else (other,))
            exam.go(n + 1)
        exam.hand_in()
        self.library.now.go_on(days=1)

    def score(self) -> ScoreView:
        return evidence(self.library).score


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    folder = tmp_path_factory.mktemp("store")
    made = studied(folder)
    made.save_settings(replace(made.settings, exam=ExamBlueprint(questions=80, scheme="+4/−1")))
    return made


@pytest.fixture
def candidate(template):
    """The same history each time: what a test records is withdrawn again."""
    before = template.now.at
    yield Candidate(template)
    while template.newest:
        template.undo()
    template.now.at = before


def test_before_two_recent_papers_there_is_a_wide_range_and_why(candidate):
    first = candidate.score()
    candidate.sit(0.8)
    candidate.sit(0.8)
    anchored = candidate.score()
    candidate.library.now.go_on(days=RECENT_DAYS)
    later = candidate.score()

    assert (first.papers, first.predicted, first.keep) == (0, None, None)
    assert "Not enough yet for a single score: 2 more sample papers." in bank_words(first)
    assert predicted_reason(first)
    assert (anchored.papers, anchored.is_anchored) == (2, True)
    assert anchored.predicted == anchored.stop
    assert anchored.stop.high - anchored.stop.low < first.stop.high - first.stop.low
    assert "Anchored on 2 recent sample papers" in bank_words(anchored)
    assert predicted_reason(anchored) == ""
    assert later.papers <= 1


def test_a_paper_with_few_questions_marked_says_why_it_does_not_count(candidate):
    library = candidate.library
    candidate.sit(0.8, reached=7)
    short = list(library.history.sittings.values())[-1]
    first = candidate.score()
    report = paper_report(library, short)
    candidate.sit(0.8, reached=20)
    enough = list(library.history.sittings.values())[-1]

    assert (first.papers, first.papers_too_short) == (0, 1)
    assert bank_words(first).endswith(
        "2 more sample papers. 1 paper with fewer than 20 questions marked does not count."
    )
    assert too_short_words(report) == (
        "This paper does not count towards the predicted score: 7 of 60 questions marked, "
        "20 are needed."
    )
    assert candidate.score().papers == 1
    assert too_short_words(paper_report(library, enough)) == ""
    too_short = {line.sitting: line.is_too_short for line in paper_lines(library)}
    assert [too_short[paper.opened.id] for paper in (short, enough)] == [True, False]


def test_a_target_lies_beside_the_range(candidate):
    score = candidate.score()
    low, high = round(score.stop.low), round(score.stop.high)
    targets = {high + 1: "above", low - 1: "below", (low + high) // 2: "within"}

    assert target_words(score) == ""
    for target, place in targets.items():
        words = target_words(replace(score, target=target))
        assert words.startswith(f"Your target, {target}, lies {place} the range of")


def test_papers_better_than_the_model_says_lift_the_score_and_keep_what_was_said(candidate):
    before = candidate.score().stop.score
    candidate.sit(1.0)
    library = candidate.library

    assert candidate.score().stop.score > before
    newest = list(library.history.sittings.values())[-1]
    low, high = newest.opened.predicted
    assert low < high


def test_an_outside_paper_below_the_bank_gives_an_exam_score_below_the_banks(candidate):
    library = candidate.library
    assert candidate.score().outside is None
    assert "Not enough yet: 1 outside paper" in outside_words(candidate.score())
    for right in (70, 80):
        figures = OutsideFigures(day=library.today(), questions=200, right=right, wrong=100)
        record_outside(library, evidence_log(library), figures)

    score = candidate.score()

    assert score.predicted == score.outside
    assert score.outside.score < score.stop.score
    assert pytest.approx(score.outside.score, abs=45) == 5 * 75 / 200 * 80 - 80
    assert library.undo().label == "the outside paper"
    assert candidate.score().outside_papers == 1
