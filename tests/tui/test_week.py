"""The week's page in the app: shown once before Today, an offer taken, a line of one's own."""

import pytest
from msgspec.structs import replace

from banks.planning.intents import accept
from banks.views.today import today_view
from banks.views.week import LostMarks
from domain.plan.inputs import ONE_DAY
from domain.responses import Reason
from tests.banks.planned import Clock, answer, planned_library, printed_bank
from tests.domain.plan.scenes import usual
from tests.tui.stage import Stage, settled, text_of, type_text
from tui.screens.today import TodayScreen
from tui.screens.week import WeekScreen, missed_words

SIZE = (80, 24)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def library(tmp_path, clock):
    """A week of work is over."""
    opened = planned_library(tmp_path, clock, planned=printed_bank(questions=40))
    for line in today_view(opened).planned:
        answer(opened, line.questions, line.purpose)
    clock.day += 7 * ONE_DAY
    yield opened
    opened.close()


async def test_it_comes_once_before_today_and_enter_goes_on(library) -> None:
    async with Stage(library, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.app.workers.wait_for_complete()
        shown = await settled(pilot)
        assert isinstance(pilot.app.screen, WeekScreen)
        assert "Work on 1 day, 5 planned; " in shown
        assert "The next seven days" in shown
        assert "no need to catch up" in shown
        await pilot.press("e")
        await type_text(pilot, "When tea is made")
        await pilot.press("enter")
        assert "When tea is made" in await settled(pilot)
        await pilot.press("enter")
        assert isinstance(pilot.app.screen, TodayScreen)
    async with Stage(library, TodayScreen()).run_test(size=SIZE) as pilot:
        await pilot.app.workers.wait_for_complete()
        assert isinstance(pilot.app.screen, TodayScreen)
        await pilot.press("W")
        await pilot.app.workers.wait_for_complete()
        assert "When tea is made" in await settled(pilot)


async def test_a_short_plan_is_decided_by_one_key(library) -> None:
    short = replace(usual(), exam=library.today() + 6 * ONE_DAY)
    accept(library, short)
    async with Stage(library, WeekScreen()).run_test(size=SIZE) as pilot:
        await pilot.app.workers.wait_for_complete()
        assert "The plan is short" in await settled(pilot)
        before = library.settings.plan
        await pilot.press("1")
        await pilot.app.workers.wait_for_complete()
        await settled(pilot)
        assert "Taken" in text_of(pilot.app)
        assert library.settings.plan != before
        assert "The plan is short" not in text_of(pilot.app)


def test_what_misses_would_cost_is_said_once_and_only_of_enough_responses():
    slip = LostMarks(Reason.SLIP, 1, 0.3)
    lost = (LostMarks(Reason.MISREAD, 12, 15.2), slip, LostMarks(None, 30, 1.4))
    cost = "12 misread (15 marks), 1 slip and 30 without a reason (1 mark)"
    assert missed_words(lost, 0) == "12 misread, 1 slip and 30 without a reason"
    assert missed_words(lost, 100) == f"{cost}; in brackets what 100 such questions would cost"
    assert missed_words((slip,), 100) == "1 slip"


async def test_a_page_longer_than_the_screen_scrolls(library) -> None:
    async with Stage(library, WeekScreen()).run_test(size=(80, 10)) as pilot:
        await pilot.app.workers.wait_for_complete()
        top = await settled(pilot)
        await pilot.press("j")
        further = await settled(pilot)
        await pilot.press("k")
        back = await settled(pilot)

    assert top == back != further
