"""The store is deleted, replaced or taken over while it is open: said on every screen, and what
was given stays there until it is safe.
"""

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from threading import Event

import pytest
from textual.pilot import Pilot

from banks.library import Library
from banks.planning.intents import accept
from banks.store.folder import Store
from banks.views.papers import under_way
from domain.plan.inputs import PlanInputs
from domain.responses import Purpose
from domain.tiers import Tier
from tests.builders import FakeClock, bank, full, library
from tests.tui.stage import Stage, messages_of, settled, text_of, type_text
from tui.app import Resieve
from tui.base_app import SCREENS
from tui.screens.drill import DrillScreen
from tui.screens.key_entry import KeyEntryScreen
from tui.screens.paper_sitting import PaperSittingScreen
from tui.screens.papers_overview import PapersScreen
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.screens.question_form import QuestionForm

SIZE = (80, 24)
FIRST = "book/wind.one/1"
NAMES = [f"book/wind.one/{number}" for number in range(1, 31)]


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Library]:
    monkeypatch.setattr("tui.app.WATCHED", 0.1)
    questions = [full(n, f"Number {n}?", ("yes", "no"), shuffle=False) for n in range(1, 31)]
    made = library(tmp_path / "store", bank("Book", {"Wind": {"One": questions}}))
    accept(made, PlanInputs(exam=date(2026, 4, 30)))
    yield made
    made.close()


class Lost:
    """Takes the store's folder away and puts it back."""

    def __init__(self, opened: Library) -> None:
        self._folder = opened.store.folder
        self._away = self._folder.with_name("away")

    def take(self) -> None:
        self._folder.rename(self._away)

    def put_back(self) -> None:
        self._away.rename(self._folder)


def reopened(opened: Library) -> Library:
    return Library.open(opened.store.folder, FakeClock(), read_only=True)


def recorded(opened: Library) -> int:
    history = reopened(opened).history
    return sum(len(history.responses(name)) for name in NAMES)


def plain(shown: str) -> str:
    return " ".join(shown.split())


async def until(pilot: Pilot[str], is_done: Callable[[], bool]) -> None:
    """Wait for the app; only a hang makes this fail."""
    for _ in range(300):
        await pilot.pause(0.02)
        if is_done():
            return
    raise AssertionError(text_of(pilot.app))


async def test_a_folder_that_goes_away_is_said_on_every_screen_until_it_is_back(opened):
    lost = Lost(opened)
    app = Stage(opened, Resieve.new_screen(None, "today"))
    async with app.run_test(size=SIZE) as pilot:
        for name in sorted(SCREENS):
            await app.push_screen(Resieve.new_screen(None, name))
            await until(pilot, lambda: not app.screen.is_loading)
        lost.take()
        await until(pilot, lambda: "Not saving" in text_of(app))
        app.notify("Something else.")
        for name in sorted(SCREENS, reverse=True):
            shown = plain(await settled(pilot))
            assert "Not saving" in shown, name
            assert "was deleted, moved or replaced while it was open" in shown, name
            await app.pop_screen()
        await pilot.press("f10")
        assert "Not saving" in await settled(pilot)
        lost.put_back()
        await until(pilot, lambda: "Not saving" not in text_of(app))


async def test_a_store_taken_over_or_not_to_be_read_any_more_is_said(opened, monkeypatch):
    def refuse(path: Path):
        raise PermissionError(13, "Permission denied")

    app = Stage(opened, Resieve.new_screen(None, "triage"))
    async with app.run_test(size=SIZE) as pilot:
        (opened.store.folder / "store.lock").unlink()
        second = Store.open(opened.store.folder)
        await until(pilot, lambda: "Not saving" in text_of(app))
        assert "already" in plain(text_of(app))
        second.close()
        await until(pilot, lambda: "Not saving" not in text_of(app))
        monkeypatch.setattr(opened.store.system, "stamp", refuse)
        await until(pilot, lambda: "Not saving" in text_of(app))
        assert "can't be reached (permission denied)" in plain(text_of(app))
        monkeypatch.undo()


async def test_a_copy_that_finds_the_store_gone_tells_nothing_of_its_own(opened, monkeypatch):
    monkeypatch.setattr("tui.app.WATCHED", 3600)
    monkeypatch.setattr("tui.app._SETTLED", 0.1)
    lost, is_gone, copy = Lost(opened), Event(), opened.keep_daily_copy
    monkeypatch.setattr(opened, "keep_daily_copy", lambda: (is_gone.wait(9), copy()))
    app = Stage(opened, Resieve.new_screen(None, "settings"))
    async with app.run_test(size=SIZE) as pilot:
        lost.take()
        is_gone.set()
        await until(pilot, lambda: "Not saving" in text_of(app))
        await app.workers.wait_for_complete()
        assert messages_of(app) == []
        lost.put_back()


async def test_a_drill_keeps_response_note_and_dispute_until_they_are_saved(opened, monkeypatch):
    monkeypatch.setattr("tui.app.WATCHED", 3600)  # the save itself finds the folder gone
    lost = Lost(opened)
    app = Stage(opened, DrillScreen(opened.open_sitting("x", Purpose.FREE, NAMES)))
    async with app.run_test(size=SIZE) as pilot:
        await settled(pilot)
        lost.take()
        await pilot.press("a")
        shown = plain(await settled(pilot))
        assert "! Not saving: " in shown
        assert "Any key tries again" in shown
        assert "✓" not in shown
        lost.put_back()
        await pilot.press("x")
        assert "Not saving" not in await settled(pilot)
        assert recorded(opened) == 1

        for keys in (["n"], ["y", "b"]):
            await pilot.press(*keys)
            lost.take()
            await type_text(pilot, "a trap")
            await pilot.press("enter")
            assert "Any key tries again" in plain(await settled(pilot))
            lost.put_back()
            await pilot.press("x")
            await settled(pilot)

    history = reopened(opened).history
    assert history.note(FIRST) == "a trap"
    assert history.dispute(FIRST).note == "a trap"


async def test_a_log_changed_by_another_program_is_said_when_the_next_response_mends_it(opened):
    app = Stage(opened, DrillScreen(opened.open_sitting("x", Purpose.FREE, NAMES)))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("a", "enter", "b", "enter")
        (log,) = opened.store.log.files()
        lines = log.read_bytes().splitlines(keepends=True)
        log.write_bytes(b"".join(lines[:-1]))
        await pilot.press("a")
        await settled(pilot)
        messages = messages_of(app)

    assert len(messages) == 1
    assert "put back 1 record that it had lost" in messages[0]
    assert recorded(opened) == 3


async def test_a_mark_is_not_shown_until_it_is_saved_and_the_screen_can_be_left(opened):
    lost = Lost(opened)
    app = Stage(opened, PrintedMarkingScreen("x", Purpose.REVISION, NAMES[:2]))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("j")
        lost.take()
        await pilot.press("j")
        shown = plain(await settled(pilot))
        assert "not saved, so not marked; press the key again to retry" in shown
        lost.put_back()
        await pilot.press("j")
        await settled(pilot)
        assert recorded(opened) == 2
        lost.take()
        await pilot.press("escape")
        await settled(pilot)
        assert not app.is_leaving
        lost.put_back()


async def test_a_mock_paper_keeps_an_answer_and_the_handing_in_until_they_are_saved(opened):
    lost = Lost(opened)
    app = Stage(opened, PapersScreen())
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: not app.screen.is_loading)
        await pilot.press("end", "K", "n")
        app.screen.query_one("Input").value = "3"
        await pilot.press("enter")
        await app.workers.wait_for_complete()
        await pilot.pause()
        await pilot.press("enter", "y")
        screen = app.screen
        assert isinstance(screen, PaperSittingScreen)
        lost.take()
        await pilot.press("a")
        assert "not saved yet: give it again to retry" in await settled(pilot)
        assert screen.exam.answer is None
        assert screen.picked
        lost.put_back()
        await pilot.press("a")
        await settled(pilot)
        assert screen.exam.index == 1
        assert under_way(opened).given
        lost.take()
        screen.hand_in("")
        assert "t  Try again" in await settled(pilot)
        lost.put_back()
        await pilot.press("t")
        await settled(pilot)

    assert under_way(opened) is None


async def test_letters_and_a_question_that_were_typed_stay_until_they_are_saved(opened):
    lost = Lost(opened)
    app = Stage(opened, KeyEntryScreen(opened.location(opened.question(FIRST))))
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("b")
        lost.take()
        await pilot.press("enter")
        assert "1 b*" in await settled(pilot)
        lost.put_back()
        await pilot.press("enter")
        await settled(pilot)
        assert opened.question(FIRST).answer_key == ("b",)

        await app.push_screen(QuestionForm("book", "wind.one"))
        await type_text(pilot, "Why?")
        await pilot.press("tab", "tab")
        await type_text(pilot, "12 +- 1")
        lost.take()
        await pilot.press("enter")
        assert "Why?" in await settled(pilot)
        lost.put_back()
        await pilot.press("enter")
        await settled(pilot)
    assert "Why?" in [question.stem for question in opened.banks["book"].questions.values()]


async def test_undo_says_nothing_is_undone_while_the_store_is_away(opened):
    opened.set_tier(FIRST, Tier.HARDEST, "a trap")
    lost = Lost(opened)
    app = Stage(opened, Resieve.new_screen(None, "triage"))
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: not app.screen.is_loading)
        lost.take()
        await pilot.press("u")
        await settled(pilot)
        messages = messages_of(app)
        lost.put_back()

    assert not any(words.startswith("Undone") for words in messages)
    assert opened.history.standing(FIRST).tier is Tier.HARDEST


async def test_the_app_can_be_left_while_the_store_is_away(opened):
    lost = Lost(opened)
    app = Resieve(lambda read_only: opened)
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: app.is_ready and not app.screen.is_loading)
        lost.take()
        await until(pilot, lambda: "Not saving" in text_of(app))
        await pilot.press("ctrl+c", "ctrl+c")
        await until(pilot, lambda: app.is_leaving)

    assert app.return_code == 0
    assert not opened.store.folder.exists()
    lost.put_back()
