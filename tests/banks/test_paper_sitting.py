"""Papers from drawing to result, without a screen."""

from collections import Counter
from collections.abc import Iterable
from datetime import time, timedelta
from fractions import Fraction
from random import Random
from statistics import median
from typing import NamedTuple

import pytest
from msgspec.structs import replace

from banks.library import Library
from banks.sittings.paper_sitting import AnswerState, PaperKey, PaperSitting, print_paper
from banks.store.folder import Store
from banks.views.evidence_log import evidence_log
from banks.views.exam import (
    changed,
    drawable,
    exam_blueprint,
    parse_sections,
    sections_text,
)
from banks.views.open_sittings import open_sittings
from banks.views.papers import (
    DrawnPaper,
    awaiting_key,
    begin,
    deadline,
    draw,
    hand_in,
    marked,
    next_mark,
    paper_report,
    papers_taken,
    papers_to_finish,
    under_way,
)
from domain.errors import InputError
from domain.marking.blueprint import Blueprint, Draw, ExamBlueprint, Section
from domain.marking.schemes import MultipleRule
from domain.responses import Medium, PaperKind, Purpose, Reason
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict
from tests.banks.studied import book
from tests.builders import FakeClock, bank, bares, library
from tui.screens.paper_result import result_text

PAPER = Blueprint(
    sections=(Section("book/clouds", 3), Section("book/maps", 2, "+2/−1")), minutes=10
)  # fmt: skip


class Tick:
    """A stopwatch that is pushed on by hand."""

    def __init__(self) -> None:
        self.at = 0.0

    def __call__(self) -> float:
        return self.at


@pytest.fixture
def opened(tmp_path) -> Library:
    return library(tmp_path, book(), clock=FakeClock())


@pytest.fixture
def tick() -> Tick:
    return Tick()


@pytest.fixture
def exam(opened, tick) -> PaperSitting:
    return _begun(opened, tick=tick)


def drawn(opened: Library, kind: PaperKind, seed: int, questions: int | None = None) -> DrawnPaper:
    return draw(opened, evidence_log(opened), kind, seed, questions)


def _begun(opened: Library, paper: Blueprint = PAPER, tick: Tick | None = None) -> PaperSitting:
    opened.save_settings(replace(opened.settings, paper=paper))
    begin(opened, drawn(opened, PaperKind.MOCK, 5), 5)
    return PaperSitting(opened, under_way(opened), tick or Tick())


def _key(exam: PaperSitting) -> tuple[str, ...]:
    return exam.shown.answer_key


def _wrong(exam: PaperSitting) -> tuple[str, ...]:
    if exam.shown.is_typed:
        return ("-1",)
    return (next(letter for letter in "abcd" if letter not in exam.shown.answer_key),)


def test_a_right_answer_moves_no_tier_before_it_counts_and_all_do_after(opened, exam):
    for _ in range(5):
        exam.give(_key(exam))
        exam.go_on()

    result_page = exam.hand_in()

    assert (result_page.marks, result_page.best, result_page.known) == (16, 16, 5)
    assert {opened.history.standing(q).tier for q in exam.sitting.opened.questions} == {Tier.CLEAR}


def test_what_was_passed_over_is_blank_and_what_was_not_reached_stays_as_it_was(opened, exam):
    questions = exam.sitting.opened.questions
    exam.go(2)
    exam.give(_key(exam))

    result_page = exam.hand_in()

    assert sum(part.blank for part in result_page.parts) == 4
    verdicts = [opened.history.verdict(response) for response in exam.sitting.given.values()]
    assert sorted(verdicts) == [Verdict.BLANK] * 2 + [Verdict.RIGHT]
    tiers = [opened.history.standing(question).tier for question in questions]
    assert tiers == [Tier.HARD, Tier.HARD, Tier.CLEAR, Tier.UNTRIED, Tier.UNTRIED]
    assert under_way(opened) is None


def test_a_changed_answer_counts_once_and_is_followed(opened, exam):
    question = exam.shown.question.id
    exam.give(_wrong(exam))
    exam.give(_key(exam))
    other = exam.index + 1
    exam.go(other)
    exam.give(_key(exam))
    exam.give(_wrong(exam), Confidence.GUESS)

    result_page = exam.hand_in()

    assert opened.history.standing(question).tier is Tier.CLEAR
    assert (result_page.changes.to_right, result_page.changes.to_wrong) == (1, 1)
    assert result_page.guesses == 1
    assert result_page.without_guesses == result_page.marks + 1


def test_an_answer_that_was_taken_back_is_blank(exam):
    exam.give(_wrong(exam))
    exam.give(())

    assert exam.answer is None
    assert exam.state(exam.index) is AnswerState.OPEN
    assert exam.hand_in().marks == 0


def test_seconds_are_those_spent_on_the_question_over_all_its_visits(exam, tick):
    tick.at = 10
    exam.go(1)
    tick.at = 25
    exam.go(0)
    tick.at = 32
    exam.give(_key(exam))

    assert exam.sitting.given[exam.shown.question.id].seconds == 17


def test_parked_questions_come_back_after_the_open_ones(exam):
    exam.park()
    order = []
    for _ in range(5):
        exam.go_on()
        order.append(exam.index)
        exam.give(_key(exam))

    assert order == [1, 2, 3, 4, 0]
    assert exam.count(AnswerState.ANSWERED) == 5
    assert not exam.parked


def test_a_crash_loses_nothing_and_the_clock_runs_on(tmp_path):
    clock = FakeClock()
    opened = library(tmp_path, book(), clock=clock)
    exam = _begun(opened)
    exam.give(_key(exam))
    opened.close()
    clock.go_on(seconds=240)

    again = Library(Store.open(tmp_path), clock)
    resumed = PaperSitting(again, under_way(again), Tick())

    assert resumed.left == timedelta(minutes=6)
    assert resumed.count(AnswerState.ANSWERED) == 1
    assert resumed.index == 1
    assert deadline(resumed.sitting) == exam.sitting.opened.at + timedelta(minutes=10)


def test_once_the_time_is_up_nothing_more_is_taken(opened, exam):
    opened.now.go_on(seconds=601)

    assert exam.is_up
    with pytest.raises(InputError, match="Time is up"):
        exam.give(_key(exam))
    assert exam.sitting.given == {}


def test_a_paper_is_open_until_it_is_handed_in(opened, exam):
    assert [sitting.purpose for sitting in open_sittings(opened)] == [Purpose.PAPER]

    hand_in(opened, exam.sitting)

    assert open_sittings(opened) == []


def test_the_result_follows_a_corrected_key(opened, exam):
    wrong = _wrong(exam)
    exam.give(wrong)
    before = exam.hand_in().marks

    opened.dispute(exam.shown.question.id, wrong)

    assert marked(opened, exam.sitting).marks == before + 5


def test_several_keys_are_marked_option_by_option_where_the_blueprint_says_so(opened):
    paper = Blueprint(
        sections=(Section("book/maps", 44),), minutes=60, multiple=MultipleRule.PER_OPTION
    )
    exam = _begun(opened, paper)
    names = [question.id for question in exam.questions]
    exam.go(names.index("book/maps.signs/3"))
    exam.give(("a",))

    assert exam.hand_in().parts[0].marks == Fraction(2, 3) * 4 - Fraction(1, 3)


def test_papers_handed_in_are_listed_and_say_where_the_next_lies(opened):
    for rights in (5, 4, 5):
        exam = _begun(opened)
        for _ in range(rights):
            exam.give(_key(exam))
            exam.go_on()
        hand_in(opened, exam.sitting)
        opened.now.go_on(days=1)

    papers = papers_taken(opened)
    low, high = next_mark(papers)

    assert [paper.right for paper in papers] == [5, 4, 5]
    assert low < sum(paper.marks / paper.best for paper in papers) / 3 < high
    assert next_mark(papers[:1]) is None


def test_a_paper_is_drawn_from_what_has_a_key(tmp_path):
    opened = library(tmp_path, bank("Bare", {"Wind": {"Force": bares(30)}}), book())
    read = evidence_log(opened)

    assert {part.subject for part in exam_blueprint(opened, read).sections} == {
        "bare/wind", "book/clouds", "book/wind", "book/maps",
    }  # fmt: skip
    paper = drawable(opened, read)
    assert {part.subject for part in paper.sections} == {"book/clouds", "book/wind", "book/maps"}
    assert paper.questions == 100


def test_without_any_key_there_is_no_paper(tmp_path):
    opened = library(tmp_path, bank("Bare", {"Wind": {"Force": bares(3)}}))

    with pytest.raises(InputError, match="needs questions with an answer key"):
        drawable(opened, evidence_log(opened))


def test_the_blueprint_is_changed_field_by_field_and_kept(opened):
    read = evidence_log(opened)
    paper = changed(
        read, drawable(opened, read), questions=30, minutes=25, scheme="+3/-1",
        draw=Draw.WEIGHTED, hard_share=0.5,
    )  # fmt: skip
    opened.save_settings(replace(opened.settings, paper=paper))

    kept = Library(Store.open(opened.store.folder, read_only=True)).settings.paper
    assert kept == paper
    assert (paper.questions, paper.minutes, paper.scheme) == (30, 25, "+3/−1")


def test_sections_are_set_subject_by_subject_each_with_its_scheme(opened):
    read = evidence_log(opened)
    paper = changed(
        read,
        drawable(opened, read),
        sections="clo 7; Maps 3 +2/-1;",
        multiple=MultipleRule.PER_OPTION,
    )

    assert paper.sections == (Section("book/clouds", 7), Section("book/maps", 3, "+2/−1"))
    assert paper.multiple is MultipleRule.PER_OPTION
    assert sections_text(read, paper) == "Clouds 7; Maps 3 +2/−1"
    assert parse_sections(read, sections_text(read, paper)) == paper.sections


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "name each subject"),
        ("Clouds", "a section reads like"),
        ("Tides 3", "is no subject of the banks"),
        ("Clouds 3; clo 4", "once"),
        ("Clouds 41", "40 questions with a key"),
        ("Clouds 3 +1/+2", "worth most"),
    ],
)
def test_sections_that_cannot_be_say_why(opened, text, message):
    with pytest.raises(InputError, match=message):
        parse_sections(evidence_log(opened), text)


@pytest.mark.parametrize(
    "fields",
    [{"questions": 125}, {"questions": 0}, {"minutes": 0}, {"scheme": "x"}, {"hard_share": 2.0}],
)
def test_what_makes_no_paper_is_refused(opened, fields):
    read = evidence_log(opened)

    with pytest.raises(InputError):
        changed(read, drawable(opened, read), **fields)


def test_a_mock_paper_changes_nothing_of_the_exam(opened):
    read = evidence_log(opened)
    before = exam_blueprint(opened, read)

    paper = changed(read, drawable(opened, read), questions=10, minutes=5, scheme="+2/−1")
    opened.save_settings(replace(opened.settings, paper=paper))

    assert drawable(opened, read).questions == 10
    assert exam_blueprint(opened, read) == before


def test_until_told_the_exam_is_neutral_and_told_it_sets_the_mock_paper_too(opened):
    read = evidence_log(opened)
    assert exam_blueprint(opened, read).scheme == drawable(opened, read).scheme == "+1/0"

    exam = ExamBlueprint(questions=200, minutes=180, scheme="+4/−1", hour=time(10))
    opened.save_settings(replace(opened.settings, exam=exam))

    blueprint = exam_blueprint(opened, read)
    assert (blueprint.questions, blueprint.minutes, blueprint.scheme) == (200, 180, "+4/−1")
    mock = drawable(opened, read)
    assert (mock.questions, mock.minutes, mock.scheme) == (124, 112, "+4/−1")


def test_the_exam_may_have_sections_of_subjects_without_a_key(opened):
    read = evidence_log(opened)

    sections = parse_sections(read, "Clouds 90; Maps 60 +2/−1", for_exam=True)
    opened.save_settings(replace(opened.settings, exam=ExamBlueprint(sections=sections)))

    assert exam_blueprint(opened, read).questions == 150


# from the printed bank


@pytest.fixture
def printed(tmp_path) -> Library:
    """Forty bare numbers in two subjects, an exam of thirty with a scheme."""
    subjects = {title: {f"{title} {n}": bares(10) for n in (1, 2)} for title in ("Wind", "Ice")}
    opened = library(tmp_path, bank("Bare", subjects), clock=FakeClock())
    exam = ExamBlueprint(questions=30, minutes=60, scheme="+4/−1")
    opened.save_settings(replace(opened.settings, exam=exam))
    return opened


def _taken(opened: Library, kind: PaperKind, letters: str, questions: int = 20) -> PaperSitting:
    """A paper from the book, these letters given in turn; a space leaves one blank."""
    paper = drawn(opened, kind, 3, questions)
    begin(opened, paper, 3)
    exam = PaperSitting(opened, under_way(opened), Tick())
    for letter in letters:
        if letter != " ":
            confidence = Confidence.UNSURE if letter.isupper() else Confidence.SURE
            exam.give((letter.lower(),), confidence)
        exam.go(exam.index + 1)
    return exam


def test_a_sample_paper_spreads_evenly_over_bare_numbers_in_book_order(printed):
    paper = drawn(printed, PaperKind.SAMPLE, 3, 20)

    order = [question.id for _, question in printed.active_questions()]
    places = [order.index(question) for question in paper.questions]
    assert [place // 2 for place in places] == list(range(20))
    assert paper.blueprint.sections == (Section("bare/wind", 10), Section("bare/ice", 10))
    assert (paper.blueprint.minutes, paper.blueprint.scheme) == (40, "+4/−1")
    assert drawn(printed, PaperKind.SAMPLE, 4, 20) != paper


def test_a_rehearsal_is_full_length_by_the_exam_and_in_book_order(printed):
    paper = drawn(printed, PaperKind.REHEARSAL, 3)

    order = [question.id for _, question in printed.active_questions()]
    assert (len(set(paper.questions)), paper.blueprint.minutes) == (30, 60)
    assert list(paper.questions) == sorted(paper.questions, key=order.index)


def test_letters_taken_blind_count_for_nothing_until_their_key_is_typed(printed):
    exam = _taken(printed, PaperKind.SAMPLE, "abC d")
    first, second, third, _, fifth = exam.sitting.opened.questions[:5]
    exam.hand_in()

    assert awaiting_key(printed, exam.sitting) == [first, second, third, fifth]
    assert [printed.history.standing(response).tier for response in (first, second)] == [
        Tier.UNTRIED
    ] * 2
    assert printed.history.standing(exam.questions[3].id).tier is Tier.HARD
    assert papers_to_finish(printed)[0].closed
    assert [sitting.needs_key for sitting in open_sittings(printed)] == [4]

    key = PaperKey(printed, exam.sitting)
    key.letter(0)
    key.letter(2)
    assert key.undo()
    key.letter(3)
    key.judge(Verdict.WRONG)
    key.letter(3)
    assert [key.verdict(n) for n in range(4)] == [
        Verdict.RIGHT, Verdict.WRONG, Verdict.WRONG, Verdict.RIGHT,
    ]  # fmt: skip
    key.save()

    result_page = marked(printed, exam.sitting)
    assert (result_page.marks, awaiting_key(printed, exam.sitting)) == (4 - 1 - 1 + 4, [])
    assert printed.question(second).answer_key == ("d",)
    assert printed.question(third).answer_key == ()
    assert printed.history.standing(second).tier is Tier.HARD
    assert papers_to_finish(printed) == open_sittings(printed) == []

    printed.undo()
    assert len(awaiting_key(printed, exam.sitting)) == 4
    assert printed.question(second).answer_key == ()


def test_a_paper_ended_without_a_result_is_no_paper_taken_unless_it_was_handed_in_too(printed):
    exam = _taken(printed, PaperKind.SAMPLE, "abcd" * 10)
    printed.close_sitting(exam.sitting.opened.id, discarded=True)
    reopened = Library(Store.open(printed.store.folder, read_only=True), printed.now)
    for seen in (printed, reopened):
        assert papers_taken(seen) == papers_to_finish(seen) == open_sittings(seen) == []
        assert under_way(seen) is None

    printed.close_sitting(exam.sitting.opened.id)  # as a merge brings it from another machine
    assert [summary.sitting for summary in papers_taken(printed)] == [exam.sitting.opened.id]


def test_papers_are_practice_that_nothing_is_learnt_from(printed):
    exam = _taken(printed, PaperKind.SAMPLE, "a")
    exam.hand_in()
    key = PaperKey(printed, exam.sitting)
    key.letter(0)
    key.save()

    read = evidence_log(printed)

    assert read.trials() == []
    rights = zip(read.now.practice.rights.tolist(), read.ids, strict=True)
    assert [own for own in rights if own[0]] == [(1, exam.sitting.opened.questions[0])]


def test_a_printed_paper_lists_its_numbers_and_has_no_clock(printed, tmp_path):
    paper: DrawnPaper = drawn(printed, PaperKind.SAMPLE, 3, 20)
    sheet = tmp_path / "paper.txt"
    print_paper(printed, paper, 3, sheet)
    printed.now.go_on(days=1)
    tick = Tick()
    exam = PaperSitting(printed, papers_to_finish(printed)[0], tick)
    tick.at = 30
    exam.give(("b",))

    text = sheet.read_text(encoding="utf-8")
    assert "Wind 1 (5)" in text
    assert "[ ] no. 20" in text
    assert "[ ][ ]" not in text
    assert (exam.left, exam.is_up, exam.sitting.opened.medium) == (None, False, Medium.PRINTED)
    assert exam.answer.seconds == 0


class AnswerRecord(NamedTuple):
    """What was done with one question, on a record of the test's own."""

    subject: str
    verdict: str
    confidence: str
    seconds: int
    reason: str
    options: int

    @property
    def marks(self) -> int:
        """+4/−1."""
        return {"right": 4, "wrong": -1, "blank": 0}[self.verdict]


def _sit_at_random(exam: PaperSitting, tick: Tick, dice: Random) -> list[AnswerRecord]:
    record = []
    for _ in exam.questions:
        shown = exam.shown
        options = 3 if shown.location.chapter.title == "Signs" else 4
        subject = shown.location.subject.title
        if shown.is_typed or shown.takes_several:
            record.append(AnswerRecord(subject, "blank", "blank", 0, "", 0))
        elif dice.random() < 0.15:
            record.append(AnswerRecord(subject, "blank", "blank", 0, "", options))
        else:
            is_right, seconds = dice.random() < 0.6, dice.randint(5, 90)
            confidence = dice.choice(list(Confidence))
            tick.at += seconds
            exam.give(_key(exam) if is_right else _wrong(exam), confidence)
            reason = "" if is_right else dice.choice(list(Reason))
            if reason:
                exam.library.reason(exam.answer.id, reason)
            verdict = "right" if is_right else "wrong"
            record.append(AnswerRecord(subject, verdict, confidence, seconds, reason, options))
        exam.go(exam.index + 1)
    return record


def _expected_page(record: list[AnswerRecord]) -> list[list[str]]:
    """The words of each line of the result page that the record gives, by arithmetic of its own."""

    def signed(value: float) -> str:
        is_short = abs(value * 100 - round(value * 100)) < 1e-9
        return (f"{value:.10g}" if is_short else f"{value:.1f}").replace("-", "−")

    def count(verdict: str, lines: Iterable[AnswerRecord] = record) -> int:
        return sum(line.verdict == verdict for line in lines)

    marks, right, wrong = sum(line.marks for line in record), count("right"), count("wrong")
    lines = [
        f"{signed(marks)} of 400 marks, {marks / 400:.0%}",
        f"{right} right, {wrong} wrong, {count('blank')} blank; won {4 * right}, lost {wrong}",
    ]
    for confidence in ("sure", "unsure", "guess"):
        own = [line for line in record if line.confidence == confidence]
        hits = count("right", own)
        gained = signed(sum(line.marks for line in own))
        lines.append(f"{confidence} {hits} of {len(own)} {hits / len(own):.0%} {gained}")
    lines.append(f"blank {count('blank')} 0")
    for number, name in enumerate(("first quarter", "second", "third", "last")):
        own = record[number * 25 : number * 25 + 25]
        timed = [line.seconds for line in own if line.seconds]
        lines.append(f"{name} {count('right', own) / 25:.0%} {sum(timed) / len(timed):.0f}")
    for subject in dict.fromkeys(line.subject for line in record):
        own = [line for line in record if line.subject == subject]
        gained = signed(sum(line.marks for line in own))
        counts = " ".join(str(count(verdict, own)) for verdict in ("right", "wrong", "blank"))
        each = sum(line.seconds for line in own) / len(own)
        lines.append(f"{subject} {gained} of {4 * len(own)} {counts} {each:.0f}")
    open_ = [line.options for line in record if line.verdict == "blank" and line.options]
    filled, struck = (
        sum((4 - (left - less - 1)) / (left - less) for left in open_) for less in (0, 1)
    )
    unguessed = marks - sum(line.marks for line in record if line.confidence == "guess")
    guesses = sum(line.confidence == "guess" for line in record)
    known = right - sum(1 / (line.options - 1) for line in record if line.verdict == "wrong")
    reasons = Counter(line.reason for line in record if line.reason).most_common()
    why = ", ".join(f"{reason} {times}" for reason, times in reasons)
    what = f"{'gained' if marks > unguessed else 'cost'} you {abs(marks - unguessed)}"
    lines += [
        f"{len(open_)} blanks, filled at random: about +{round(filled)} marks; with one "
        f"wrong option of each struck out: about +{round(struck)} marks.",
        f"Had you left your {guesses} guesses blank: {signed(unguessed)} marks; guessing {what}.",
        f"Why you missed or doubted: {why}.",
        f"Corrected for guessing: about {round(known)} known of {right} right.",
        "Half of the right answers took up to "
        f"{median(line.seconds for line in record if line.verdict == 'right'):.0f} s, of the wrong "
        f"ones up to {median(line.seconds for line in record if line.verdict == 'wrong'):.0f} s.",
    ]
    return [line.split() for line in lines]


def test_every_figure_of_the_result_page_follows_from_what_was_given(opened):
    exam_told = ExamBlueprint(questions=100, minutes=100, scheme="+4/−1")
    opened.save_settings(replace(opened.settings, exam=exam_told))
    begin(opened, drawn(opened, PaperKind.REHEARSAL, 2), 2)
    tick = Tick()
    exam = PaperSitting(opened, under_way(opened), tick)
    record = _sit_at_random(exam, tick, Random(4))
    exam.hand_in()

    report = paper_report(opened, exam.sitting)

    assert [
        (line.subject, line.verdict, line.seconds, line.reason or "") for line in report.questions
    ] == [(line.subject, line.verdict, line.seconds, line.reason) for line in record]
    assert len(report.missed) == sum(line.verdict != "right" for line in record)
    assert report.seconds == 60
    page = " ".join(result_text(report, 80).plain.split())
    for line in _expected_page(record):
        assert " ".join(line) in page
