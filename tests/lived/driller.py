"""Weeks at the real app by its keys alone, beside an independent record of what was pressed.

What the record tells is compared each day with the log, the tiers, the lines of result, Today and
the diary of days; every difference is a line of `Driller.differences`.
"""

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from random import Random
from unittest.mock import patch

from banks.library import Library
from banks.planning.intents import accept
from banks.sittings import drill_sitting
from banks.views.evidence_log import evidence_log
from banks.views.progress import diary
from banks.views.today import LineKind, today_view
from domain.plan.inputs import PlanInputs
from domain.questions import Bank
from domain.responses import Purpose
from domain.tiers import Judged, Standing, TierRules
from domain.timers import QuestionTimer
from domain.verdicts import Confidence, Verdict
from tests.builders import FakeClock, bank, full
from tests.domain.test_tiers import read_again
from tests.tui.stage import settled, text_of, type_text
from tui.app import Resieve
from tui.screens.drill import DrillScreen, Phase
from tui.screens.paper_sitting import PaperSittingScreen
from tui.screens.week import WeekScreen

SIZE = (120, 40)
_PAPER = 8
_WRONG = ("fog", "mist", "haze")
_LINE = re.compile(
    r"(?P<right>\d+) of (?P<given>\d+) right, (?P<missed>\d+) missed"
    r"(?: \((?P<last>\d+) last time\))?(?:, (?P<settled>\d+) settled)?"
)


class Killed(Exception):
    """The app ended between two keys."""


@dataclass(frozen=True)
class Press:
    """A response as it was pressed: the words chosen, "" for don't know."""

    day: date
    question: str
    words: str
    verdict: Verdict
    confidence: Confidence
    purpose: Purpose
    sitting: str
    seconds: float = 0.0
    reading: float = 0.0

    @property
    def judged(self) -> Judged:
        """What the tier rules see of it."""
        return Judged(self.day, self.verdict, self.confidence)


class PressRecord:
    """Every response that counts, in the order in which it was given."""

    def __init__(self) -> None:
        self.presses: list[Press] = []

    def of(self, question: str) -> list[Press]:
        """The responses to a question."""
        return [press for press in self.presses if press.question == question]

    def on(self, day: date) -> list[Press]:
        """The responses of a day."""
        return [press for press in self.presses if press.day == day]

    def standing(self, question: str, before: Press | None = None) -> Standing:
        """Where it stands now, or stood before a response."""
        own = self.of(question)
        until = own[: own.index(before)] if before else own
        return read_again([press.judged for press in until], TierRules())

    def change(self, press: Press) -> tuple[Standing, Standing]:
        """The standing before a response, and behind it."""
        own = self.of(press.question)
        until = own[: own.index(press) + 1]
        behind = read_again([each.judged for each in until], TierRules())
        return self.standing(press.question, press), behind

    def missed_before(self, press: Press) -> bool | None:
        """Whether the question was missed on the day it was last tried before this one."""
        earlier = [each for each in self.of(press.question) if each.day < press.day]
        if not earlier:
            return None
        return any(
            each.verdict is not Verdict.RIGHT for each in earlier if each.day == earlier[-1].day
        )

    def line_result(self, sitting: str) -> dict[str, int | None]:
        """What a sitting came to, by the names of `_LINE`."""
        own = [press for press in self.presses if press.sitting == sitting]
        right = sum(press.verdict is Verdict.RIGHT for press in own)
        before = [was for press in own if (was := self.missed_before(press)) is not None]
        changes = [self.change(press) for press in own]
        newly = sum(after.settled and not before.settled for before, after in changes)
        return {
            "right": right, "given": len(own), "missed": len(own) - right,
            "last": sum(before) if before else None, "settled": newly or None,
        }  # fmt: skip

    def day_result(self, day: date) -> dict[str, float]:
        """What a day came to, by the names of `DayResult` and `DiaryDay`."""
        firsts: dict[str, Press] = {}
        lasts: dict[str, Press] = {}
        for press in self.on(day):
            firsts.setdefault(press.question, press)
            lasts[press.question] = press
        changes = [
            (self.standing(name, firsts[name]), self.change(lasts[name])[1]) for name in firsts
        ]
        return {
            "questions": len(firsts),
            "right_first": sum(each.verdict is Verdict.RIGHT for each in firsts.values()),
            "seconds": round(sum(press.seconds for press in self.on(day)), 1),
            "reading": round(sum(press.reading for press in self.on(day)), 1),
            "signs": sum(after.signs > before.signs for before, after in changes),
            "settled": sum(after.settled and not before.settled for before, after in changes),
        }


@dataclass(frozen=True)
class Month:
    """What is lived: `lost` are days without work, `paper` the one with a mock paper."""

    days: int = 28
    lost: tuple[int, ...] = (8, 16)
    paper: int = 12
    chapters: int = 3
    questions: int = 26
    minutes: int = 12


SHORT = Month(days=6, lost=(2,), paper=4, chapters=2, questions=5, minutes=3)
"""Lived in a few seconds: five days with each thing done once or more."""


def book(month: Month) -> tuple[Bank, dict[str, str]]:
    """A bank in full text, and the right words of each question by its id."""
    keys: dict[str, str] = {}

    def question(subject: str, chapter: str, number: int):
        right = f"{subject} {chapter} {number}"
        keys[f"book/{subject}.{chapter}/{number}"] = right
        return full(number, f"What is {right} called?", [right, *_WRONG], "a")

    shape = {
        subject: {
            chapter: [question(subject, chapter, n + 1) for n in range(month.questions)]
            for chapter in [f"c{place}" for place in range(1, month.chapters + 1)]
        }
        for subject in ("clouds", "wind", "tides")
    }
    return bank("Book", shape), keys


class Driller:
    """One candidate. Everything follows from the seed."""

    def __init__(self, folder: Path, seed: int = 1, month: Month = Month()) -> None:
        self.folder, self.month = folder, month
        self.rng = Random(seed)
        self.clock = FakeClock()
        self.seconds = 0.0
        self.record = PressRecord()
        self.differences: list[str] = []
        self.keys = self.restarts = self.corrected = self.undone = self.compared = 0
        self._until_killed = -1
        self._sitting = ""
        made, self.right = book(month)
        opened = Library.open(folder, self.clock)
        opened.save_bank(made)
        week = ((month.minutes,),) * 6 + ((),)
        exam = self.clock.at.date() + timedelta(days=max(60, month.days + 30))
        accept(opened, PlanInputs(exam=exam, start=self.clock.at.date(), minutes=week, seconds=40,
                                  papers=False, passes=False))  # fmt: skip
        opened.close()

    @property
    def day(self) -> date:
        """Today."""
        return self.clock.at.date()

    async def live(self) -> "Driller":
        """Every day from the first."""
        timer = patch.object(
            drill_sitting, "QuestionTimer", lambda _, cap: QuestionTimer(lambda: self.seconds, cap)
        )
        with timer:
            for number in range(self.month.days):
                if number not in self.month.lost:
                    self._until_killed = self.rng.choice((-1, 4, 9, 15))
                    while not await self._work(number):
                        self.restarts += 1
                self.clock.go_on(days=1)
        return self

    async def _work(self, number: int) -> bool:
        """A day's work, or what is left of it; False where the app ended before its end."""
        app = Resieve(lambda read_only: Library.open(self.folder, self.clock))
        async with app.run_test(size=SIZE, notifications=True) as pilot:
            self.pilot = pilot
            await self._until(lambda: app.is_ready and not app.screen.is_loading)
            with suppress(Killed):
                if isinstance(app.screen, WeekScreen):
                    await self._press("escape")
                await self._take_lines()
                if number == self.month.paper:
                    await self._take_paper()
                elif number % 3 == 1:
                    await self._drill_freely()
                self._compare(app.library)
                return True
            self._compare(app.library)
        return False

    async def _press(self, *keys: str) -> None:
        self.keys += len(keys)
        await self.pilot.press(*keys)

    async def _until(self, holds: Callable[[], bool]) -> None:
        for _ in range(1_000):
            await self.pilot.pause(0.005)
            if holds():
                return
        raise AssertionError(f"waited in vain:\n{text_of(self.pilot.app)}")

    # the day's lines

    async def _take_lines(self) -> None:
        """Enter once begins the first line; the others follow, and what was left goes on."""
        app = self.pilot.app
        while any(line.left for line in today_view(app.library).planned):
            await self._press("enter")
            await self._until(lambda: isinstance(app.screen, DrillScreen))
            self._sitting = app.screen.run.sitting.opened.id
            while isinstance(app.screen, DrillScreen):
                await self._answer(self._purpose())
                await self._follow()
        shown = await settled(self.pilot)
        done = sum(line.count for line in today_view(app.library).planned)
        if done and f"All {done} done for today" not in shown:
            self._differ("Today does not say that all is done")

    def _purpose(self) -> Purpose:
        """What the question that is up is answered for, by the lines that hold it."""
        app = self.pilot.app
        name = app.screen.run.shown.question.id
        kinds = [line.kind for line in today_view(app.library).planned if name in line.questions]
        return Purpose.SWEEP if kinds == [LineKind.SWEEP] else Purpose.REVISION

    async def _follow(self) -> None:
        """Where a line has ended: compare what it is said to have come to."""
        app, ended = self.pilot.app, self._sitting
        if isinstance(app.screen, DrillScreen) and app.screen.run.sitting.opened.id == ended:
            return
        await self._until(lambda: "right," in text_of(app))
        match = _LINE.search(text_of(app))
        groups = match.groupdict() if match else {}
        shown = {name: int(text) if text else None for name, text in groups.items()}
        self._expect("line of result", self.record.line_result(ended), shown)
        if isinstance(app.screen, DrillScreen):
            self._sitting = app.screen.run.sitting.opened.id

    # a question

    async def _answer(self, purpose: Purpose) -> None:
        """Answer the question that is up, read its answer, go on; now and then undo or correct."""
        run = self.pilot.app.screen.run
        press = await self._give(purpose)
        self.record.presses.append(press)
        self._until_killed -= 1
        if self._until_killed == 0:
            raise Killed
        chance = self.rng.random()
        if chance < 0.06:
            await self._press("u")
            self.record.presses.pop()
            self.undone += 1
            return
        if chance < 0.14 and run.index and self._given_before(run) is not None:
            await self._correct(purpose)
        else:
            self._read(-1)
        await self._press("enter")

    async def _give(self, purpose: Purpose) -> Press:
        run = self.pilot.app.screen.run
        shown = run.shown
        question, right = shown.question.id, self.right[shown.question.id]
        words = right if self.rng.random() < 0.7 else self.rng.choice((*_WRONG, ""))
        is_unsure = self.rng.random() < 0.15
        thinking = round(self.rng.uniform(2, 30), 1)
        self.seconds += thinking
        self.clock.go_on(seconds=thinking)
        if not words:
            await self._press("full_stop")
            is_unsure = False
        else:
            place = [option.text for option in shown.seating.options].index(words)
            letter = "abcd"[place]
            await self._press(letter.upper() if is_unsure else letter)
        verdict = Verdict.RIGHT if words == right else Verdict.WRONG if words else Verdict.BLANK
        return Press(
            self.day, question, words, verdict,
            Confidence.UNSURE if is_unsure else Confidence.SURE, purpose,
            run.sitting.opened.id, thinking,
        )  # fmt: skip

    def _given_before(self, run: drill_sitting.DrillSitting) -> int | None:
        """Where the record has the response to the question before this one, in this sitting."""
        name, sitting = run.questions[run.index - 1].id, run.sitting.opened.id
        for place, press in enumerate(self.record.presses):
            if (press.question, press.sitting, press.day) == (name, sitting, self.day):
                return place
        return None

    async def _correct(self, purpose: Purpose) -> None:
        """Back to the question before, another response to it: three keys with the way on."""
        run = self.pilot.app.screen.run
        self._read(-1)
        await self._press("left")
        place = self._given_before_shown(run)
        before = self.record.presses.pop(place)
        press = await self._give(purpose)
        self.record.presses.append(replace(press, seconds=before.seconds))
        self._read(-1)
        self.corrected += 1

    def _given_before_shown(self, run: drill_sitting.DrillSitting) -> int:
        name, sitting = run.shown.question.id, run.sitting.opened.id
        return next(
            place
            for place, press in enumerate(self.record.presses)
            if (press.question, press.sitting) == (name, sitting)
        )

    def _read(self, place: int) -> None:
        """Read the answer for a while: longer where it was not simply right."""
        press = self.record.presses[place]
        is_plain = press.verdict is Verdict.RIGHT and press.confidence is Confidence.SURE
        reading = round(self.rng.uniform(1, 3) if is_plain else self.rng.uniform(8, 25), 1)
        self.seconds += reading
        self.clock.go_on(seconds=reading)
        self.record.presses[place] = replace(press, reading=reading)

    # besides the plan

    async def _drill_freely(self) -> None:
        """A free drill of a few questions, and what was missed in it once more."""
        app = self.pilot.app
        await self._press("ctrl+t")
        await self._until(lambda: "match" in text_of(app))
        await self._press("4", "enter")
        await self._until(lambda: isinstance(app.screen, DrillScreen))
        for _ in range(2):
            screen = app.screen
            while screen.phase is not Phase.OVER:
                await self._answer(Purpose.FREE)
            self._compare_summary(await settled(self.pilot), screen.run.sitting.opened.id)
            await self._press("w")
            if app.screen is screen:
                break
        else:
            while app.screen.phase is not Phase.OVER:
                await self._answer(Purpose.FREE)
        await self._press("enter")

    def _compare_summary(self, shown: str, sitting: str) -> None:
        """The page at the end of a sitting that is no line of the day."""
        own = [press for press in self.record.presses if press.sitting == sitting]
        changes = [self.record.change(press) for press in own]
        expected = {
            "✓ right": sum(press.verdict is Verdict.RIGHT for press in own),
            "✗ wrong": sum(press.verdict is Verdict.WRONG for press in own),
            "– blank": sum(press.verdict is Verdict.BLANK for press in own),
            "unsure or guessed": sum(press.confidence is not Confidence.SURE for press in own),
            "promoted": sum(after.signs > before.signs for before, after in changes),
            "settled": sum(after.settled and not before.settled for before, after in changes),
        }
        for words, count in expected.items():
            match = re.search(rf"(\d+)  {re.escape(words)}", shown)
            self._expect(f"result page, {words}", count, int(match[1]) if match else None)

    async def _take_paper(self) -> None:
        """A mock paper of a few questions, handed in."""
        app = self.pilot.app
        await self._press("f7")
        await self._until(lambda: not app.screen.is_loading and "Mock paper" in text_of(app))
        await self._press("end", "K", "n", "ctrl+u")
        await type_text(self.pilot, str(_PAPER))
        await self._press("enter")
        await self._until(lambda: f"{_PAPER} questions" in text_of(app))
        await self._press("enter", "y")
        await self._until(lambda: isinstance(app.screen, PaperSittingScreen))
        sitting = app.screen.exam.sitting.opened.id
        given = []
        for _ in range(_PAPER):
            shown = app.screen.exam.shown
            right = self.right[shown.question.id]
            words = self.rng.choice((right, right, *_WRONG))
            await self._press("abcd"[[each.text for each in shown.seating.options].index(words)])
            verdict = Verdict.RIGHT if words == right else Verdict.WRONG
            given.append(Press(self.day, shown.question.id, words, verdict, Confidence.SURE,
                               Purpose.PAPER, sitting))  # fmt: skip
        await self._press("z", "y")
        self.record.presses += given
        right = sum(press.verdict is Verdict.RIGHT for press in given)
        words = f"{right} right, {_PAPER - right} wrong, 0 blank"
        if words not in await settled(self.pilot):
            self._differ(f"the paper's result does not say {words}")
        await self._press("V", "1", "d")
        await settled(self.pilot)
        missed = tuple(press.question for press in given if press.verdict is not Verdict.RIGHT)
        if missed:
            drilled = app.screen.run.sitting.opened.questions
            self._expect("the paper's misses drilled", sorted(missed), sorted(drilled))
        await self._press("f2")

    # comparing

    def _compare(self, library: Library) -> None:
        """Everything the app tells with everything the record tells."""
        self._compare_log(library)
        self._compare_today(library)
        shown = {each.day: each for each in diary(evidence_log(library))}
        for day in {press.day for press in self.record.presses}:
            own = self.record.day_result(day)
            missed = {press.question for press in self.record.on(day)
                      if press.verdict is not Verdict.RIGHT}  # fmt: skip
            line = shown[day]
            self._expect(f"diary of {day}",
                         (own["questions"], own["right_first"], len(missed), own["settled"]),
                         (line.questions, line.right_first, line.missed, line.settled))  # fmt: skip

    def _compare_log(self, library: Library) -> None:
        history = library.history
        for name in self.right:
            question = library.question(name)
            texts = {option.id: option.text for option in question.options}
            shown = [
                (
                    history.day(response.at), texts.get(next(iter(response.chosen), ""), ""),
                    history.verdict(response), response.confidence, response.purpose,
                    *((response.seconds, history.reading(response))
                      if response.purpose is not Purpose.PAPER else (0.0, 0.0)),
                )
                for response in history.responses(name)
            ]  # fmt: skip
            own = [
                (press.day, press.words, press.verdict, press.confidence, press.purpose,
                 press.seconds, press.reading)
                for press in self.record.of(name)
            ]  # fmt: skip
            self._expect(f"log of {name}", own, shown)
            self._expect(f"standing of {name}", self.record.standing(name), history.standing(name))

    def _compare_today(self, library: Library) -> None:
        view = today_view(library)
        today = self.record.on(self.day)
        revised = {press.question for press in today if press.purpose is not Purpose.SWEEP}
        answered = {press.question for press in today}
        for line in view.planned:
            counts = answered if line.kind is LineKind.SWEEP else revised
            self._expect(f"done in {line.title}", sum(name in counts for name in line.questions),
                         line.done)  # fmt: skip
        shown = {name for line in view.lines for name in line.questions}
        self._expect("also done", len(answered - shown), view.also_done)
        if today and not any(press.purpose is Purpose.PAPER for press in today):
            result = view.result
            of_day = {name: getattr(result, name) for name in self.record.day_result(self.day)}
            of_day |= {name: round(of_day[name], 1) for name in ("seconds", "reading")}
            self._expect("the day's line", self.record.day_result(self.day), of_day)

    def _expect(self, what: str, own: object, shown: object) -> None:
        self.compared += 1
        if own != shown:
            self._differ(f"{what}: pressed {own}, told {shown}")

    def _differ(self, words: str) -> None:
        self.differences.append(f"{self.day}: {words}")
