"""What the evidence counts, and what it leaves out because it says nothing."""

from msgspec.structs import replace

from banks.exporters.report_page import page
from banks.library import Given
from banks.views.evidence import evidence, full_titles
from domain.responses import Purpose
from domain.verdicts import Confidence
from tests.banks.studied import choose
from tests.builders import bank, bares, full, library, respond
from tui.score_words import own_record_words


def book():
    return bank("Book", {"Wind": {"Force": [full(1, "Calm?", ["0", "1"], "a"), *bares(40)[1:]]}})


def said(opened):
    levels = evidence(opened).calibration.levels
    return {word: (rate.right, rate.of) for word, rate in levels.items() if rate.of}


def test_only_choices_say_how_sure_one_was_not_marks_with_the_book_open(tmp_path):
    opened = library(tmp_path, book())
    respond(opened, "book/wind.force/2", "wrong", "wrong")
    respond(opened, "book/wind.force/3", "right", confidence=Confidence.UNSURE)
    choose(opened, "book/wind.force/1", "b")

    assert said(opened) == {"sure": (0, 1)}
    assert evidence(opened).responses == 4


def test_a_question_taken_again_on_the_same_day_says_nothing_more(tmp_path):
    opened = library(tmp_path, book())
    choose(opened, "book/wind.force/1", "b", "a", "a")
    opened.now.go_on(days=1)
    choose(opened, "book/wind.force/1", "a")

    assert said(opened) == {"sure": (1, 2)}


def test_papers_and_drills_are_told_apart_each_from_fifty_on(tmp_path):
    questions = [full(number, f"{number}?", ["0", "1"], "a") for number in range(1, 111)]
    opened = library(tmp_path, bank("Book", {"Wind": {"All": questions}}))

    def choose_first(numbers, purpose, confidence=Confidence.UNSURE):
        """Every third wrong."""
        opened.record(
            [
                Given(
                    question=f"book/wind.all/{number}",
                    chosen=("a" if number % 3 else "b",),
                    confidence=confidence,
                )
                for number in numbers
            ],
            purpose,
        )

    choose_first(range(1, 62), Purpose.FREE)
    choose_first(range(62, 111), Purpose.PAPER)
    choose_first([1], Purpose.PAPER, Confidence.SURE)  # once more that day: says nothing
    view = evidence(opened).calibration
    opened.now.go_on(days=1)
    choose_first([1], Purpose.PAPER, Confidence.SURE)
    later = evidence(opened).calibration

    drills, papers = view.drills["unsure"], view.papers["unsure"]
    assert (drills.right, drills.of, papers.right, papers.of) == (41, 61, 33, 49)
    assert view.papers["sure"].of == 0
    record = "Your own record: unsure, you were right "
    assert own_record_words(view) == f"{record}in drills 41 of 61 (67%)."
    assert own_record_words(later) == (
        f"{record}in papers 33 of 49 (67%) and in drills 41 of 61 (67%)."
    )


def test_what_an_hour_is_worth_is_not_told_of_a_subject_that_was_never_tried(tmp_path):
    report = evidence(library(tmp_path, book()))

    assert report.subjects[0].ready.untried == 40
    assert report.subjects[0].hour is None


def test_a_small_bank_without_weights_does_not_crowd_out_one_with_weights(tmp_path):
    large = bank("Book", {"Wind": {"All": bares(300)}, "Tides": {"All": bares(60)}})
    large = large.with_subjects(replace(subject, weight=6) for subject in large.subjects)
    opened = library(tmp_path, large, bank("Notes", {"Wind": {"All": bares(40)}}))

    bests = [subject.ready.best for subject in evidence(opened).subjects]

    assert bests == [45, 45, 10]  # of 100 questions, one mark each: 90 and 10


def test_subjects_that_share_a_title_are_told_apart_by_their_banks(tmp_path):
    notes = bank("Notes", {"Wind": {"All": bares(4)}, "Maps": {"All": bares(4)}})
    opened = library(tmp_path, book(), notes)

    titles = full_titles(evidence(opened))

    assert list(titles.values()) == ["Wind · Book", "Wind · Notes", "Maps"]


def test_the_page_groups_subjects_by_bank_and_names_what_its_pictures_show(tmp_path):
    notes = bank("Notes", {"Wind": {"All": bares(4)}})
    opened = library(tmp_path, book(), notes)
    respond(opened, "book/wind.force/2", "wrong", "right")

    report = evidence(opened)
    text = page(replace(report, score=replace(report.score, papers=2)), ())

    assert text.index("<h3>Book</h3>") < text.index("<h3>Notes</h3>")
    assert text.count("<th>waiting</th><th>settled</th>") == 4  # two subjects, two chapters
    assert f">{report.forecast.best:.0f}</text>" in text  # the top of the forecast's scale
    assert "Are the predictions reliable?" in text
    assert "once per question and day" not in text  # nothing was said of confidence beforehand


def test_standings_are_of_the_banks_that_count_and_the_others_are_said(tmp_path):
    aside = bank("Aside", {"Sea": {"State": bares(7)}})
    opened = library(tmp_path, bank("Book", {"Wind": {"Force": bares(40)}}), aside)
    respond(opened, "book/wind.force/1", "wrong")
    respond(opened, "aside/sea.state/1", "wrong")
    opened.now.go_on(days=70)

    report = evidence(opened)
    now = report.weeks[-1]
    assert (report.questions, report.tried, report.elsewhere) == (40, 1, 7)
    assert (report.waiting.waiting, now.waiting, now.untried) == (1, 1, 39)
    assert "Not counted: 7 questions outside the plan." in page(report, ())

    opened.change_settings(plan=replace(opened.settings.plan, banks=("book", "aside")))
    report = evidence(opened)
    assert (report.questions, report.elsewhere, report.weeks[-1].waiting) == (47, 0, 2)
    assert "Not counted" not in page(report, ())
