"""What runs behind a screen: no error of it is silent, and no key typed meanwhile is lost."""

import re
from pathlib import Path
from threading import Event as Flag

import pytest
from textual.events import Key

from banks.intake.file_import import ImportOptions
from domain.errors import InputError
from domain.plan.inputs import PlanInputs
from domain.responses import Purpose
from tests.builders import bank, full, library
from tests.tui.stage import Stage, messages_of, settled, text_of
from tui.app import Resieve
from tui.base_app import SCREENS
from tui.base_screen import READING
from tui.save_in_background import save_edit
from tui.screens.drill import DrillScreen
from tui.screens.drill_form import DrillFormScreen
from tui.screens.import_preview import ImportPreview, Source
from tui.screens.settings import SettingsScreen
from tui.screens.triage import TriageScreen


@pytest.fixture
def opened(tmp_path):
    questions = [full(n, f"Number {n}?", ("yes", "no"), shuffle=False) for n in range(1, 31)]
    made = library(tmp_path / "store", bank("Book", {"Wind": {"One": questions}}))
    yield made
    made.close()


@pytest.fixture
def report_lines(monkeypatch, tmp_path):
    """What is said when the app falls; its trace goes into a folder of the test."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    words: list[str] = []

    def panic(app, *renderables):
        words.extend(map(str, renderables))
        app.exit(return_code=1)

    monkeypatch.setattr(Resieve, "panic", panic)
    return words


async def run(app) -> str:
    async with app.run_test() as pilot:
        for _ in range(50):
            await pilot.pause(0.02)
            if app.is_leaving:
                return ""
        return text_of(app)


class Broken:
    """A part of the library in which everything fails as nobody foresaw."""

    def __getattr__(self, name):
        raise ZeroDivisionError(name)


@pytest.mark.parametrize("name", sorted(set(SCREENS) - {"settings", "import", "today"}))
async def test_an_unforeseen_error_behind_a_screen_ends_in_the_report(opened, report_lines, name):
    opened.history = Broken()
    with pytest.raises(ZeroDivisionError):
        await run(Stage(opened, Resieve.new_screen(None, name)))

    assert "Details: " in report_lines[0]


async def test_an_unforeseen_error_behind_today_ends_in_the_report(planned, report_lines):
    planned.history = Broken()
    with pytest.raises(ZeroDivisionError):
        await run(Resieve(lambda read_only: planned))

    assert "Details: " in report_lines[0]


@pytest.mark.parametrize("kind", [DrillFormScreen, SettingsScreen])
async def test_an_unforeseen_error_of_any_work_behind_ends_in_the_report(
    opened, report_lines, kind
):
    screen = kind()

    async def fail_behind() -> None:
        async with Stage(opened, screen).run_test() as pilot:
            await settled(pilot)
            screen.in_background(lambda: 1 / 0, loads=True)
            await until(pilot, lambda: pilot.app.is_leaving)

    with pytest.raises(ZeroDivisionError):
        await fail_behind()

    assert "Details: " in report_lines[0]


async def test_an_unforeseen_error_while_a_large_bank_is_saved_from_a_drill_ends_in_the_report(
    opened, report_lines, monkeypatch
):
    monkeypatch.setattr("tui.save_in_background.SOON", 0)
    monkeypatch.setattr(opened, "save_bank", lambda *_, **__: 1 / 0)
    screen = DrillScreen(opened.open_sitting("x", Purpose.FREE, ["book/wind.one/1"]))

    async def save_behind() -> None:
        async with Stage(opened, screen).run_test() as pilot:
            await settled(pilot)
            save_edit(screen, opened.banks["book"], (), "key", lambda: None)
            await until(pilot, lambda: pilot.app.is_leaving)

    with pytest.raises(ZeroDivisionError):
        await save_behind()

    assert "Details: " in report_lines[0]


def test_every_thread_is_begun_where_its_errors_are_told():
    begins = re.compile(r"run_worker\(|Thread\(|ThreadPool|to_thread|run_in_executor|@work")
    root = Path(__file__).parents[2]
    places = {
        f"{path.parent.name}/{path.stem}"
        for path in [*(root / "tui").rglob("*.py"), *(root / "banks").rglob("*.py")]
        if begins.search(path.read_text(encoding="utf-8"))
    }
    assert places == {"tui/app", "tui/base_screen"}


async def test_an_unforeseen_error_while_a_file_is_read_ends_in_the_report(opened, report_lines):
    def read() -> bytes:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        await run(Stage(opened, ImportPreview(Source("x.csv", read), ImportOptions())))

    assert "Details: " in report_lines[0]


async def test_a_store_that_fails_to_open_as_nobody_foresaw_can_be_looked_at(opened, report_lines):
    tried = []

    def open_library(read_only: bool):
        tried.append(read_only)
        if not read_only:
            raise ZeroDivisionError
        return opened

    app = Resieve(open_library)
    async with app.run_test() as pilot:
        await until(pilot, lambda: "internal error" in text_of(app))
        await pilot.press("l")
        while not app.is_ready:
            await pilot.pause(0.02)

    assert tried == [False, True]


@pytest.mark.parametrize("name", ["keep_history", "keep_daily_copy"])
async def test_an_unforeseen_error_of_what_can_wait_is_told_and_ends_nothing(
    opened, report_lines, name, monkeypatch
):
    monkeypatch.setattr("tui.app._SETTLED", 0.01)
    monkeypatch.setattr(opened, name, lambda: 1 / 0)
    app = Stage(opened, Resieve.new_screen(None, "settings"))
    async with app.run_test() as pilot:
        await until(pilot, lambda: "Details: " in "".join(messages_of(app)))
    assert not report_lines


async def test_an_error_when_the_opened_store_is_shown_ends_in_the_report(opened, report_lines):
    opened.store.notices.append(7)  # no text
    app = Resieve(lambda read_only: opened)
    with pytest.raises(TypeError):
        await run(app)

    assert "Details: " in report_lines[0]


async def test_a_foreseen_problem_in_the_background_is_told(opened):
    app = Stage(opened, Resieve.new_screen(None, "triage"))

    def work() -> None:
        raise InputError("no such thing")

    async with app.run_test() as pilot:
        await settled(pilot)
        app.screen.in_background(work)
        await until(pilot, lambda: messages_of(app) == ["no such thing"])


async def test_an_older_run_that_ends_after_a_newer_one_shows_nothing(opened):
    screen, has_begun, may_end, shown = TriageScreen(), Flag(), Flag(), []
    app = Stage(opened, screen)

    def older():
        has_begun.set()
        may_end.wait(10)
        screen.hand_over(shown.append, "older")

    async with app.run_test() as pilot:
        await settled(pilot)
        screen.in_background(older, group="test")
        await until(pilot, has_begun.is_set)
        screen.in_background(lambda: screen.hand_over(shown.append, "newer"), group="test")
        await until(pilot, lambda: shown)
        may_end.set()
        await pilot.pause(0.3)

    assert shown == ["newer"]


# keys typed ahead


def type_at_once(app, *keys: str) -> None:
    """As when all come in one read of the terminal."""
    for key in keys:
        app.post_message(Key(key, key if len(key) == 1 else None))


async def until(pilot, done) -> None:
    for _ in range(200):
        await pilot.pause(0.02)
        if done():
            return
    raise AssertionError(text_of(pilot.app))


@pytest.fixture
def planned(opened):
    from banks.planning.intents import accept

    accept(opened, PlanInputs(exam=opened.today().replace(month=4)))
    return opened


def recorded(opened) -> int:
    return sum(len(opened.history.responses(question)) for question in opened.history.questions())


@pytest.mark.parametrize("name", ["papers", "plan", "progress", "sweep", "week"])
async def test_a_screen_whose_history_is_still_read_says_so(planned, monkeypatch, name):
    screen, begin = Resieve.new_screen(None, name), Flag()
    in_background = screen.in_background

    def once_begun(work, **options):
        in_background(lambda: (begin.wait(9), work()), **options)

    monkeypatch.setattr(screen, "in_background", once_begun)
    async with Stage(planned, screen).run_test() as pilot:
        while_reading = await settled(pilot)
        begin.set()
        await until(pilot, lambda: not screen.is_loading)

        assert READING in while_reading
        assert READING not in await settled(pilot)


async def test_keys_in_the_same_read_as_the_enter_that_opens_a_drill_answer_it(planned):
    app = Resieve(lambda read_only: planned)
    async with app.run_test() as pilot:
        await until(pilot, lambda: app.is_ready and not app.screen.is_loading)
        await settled(pilot)
        type_at_once(app, "enter", "a", "enter", "b", "enter", "a")
        await until(pilot, lambda: recorded(planned) == 3)

    given = [planned.history.responses(f"book/wind.one/{n}")[0].chosen for n in (1, 2, 3)]
    assert given == [("a",), ("b",), ("a",)]


async def test_keys_typed_while_the_history_is_read_are_kept(planned):
    may_open = Flag()

    def open_library(read_only: bool):
        may_open.wait(10)
        return planned

    app = Resieve(open_library)
    async with app.run_test() as pilot:
        await settled(pilot)
        type_at_once(app, "enter", "a")
        await settled(pilot)
        assert recorded(planned) == 0
        may_open.set()
        await until(pilot, lambda: recorded(planned) == 1)


async def test_escape_drops_what_was_typed_ahead_and_leads_away_at_once(planned):
    may_open = Flag()
    app = Resieve(lambda read_only: may_open.wait(10) and planned)
    async with app.run_test() as pilot:
        await settled(pilot)
        type_at_once(app, "enter", "f9")
        await until(pilot, lambda: type(app.screen).__name__ == "ImportScreen")
        may_open.set()
        await until(pilot, lambda: app.is_ready)
        await settled(pilot)
        assert type(app.screen).__name__ == "ImportScreen"


async def test_keys_that_still_wait_when_the_app_is_left_are_no_fault(planned, report_lines):
    may_open = Flag()
    app = Resieve(lambda read_only: may_open.wait(10) and planned)
    async with app.run_test() as pilot:
        await settled(pilot)
        type_at_once(app, "enter", "a")
        await settled(pilot)

    may_open.set()
    assert not report_lines


async def test_keys_after_the_one_that_leaves_a_drill_are_for_the_screen_below(planned):
    sitting = planned.open_sitting("x", Purpose.FREE, ["book/wind.one/1"])
    app = Stage(planned, DrillScreen(sitting))
    async with app.run_test() as pilot:
        await settled(pilot)
        type_at_once(app, "a", "escape", "question_mark")
        await until(pilot, lambda: type(app.screen).__name__ == "HelpScreen")

    assert recorded(planned) == 1


async def test_the_store_is_watched_no_longer_once_the_screens_are_gone(opened):
    app = Stage(opened, SettingsScreen())
    async with app.run_test():
        app.watch_store()

    assert not app.screen_stack
    app.watch_store()  # the timer may come once more
