"""The evidence as a view: what is counted, what is expected, what is said."""

from datetime import date, timedelta

import msgspec
import pytest
from msgspec.structs import replace

from banks.exporters.report_page import page, save
from banks.library import Given, Library
from banks.planning.first_study import say_studied
from banks.views.confusions import ConfusionKind, confusions
from banks.views.evidence import evidence
from banks.views.evidence_log import CONFIDENCES, PURPOSES, VERDICTS, evidence_log
from banks.views.progress import AT_MOST, ends
from banks.views.score import exam_chances
from banks.views.triage import waiting_state
from domain.errors import InputError
from domain.plan.inputs import PlanInputs
from domain.responses import Purpose, Reason
from domain.tiers import Judged, Tier, fold, is_waiting
from domain.verdicts import Verdict
from tests.banks.studied import STRENGTH, choose, studied
from tests.builders import MORNING, bank, bares, full, library, respond

TODAY = MORNING.date()


@pytest.fixture(scope="module")
def opened(tmp_path_factory) -> Library:
    return studied(tmp_path_factory.mktemp("store"))


@pytest.fixture(scope="module")
def shown(opened):
    return evidence(opened)


def test_every_response_and_every_question_is_counted(opened, shown):
    responses = sum(len(opened.history.responses(q.id)) for _, q in opened.active_questions())

    assert shown.responses == responses
    assert shown.questions == 124
    assert shown.tried == sum(
        opened.history.standing(q.id).tier is not Tier.UNTRIED for _, q in opened.active_questions()
    )


def test_subjects_and_chapters_tell_what_waits_and_is_settled(opened, shown):
    opened_at, rules = opened.today(), opened.history.rules
    for subject in shown.subjects:
        standings = [
            opened.history.standing(question.id)
            for location, question in opened.active_questions()
            if f"{location.bank.id}/{location.subject.id}" == subject.subject
        ]
        ready = subject.ready
        assert ready.questions == len(standings)
        assert ready.settled == sum(standing.settled for standing in standings) > 0
        assert ready.waiting == sum(
            is_waiting(standing, opened_at, rules.waiting_days) for standing in standings
        )
        chapters = [
            chapter.ready for chapter in shown.chapters if chapter.subject == subject.subject
        ]
        for field in ("questions", "untried", "hard", "settled", "waiting"):
            assert sum(getattr(chapter, field) for chapter in chapters) == getattr(ready, field)
    assert shown.waiting.settled == sum(subject.ready.settled for subject in shown.subjects)


def test_what_chapters_are_expected_to_bring_adds_up_to_their_subject(shown):
    clouds = shown.subjects[0]
    chapters = [chapter.ready for chapter in shown.chapters if chapter.subject == clouds.subject]

    assert sum(chapter.expected for chapter in chapters) == pytest.approx(clouds.ready.expected)
    assert sum(chapter.best for chapter in chapters) == pytest.approx(clouds.ready.best)


def test_where_too_little_was_tried_nothing_is_expected(shown):
    signs = next(chapter for chapter in shown.chapters if chapter.title == "Signs")

    assert (signs.ready.untried, signs.ready.expected) == (4, None)
    assert shown.subjects[2].ready.expected is not None


def test_pace_is_the_candidates_own_per_subject(shown):
    assert [subject.pace.median for subject in shown.subjects] == [40, 60, 60]


def test_the_weakest_subject_brings_least_and_an_hour_costs_nothing(shown):
    clouds, wind, maps = shown.subjects

    assert all(subject.hour is None or subject.hour >= 0 for subject in shown.subjects)
    assert maps.ready.expected < wind.ready.expected < clouds.ready.expected
    assert sum(subject.ready.expected for subject in shown.subjects) == pytest.approx(
        shown.forecast.mark
    )


def test_the_forecast_lies_where_the_true_shares_put_it(shown):
    truth = sum(
        STRENGTH[subject.subject.partition("/")[2]] * subject.ready.best
        for subject in shown.subjects
    )

    assert shown.forecast.low < truth < shown.forecast.high
    assert shown.forecast.mark == pytest.approx(shown.score.stop.score)
    assert "rests on assumption" in shown.forecast.sentence  # the chapter of signs is untried


def test_the_last_week_stands_where_the_questions_stand_today(shown):
    last, subjects = shown.weeks[-1], shown.subjects

    assert (
        last.settled
        == shown.waiting.settled
        == sum(subject.ready.settled for subject in subjects)
        > 0
    )
    assert last.waiting == shown.waiting.waiting
    assert last.untried == shown.questions - shown.tried


def test_each_week_stands_as_the_history_up_to_it(opened, shown):
    history, rules = opened.history, opened.history.rules
    for week in shown.weeks[1::3]:
        standings = [
            fold(
                [
                    Judged(day, history.verdict(response), response.confidence)
                    for response in history.responses(question.id)
                    if (day := history.day(response.at)) <= week.day
                ],
                rules,
            )
            for _, question in opened.active_questions()
        ]
        assert week.settled == sum(standing.settled for standing in standings)
        waiting = [is_waiting(standing, week.day, rules.waiting_days) for standing in standings]
        assert week.waiting == sum(waiting)
        assert week.untried == sum(standing.tier is Tier.UNTRIED for standing in standings)


def test_the_last_week_expects_what_is_expected_today(shown):
    last = shown.weeks[-1]

    assert last.day == shown.today
    assert last.mark == pytest.approx(shown.if_today.mark)


def test_coverage_only_grows_and_without_a_plan_nothing_is_due(shown):
    revised = [week.revised for week in shown.weeks]

    assert revised == sorted(revised)
    assert {week.due for week in shown.weeks} == {None}
    assert shown.rounds == []
    assert shown.sweeps is None


def test_with_a_plan_both_rounds_stand_against_it(opened):
    settings = opened.settings
    opened.save_settings(replace(settings, plan=PlanInputs(exam=TODAY.replace(month=8))))
    try:
        planned = evidence(opened)
    finally:
        opened.save_settings(settings)

    assert [covered.round for covered in planned.rounds] == [1, 2]
    assert sum(covered.planned for covered in planned.rounds) == planned.questions
    assert all(
        covered.done <= covered.planned and covered.due <= covered.planned
        for covered in planned.rounds
    )
    due = [week.due for week in planned.weeks]
    assert due == sorted(due)
    assert due[-1] > 0
    assert 0 < planned.sweeps.due <= planned.sweeps.planned
    assert planned.sweeps.done == 0


def test_first_study_counts_what_was_tried_and_what_was_said_to_be_studied(tmp_path):
    chapters = {"Force": bares(3), "Gusts": bares(5)}
    opened = library(tmp_path, bank("Book", {"Wind": chapters, "Sea": {"State": bares(4)}}))
    respond(opened, "book/wind.force/1", "wrong")
    say_studied(opened, "book", "wind", "wind.gusts")

    study = evidence(opened).first_study
    assert (study.studied, study.questions) == (1 + 5, 12)


def test_columns_tell_what_the_history_tells_of_each_question(tmp_path):
    made = studied(tmp_path, days=20)
    names = [question.id for _, question in made.active_questions()]
    made.dispute(names[3], ("d",))
    made.set_tier(names[4], Tier.HARDER, "seen in the book")
    made.set_tier(names[-1], Tier.HARD, "seen in the book")
    choose(made, names[5], "a", "b")
    made.now.go_on(days=-3)
    choose(made, names[6], "b")
    made.now.go_on(days=3)
    choose(made, names[6], "b")

    read, history, today = evidence_log(made), made.history, made.today()

    assert read.ids == names
    stood = [history.standing(name) for name in names]
    assert read.now.tiers.tolist() == [standing.tier for standing in stood]
    assert read.now.signs.tolist() == [standing.signs for standing in stood]
    assert read.now.settled.tolist() == [standing.settled for standing in stood]
    before = [history.standing_before(name, today) for name in names]
    assert read.morning.tiers.tolist() == [standing.tier for standing in before]
    assert read.morning.signs.tolist() == [standing.signs for standing in before]
    expected = []
    for number, name in enumerate(names):
        newest = date.min
        for day, mark, seconds in history.tallied(name):
            if not isinstance(mark, Tier):
                is_stated = mark.is_chosen and day > newest
                newest = max(newest, day)
                expected.append(
                    (number, day.toordinal(), mark.verdict, mark.confidence, mark.purpose, seconds,
                     is_stated)
                )  # fmt: skip
    columns = [column.tolist() for column in read.responses]
    columns[2:5] = [
        [words[number] for number in column]
        for words, column in zip((VERDICTS, CONFIDENCES, PURPOSES), columns[2:5], strict=True)
    ]
    assert list(zip(*columns, strict=True)) == expected
    assert evidence(made).waiting == waiting_state(made)


def test_the_diary_adds_up_to_what_was_answered_and_what_is_settled(opened, shown):
    answered = {
        (name, response.at.date())
        for name in opened.history.questions()
        for response in opened.history.responses(name)
    }
    settled = shown.weeks[-1].settled

    assert sum(day.questions for day in shown.diary) == len(answered)
    assert [day.day for day in shown.diary] == sorted({day for _, day in answered}, reverse=True)
    assert all(day.missed <= day.questions for day in shown.diary)
    assert sum(day.settled for day in shown.diary) >= settled > 0


def test_an_empty_store_says_so_without_figures(tmp_path):
    shown = evidence(library(tmp_path, bank("Book", {"Wind": {"Force": bares(3)}})))

    assert (shown.responses, shown.weeks, shown.calibration.brier) == (0, [], None)
    assert shown.subjects[0].ready.expected is None
    assert "Too few responses" in shown.memory.sentence
    assert shown.forecast.untried == 1


def test_no_bank_at_all_breaks_nothing(tmp_path):
    assert evidence(library(tmp_path)).forecast.best == 0


def test_what_was_read_is_kept_until_something_changes(tmp_path):
    opened = studied(tmp_path, days=5)
    before = evidence_log(opened)

    assert evidence_log(opened) is before
    choose(opened, "book/maps.signs/1", "b")
    assert evidence_log(opened) is not before
    after = evidence_log(opened)
    opened.undo()
    assert evidence_log(opened) is not after
    opened.dispute("book/maps.signs/1", ("c",))
    disputed = evidence_log(opened)
    opened.now.go_on(days=1)
    assert evidence_log(opened) is not disputed


def test_models_are_those_of_the_full_days_before_today_and_counts_are_of_now(tmp_path):
    opened = studied(tmp_path, days=20)
    before, chances = evidence(opened), exam_chances(opened, evidence_log(opened))
    for number in range(1, 21):
        choose(opened, f"book/wind.chapter-1/{number}", "abcd"[(number + 1) % 4])

    after = evidence(opened)
    assert exam_chances(opened, evidence_log(opened)) == chances
    assert after.memory == before.memory
    assert after.responses == before.responses + 20
    assert after.forecast.mark != before.forecast.mark

    opened.now.go_on(days=1)
    assert exam_chances(opened, evidence_log(opened)) != chances


def test_what_is_mixed_up_is_told_in_the_questions_own_words(tmp_path):
    opened = studied(tmp_path, days=1)
    choose(opened, "book/maps.signs/1", "b", "b", "c")
    choose(opened, "book/maps.signs/2", "a", "c")

    mixed = confusions(opened)

    option = next(confusion for confusion in mixed if confusion.kind is ConfusionKind.OPTION)
    assert (option.questions[0].chosen_text, option.questions[0].key_text) == ("flag", "cross")
    pair = next(confusion for confusion in mixed if confusion.kind is ConfusionKind.QUESTIONS)
    assert [question.stem for question in pair.questions] == [
        "Which sign is a church?",
        "Which sign is a golf course?",
    ]
    assert (option.times, pair.times, len(mixed)) == (2, 3, 2)


def test_what_was_said_to_be_mixed_up_in_the_printed_bank_is_told_by_days(tmp_path):
    opened = library(tmp_path, bank("Book", {"Wind": {"Force": bares(3)}}))
    for number in (2, 2, 3):
        mixed = Given(
            question=f"book/wind.force/{number}", verdict=Verdict.RIGHT, reason=Reason.MIXED_UP
        )
        opened.record([mixed], Purpose.STUDY)
        opened.now.go_on(days=1)

    mixed_up = confusions(opened)
    assert [
        (confusion.kind, confusion.questions[0].where, confusion.times) for confusion in mixed_up
    ] == [
        (ConfusionKind.SAID, "Wind · Force · 2", 2),
        (ConfusionKind.SAID, "Wind · Force · 3", 1),
    ]


def test_the_evidence_goes_to_json_and_back(shown):
    decoded = msgspec.json.decode(msgspec.json.encode(shown))

    assert decoded["forecast"]["mark"] == pytest.approx(shown.forecast.mark)
    assert decoded["calibration"]["levels"]["sure"]["of"] > 0


@pytest.mark.parametrize(
    ("weeks", "points"), [(0, 1), (1, 2), (25, 26), (52, 27), (150, 26)]
)  # fmt: skip
def test_points_in_time_end_today_and_stay_few(weeks, points):
    days = ends(TODAY, TODAY + timedelta(weeks=weeks))

    assert days[-1] == TODAY + timedelta(weeks=weeks)
    assert days == sorted(set(days))
    assert len(days) <= AT_MOST + 1
    assert len(days) == points


def test_the_page_needs_nothing_else_and_shows_no_markup_of_a_bank(tmp_path):
    evil = [full(n, f"<script>alert({n})</script>", ["<b>yes</b>", "no"]) for n in (1, 2)]
    opened = library(tmp_path, bank("Book", {"Wind & <i>Sea</i>": {"Force": evil}}))
    choose(opened, "book/wind-i-sea-i.force/1", "b", "b", purpose=Purpose.REVISION)

    text = page(evidence(opened), confusions(opened))

    assert "<script" not in text
    assert "<i>Sea" not in text
    assert "Wind &amp; &lt;i&gt;Sea&lt;/i&gt;" in text
    assert "&lt;script&gt;alert(1)" in text
    assert not any(word in text for word in ("http://", "https://", "src=", "@import"))


def test_the_page_is_well_formed(shown):
    from lxml import html

    tree = html.fromstring(page(shown, ()))
    anchored = replace(shown, score=replace(shown.score, papers=2))

    # Week by week there are single scores: they wait for papers too.
    assert not tree.findall(".//svg")
    assert len(html.fromstring(page(anchored, ())).findall(".//svg")) == 1
    assert [heading.text for heading in tree.findall(".//h2")][:3] == [
        "Predicted score", "Covered so far", "Subjects and chapters",
    ]  # fmt: skip


def test_a_page_that_cannot_be_written_is_a_sentence(shown, tmp_path):
    with pytest.raises(InputError, match="nothing was written"):
        save(shown, (), tmp_path / "nowhere" / "report.html")
