"""Papers at the keyboard: clock, board, parking, changes, answer key, results."""

from datetime import timedelta

import pytest
from msgspec.structs import replace
from textual.pilot import Pilot

from banks.library import Library
from banks.sittings.paper_sitting import AnswerState
from banks.views.evidence_log import evidence_log
from banks.views.papers import papers_taken, papers_to_finish, under_way
from banks.views.score import OutsideFigures, record_outside
from domain.marking.blueprint import Blueprint, ExamBlueprint, Section
from domain.responses import OutsidePaper, PaperKind, Purpose
from domain.tiers import Tier
from domain.verdicts import Confidence
from tests.banks.studied import book
from tests.builders import FakeClock, bank, bares, full, library
from tests.published.keystroke_level import K_TYPIST, Way
from tests.tui.marking_stage import burst
from tests.tui.stage import Stage, messages_of, settled, text_of
from tui.dates import clock_words
from tui.screens.paper_result import PaperResult
from tui.screens.paper_sitting import PaperSittingScreen
from tui.screens.papers_overview import PapersScreen
from tui.widgets.virtual_list import VirtualList


@pytest.fixture
def opened(tmp_path) -> Library:
    made = library(tmp_path, book(), clock=FakeClock())
    made.save_settings(replace(made.settings, exam=ExamBlueprint(scheme="+4/−1")))
    return made


@pytest.fixture(autouse=True)
def _one_draw(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every paper is drawn the same way."""
    monkeypatch.setattr("tui.screens.papers_overview.getrandbits", lambda bits: 7)


async def front(pilot: Pilot) -> None:
    """The front page, once the log was read."""
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


async def to_mock(pilot: Pilot) -> None:
    """The mock paper's line."""
    await front(pilot)
    lines = pilot.app.screen.query_one(VirtualList)
    lines.selected = next(
        n for n, item in enumerate(lines.items) if getattr(item, "kind", None) is PaperKind.MOCK
    )
    await pilot.pause()


async def asked(pilot: Pilot, key: str, text: str = "") -> None:
    """Set one thing of the mock paper."""
    await pilot.press("K", key)
    if text:
        pilot.app.screen.query_one("Input").value = text
        await pilot.press("enter")
    await front(pilot)


async def begun(pilot: Pilot, questions: int = 6) -> PaperSittingScreen:
    """In a mock paper of so many questions."""
    await to_mock(pilot)
    await asked(pilot, "n", str(questions))
    await pilot.press("enter", "y")
    assert isinstance(pilot.app.screen, PaperSittingScreen)
    return pilot.app.screen


def key_of(screen: PaperSittingScreen) -> str:
    """The letter at which the key of the question that is up sits."""
    shown = screen.exam.shown
    return shown.seating.letter(shown.answer_key[0])


async def test_what_can_be_taken_is_listed_and_the_mock_paper_set_and_kept(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        await to_mock(pilot)
        first = text_of(app)
        await asked(pilot, "n", "30")
        await asked(pilot, "m", "20")
        await asked(pilot, "s", "+3/-1")
        await asked(pilot, "h", "0,5")
        await asked(pilot, "d")
        await asked(pilot, "k")
        shown = text_of(app)
        await asked(pilot, "b", "Clouds 5; Wind 2 +1/0")
        by_subject = [line.split() for line in text_of(app).split("\n") if "█" in line]
        messages = ""
        for key, typed in (("n", "many"), ("s", "+1/+2"), ("n", "9999")):
            await asked(pilot, key, typed)
            messages += " ".join(messages_of(app))

    for kind in ("Sample paper", "Rehearsal", "Mock paper"):
        assert any(
            kind in line and "100 questions in 100 minutes, +4/−1" in line
            for line in first.split("\n")
        )
    assert "30 questions in 20 minutes, +3/−1" in shown
    assert [(line[0], line[1], line[-1]) for line in by_subject] == [
        ("Clouds", "5", "█" * 20), ("Wind", "2", "+1/0"),
    ]  # fmt: skip
    assert "more of what was missed; hard-tiers 50%; several" in shown
    assert "per option" in shown
    assert opened.settings.paper.minutes == 20
    assert opened.settings.paper.questions == 7
    assert "“many” is not a number" in messages
    assert "right must be worth most" in messages
    assert "too few for a paper of 9999" in messages


async def test_a_hundred_bare_numbers_are_answered_and_keyed_in_few_keys(tmp_path):
    subjects = {name: {f"{name} {n}": bares(25) for n in range(4)} for name in ("Wind", "Ice")}
    opened = library(tmp_path, bank("Bare", subjects), clock=FakeClock())
    app = Stage(opened, PapersScreen())
    keys = ""
    async with app.run_test(size=(80, 24)) as pilot:

        async def typed(text: str) -> str:
            nonlocal keys
            keys += text
            await burst(app, text)
            return await settled(pilot)

        await front(pilot)
        await typed("\n")
        await typed("y")
        taken = await typed("aB " + "d" * 97)
        await typed("z")
        await typed("y")
        keyed = await typed("bb" + "d" * 50 + "kj" + "d" * 45)
        result = await typed("\n")

    assert "99 answered" in taken
    assert "99 of 99" in keyed
    # A capital takes a second key.
    assert len(keys) + sum(map(str.isupper, keys)) <= 230
    assert "97 of 100 marks" in result
    (summary,) = papers_taken(opened)
    assert (summary.right, summary.wrong, summary.blank) == (97, 2, 1)
    given = list(opened.sitting(summary.sitting).given.values())
    assert [response.confidence for response in given[:2]] == [Confidence.SURE, Confidence.UNSURE]


async def test_a_key_typed_out_of_turn_is_mended_and_what_is_left_waits(tmp_path):
    opened = library(tmp_path, bank("Bare", {"Wind": {"Force": bares(25)}}), clock=FakeClock())
    app = Stage(opened, PapersScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await front(pilot)
        await burst(app, "\n")
        await settled(pilot)
        await burst(app, "y")
        await settled(pilot)
        await burst(app, "a" * 25 + "z")
        await settled(pilot)
        await burst(app, "y")
        await settled(pilot)
        await pilot.press("a", "plus", "c", "space", "b", "u", "d", "up", "up", "j", "end", "b")
        typed = await settled(pilot)
        await pilot.press("escape")
        asked_to_leave = await settled(pilot)
        await pilot.press("escape")
        await pilot.press("enter")
        result = await settled(pilot)

    assert "4 of 25" in typed
    assert "4 letters not saved yet." in asked_to_leave
    assert "21 answers without a key yet: not counted here." in result
    key = [opened.question(f"bare/wind.force/{number}").answer_key for number in range(1, 6)]
    assert key == [("a", "c"), (), ("d",), ("b",), ()]
    (waiting,) = papers_to_finish(opened)
    assert waiting.closed


async def test_an_outside_paper_is_told_by_subject_in_forty_seconds(opened):
    app = Stage(opened, PapersScreen())
    figures = ("200", "140", "40", "12", "Clouds 70/20/10; Wind 70/20/10")
    day = opened.today() - timedelta(days=9)
    earlier = OutsideFigures(day=day, questions=100, right=64, wrong=16)
    record_outside(opened, evidence_log(opened), earlier)
    async with app.run_test(size=(80, 24)) as pilot:
        await front(pilot)
        await burst(app, "R")
        await pilot.pause()
        await pilot.press("ctrl+r")
        refused = await settled(pilot)
        await burst(app, "\n".join([*figures, ""]))
        while not isinstance(app.screen, PapersScreen):
            await pilot.pause()
        await front(pilot)
        listed = await settled(pilot)
        messages = messages_of(app)

    assert "a paper has at least one question" in refused
    assert messages == ["Outside paper recorded; u on Today undoes it."]
    assert "u" not in {
        key for action in PapersScreen.all_actions() for key in action.key.split(",")
    }
    _, paper = opened.history.records_of(OutsidePaper)
    assert (paper.questions, paper.right, paper.wrong, paper.blank) == (200, 140, 40, 20)
    assert (paper.day, paper.met) == (opened.today(), 12)
    assert paper.by_subject == (("Clouds", 70, 20, 10), ("Wind", 70, 20, 10))
    assert "Outside paper" in listed
    low, high = paper.predicted
    assert f"520 of 800    predicted {low:.0f}–{high:.0f}" in listed
    # R, each figure and its Enter; capitals take a second key. One thought for each number told.
    keys = [*"R", *"".join(figures), *figures]
    way = Way("outside paper", len(keys), sum(map(str.isupper, keys)), mental=11)
    assert way.seconds(K_TYPIST) <= 40


async def test_a_papers_numbers_are_printed_and_the_sheet_is_ended_without_a_result(
    opened, tmp_path
):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        await front(pilot)
        await pilot.press("P")
        app.screen.query_one("Input").value = str(tmp_path / "sample.txt")
        await pilot.press("enter")
        await front(pilot)
        printed = papers_to_finish(opened)
        listed = await settled(pilot)
        await pilot.press("home", "x", "n")
        kept = papers_to_finish(opened)
        await pilot.press("x", "y")
        await front(pilot)

    assert "Sample paper" in (tmp_path / "sample.txt").read_text(encoding="utf-8")
    assert len(printed[0].opened.questions) == 100
    assert "Enter it from this list." in listed
    assert kept == printed
    assert papers_to_finish(opened) == []
    assert papers_taken(opened) == []


async def test_without_questions_nothing_can_be_taken_and_it_says_why(tmp_path):
    app = Stage(library(tmp_path), PapersScreen())
    async with app.run_test() as pilot:
        await front(pilot)
        await pilot.press("enter", "P", "K", "x")
        shown = text_of(app)

    assert "a mock paper needs questions" in shown
    assert "A sample paper needs questions" in shown


async def test_one_key_answers_and_goes_on_and_nothing_is_told(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        screen = await begun(pilot)
        await pilot.press(key_of(screen), "B", "comma", "c")
        shown = text_of(app)
        given = list(screen.exam.sitting.given.values())

    assert [response.confidence for response in given] == list(Confidence)
    assert "4 of 6" in shown
    assert "3 answered" in shown
    assert not any(word in shown for word in ("Right", "Wrong", "✓", "✗", "hard", "clear "))


async def test_parking_the_board_and_coming_back(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        screen = await begun(pilot)
        await pilot.press("minus", "a")
        assert screen.exam.index == 2
        await pilot.press("o")
        board = text_of(app)
        await pilot.press("6", "enter")
        assert screen.exam.index == 5
        await pilot.press("o", "up", "left", "enter", "left", "right")

    assert "1?" in board
    assert "2*" in board
    assert "1 parked" in board
    assert screen.exam.state(0) is AnswerState.PARKED


async def test_an_answer_is_changed_and_taken_back(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        screen = await begun(pilot)
        await pilot.press("a", "left", "b", "left")
        question = screen.exam.shown.question.id
        assert screen.exam.answer.chosen == (screen.exam.shown.seating.option_at(1),)
        await pilot.press("delete")
        assert screen.exam.answer is None

    assert len(opened.history.responses(question)) == 3


async def test_several_keys_numbers_and_texts_are_given_in_an_exam_too(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        screen = await begun(pilot, 124)
        names = [question.id for question in screen.exam.questions]
        screen.exam.go(names.index("book/maps.signs/3"))
        screen.show_question()
        await pilot.press("a", "c", "enter")
        screen.exam.go(names.index("book/maps.signs/4"))
        screen.show_question()
        await pilot.press(*"1000", "question_mark", "enter")
        given = screen.exam.sitting.given

    assert given["book/maps.signs/3"].chosen == ("a", "c")
    assert given["book/maps.signs/4"].chosen == ("1000",)
    assert given["book/maps.signs/4"].confidence is Confidence.UNSURE


async def test_the_result_tells_marks_by_subject_guesses_and_changes(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        screen = await begun(pilot, 3)
        key = key_of(screen)
        wrong = next(letter for letter in "abcd" if letter != key)
        await pilot.press(wrong, "left", key)
        wrong = next(letter for letter in "abcd" if letter != key_of(screen))
        await pilot.press("comma", wrong, "z", "y")
        await pilot.pause()
        shown = text_of(app)

    assert "3 of 12 marks, 25%" in shown
    assert "1 right, 1 wrong, 1 blank; won 4, lost 1" in shown
    lines = [line.split() for line in shown.split("\n")]
    assert ["sure", "1", "of", "1", "100%", "4"] in [line[:6] for line in lines]
    assert ["guess", "0", "of", "1", "0%", "−1"] in [line[:6] for line in lines]
    assert "1 blank, filled at random: less than 1 mark; with one" in shown
    assert "Corrected for guessing: about 1 known of 1 right." in shown
    assert "Had you left your guess blank: 4 marks; guessing cost you 1." in shown
    assert "Of 1 changed answer 1 became right" in shown
    assert papers_taken(opened)[0].blank == 1


async def test_what_was_missed_can_be_drilled_at_once(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        await begun(pilot, 3)
        await pilot.press("z", "y")
        await pilot.pause()
        assert isinstance(app.screen, PaperResult)
        await pilot.press("enter")
        shown = text_of(app)

    assert "Missed in the paper" in shown
    assert "0 of 3" in shown


async def test_when_the_time_is_up_the_paper_is_handed_in_as_it_stands(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        screen = await begun(pilot)
        await pilot.press(key_of(screen))
        opened.now.go_on(seconds=100 * 60 + 1)
        screen.check_time()
        await pilot.pause()
        assert isinstance(app.screen, PaperResult)
        assert any("Time is up" in message for message in messages_of(app))

    assert (papers_taken(opened)[0].right, papers_taken(opened)[0].blank) == (1, 5)


async def test_leaving_does_not_stop_the_clock_and_one_goes_on_where_one_was(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        await begun(pilot)
        await pilot.press("a", "escape")
        await front(pilot)
        assert "5 unanswered, time is up at 10:40" in text_of(app)
        opened.now.go_on(seconds=600)
        await pilot.press("home", "enter")
        await pilot.pause()
        assert "1:30:00 left" in text_of(app)
        assert "2 of 6" in text_of(app)

    assert opened.history.sittings[under_way(opened).opened.id].left


async def test_a_paper_whose_time_ran_out_meanwhile_is_handed_in_on_return(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        await begun(pilot)
        await pilot.press("a", "escape")
        await front(pilot)
        opened.now.go_on(days=1)
        await pilot.press("home", "enter")
        await pilot.pause()
        assert isinstance(app.screen, PaperResult)

    assert under_way(opened) is None
    assert opened.history.standing(sat_question(opened)).tier in (Tier.CLEAR, Tier.HARD)


def sat_question(opened: Library) -> str:
    """The first question of the paper."""
    return next(iter(opened.history.sittings.values())).opened.questions[0]


def test_the_clock_reads_hours_only_where_there_are_any():
    assert clock_words(timedelta(hours=1, minutes=4, seconds=9)) == "1:04:09"
    assert clock_words(timedelta(minutes=4, seconds=9)) == "4:09"
    assert clock_words(timedelta()) == "0:00"


async def test_a_stray_enter_begins_no_paper(opened):
    app = Stage(opened, PapersScreen())
    async with app.run_test() as pilot:
        await front(pilot)
        await pilot.press("enter", "enter")
        asked_first = await settled(pilot)
        await pilot.press("n")

    assert "The clock runs" in asked_first
    assert under_way(opened) is None


async def test_a_letter_is_not_taken_before_the_options_of_a_long_question_were_in_view(tmp_path):
    stem = "\n".join(f"Line {number} of a long report." for number in range(30))
    shape = {"Wind": {"Force": [full(1, stem, ["Calm", "Gale"]), full(2, "Short?", ["Yes", "No"])]}}
    made = library(tmp_path, bank("Observer", shape), clock=FakeClock())
    names = [f"observer/wind.force/{number}" for number in (1, 2)]
    paper = Blueprint(sections=(Section("observer/wind", 2),), minutes=10)
    sitting = made.open_sitting("Mock paper", Purpose.PAPER, names, paper=paper)
    app = Stage(made, PaperSittingScreen(made.sitting(sitting), lambda: 0.0))
    async with app.run_test(size=(80, 24)) as pilot:
        before = await settled(pilot)
        await pilot.press("a")
        blind = dict(made.sitting(sitting).given)
        await pilot.press("space")
        scrolled = await settled(pilot)
        await pilot.press("up", "a")
        taken = await settled(pilot)

    assert "below, options there · Space: scroll" in before
    assert "2 open" not in before  # no room for the board beside it
    assert blind == {}
    assert "a–b answer" in scrolled
    assert "Gale" in scrolled
    assert list(made.sitting(sitting).given) == names[:1]
    assert "Short?" in taken
