"""A paper being taken, then its answer key: answers go on record as they are given.

The clock runs from the record of the beginning; no verdict is told before the paper is handed in.
What is read in the printed bank is answered by letter, and its answer key typed afterwards. No
widget is needed to try it out.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import timedelta
from enum import StrEnum
from itertools import groupby
from pathlib import Path
from time import monotonic

from msgspec.structs import replace

from banks.exporters.sheets.question_sheet import A4, PageSize, Sheet, SheetLine, SheetPart
from banks.exporters.sheets.sheet_writers import write_sheet
from banks.library import Given, Library
from banks.views import drill
from banks.views.papers import (
    DrawnPaper,
    awaiting_key,
    begin,
    deadline,
    hand_in,
)
from domain.errors import InputError
from domain.grading import grade
from domain.history import Sitting
from domain.marking.results import Result
from domain.presentation import Seating
from domain.questions import LETTERS, Kind, Option, Question, bank_of
from domain.responses import Medium, Purpose, Response
from domain.timers import QuestionTimer
from domain.verdicts import Confidence, Verdict


class AnswerState(StrEnum):
    """How a question of the paper stands, without telling whether it is right."""

    OPEN = "open"
    ANSWERED = "answered"
    PARKED = "parked"


class PaperSitting:
    """One paper from where it was left. `tick` is a clock that only ever runs on, in seconds.

    `shown` is the question that is up. What is parked is a note to oneself for this sitting only.
    """

    shown: drill.ShownQuestion

    def __init__(
        self, library: Library, sitting: Sitting, tick: Callable[[], float] = monotonic
    ) -> None:
        self.library = library
        self.sitting = sitting
        self.questions = list(_there(library, sitting.opened.questions))
        if not self.questions:
            raise InputError(
                "none of the paper's questions is left in the banks; draw another paper"
            )
        self.is_from_book = drill.is_from_book(library, sitting.opened.questions)
        self.parked: set[str] = set()
        self._shown: dict[int, drill.ShownQuestion] = {}
        self._is_printed = sitting.opened.medium is Medium.PRINTED
        self._timer = QuestionTimer(tick, library.time_cap())
        self._spent: dict[str, float] = defaultdict(float)
        self._answers = dict(sitting.given)
        self.index = 0
        self.go(self._next_open(-1))

    # the clock

    @property
    def left(self) -> timedelta | None:
        """Time left; nought once it is up. None for a printed paper: it was taken elsewhere."""
        end = deadline(self.sitting)
        return None if end is None else max(timedelta(), end - self.library.now())

    @property
    def is_up(self) -> bool:
        """Whether the time is up."""
        return self.left == timedelta()

    # moving

    def go(self, index: int) -> None:
        """To the question at this place of the paper (0 the first), within the paper."""
        if hasattr(self, "shown"):
            self._spent[self.shown.question.id] += self._timer.seconds
        self.index = min(max(index, 0), len(self.questions) - 1)
        self.shown = self.shown_at(self.index)
        self._timer.start()

    def shown_at(self, index: int) -> drill.ShownQuestion:
        """The question at a place as the paper puts it: from the book in the printed order."""
        if index not in self._shown:
            seed = None if self.is_from_book else self.sitting.opened.seed
            question = self.questions[index]
            self._shown[index] = with_letters(drill.show_question(self.library, question, seed))
        return self._shown[index]

    def go_on(self) -> None:
        """To the next question that is neither answered nor parked, else the next parked one."""
        self.go(self._next_open(self.index))

    def _next_open(self, after: int) -> int:
        count = len(self.questions)
        ring = [(after + step) % count for step in range(1, count + 1)]
        for state in (AnswerState.OPEN, AnswerState.PARKED):
            for index in ring:
                if self.state(index) is state:
                    return index
        return min(after + 1, count - 1)

    # answering

    @property
    def answer(self) -> Response | None:
        """The answer to the question that is up; None while it has none or was cleared."""
        return self.answer_at(self.index)

    def answer_at(self, index: int) -> Response | None:
        """The answer to the question at a place."""
        given = self._answers.get(self.questions[index].id)
        return given if given is not None and given.chosen else None

    def state(self, index: int) -> AnswerState:
        """How the question at a place stands."""
        if self.questions[index].id in self.parked:
            return AnswerState.PARKED
        return AnswerState.ANSWERED if self.answer_at(index) else AnswerState.OPEN

    def count(self, state: AnswerState) -> int:
        """How many questions stand so."""
        return sum(self.state(index) is state for index in range(len(self.questions)))

    def give(self, chosen: tuple[str, ...], confidence: Confidence = Confidence.SURE) -> None:
        """Answer the question that is up; () takes the answer back.

        Raises InputError when the time is up, StoreError when it was not saved.
        """
        if self.is_up:
            raise InputError("Time is up: nothing more is recorded.")
        name = self.shown.question.id
        seconds = 0.0 if self._is_printed else self._spent[name] + self._timer.seconds
        given = Given(question=name, chosen=chosen, confidence=confidence, seconds=seconds)
        (outcome,) = self.library.record(
            [given], Purpose.PAPER, sitting=self.sitting.opened.id, label="the answer"
        )
        self._answers[name] = outcome.response
        self._spent[name] = 0.0
        self._timer.start()
        self.parked.discard(name)

    def park(self) -> None:
        """Put the question that is up aside to come back to, or take it back."""
        self.parked ^= {self.shown.question.id}

    def hand_in(self) -> Result:
        """Close the paper; what was passed over is blank. Raises StoreError."""
        return hand_in(self.library, self.sitting)


PaperMark = tuple[str, ...] | Verdict
"""What is typed for a question after a paper: its answer key, or that it was right or wrong."""


class PaperKey:
    """The answer key of those questions of a paper that were answered and have none yet.

    A letter is a question's key; where there is no key at hand, "right" or "wrong" says how it
    was. Nothing counts before `save`.
    """

    def __init__(self, library: Library, sitting: Sitting) -> None:
        self.library, self.sitting = library, sitting
        self.questions = [
            with_letters(drill.show_question(library, question, None))
            for question in _there(library, awaiting_key(library, sitting))
        ]
        self.given = sitting.given
        self.marks: dict[str, PaperMark] = {}
        self.index = 0
        self.is_adding = False
        self._undo: list[tuple[int, PaperMark | None]] = []

    @property
    def missing(self) -> int:
        """How many questions have nothing typed yet."""
        return len(self.questions) - len(self.marks)

    def verdict(self, index: int) -> Verdict | None:
        """What the question at a place will come to; None while nothing is typed for it."""
        name = self.questions[index].question.id
        mark = self.marks.get(name)
        if mark is None or isinstance(mark, Verdict):
            return mark
        return grade(self.questions[index].question, self.given[name], mark)

    def letter(self, place: int) -> None:
        """The option at this place (0 for a) is the key; after `add`, it counts too.

        Raises InputError where there is no such option.
        """
        if self.is_adding:
            self.index -= 1
        shown = self.questions[self.index]
        option = shown.seating.option_at(place)
        if option is None:
            self.index += self.is_adding
            letters = shown.seating.letters
            raise InputError(
                f"{shown.question.number}: {LETTERS[place]!r} is not one of its options "
                f"(a to {letters[-1]})"
            )
        before = self.marks.get(shown.question.id)
        kept = before if self.is_adding and isinstance(before, tuple) else ()
        self.is_adding = False
        self._mark(tuple(sorted({*kept, option})))

    def judge(self, verdict: Verdict) -> None:
        """Without a key: it was right, or wrong."""
        self._mark(verdict)

    def _mark(self, mark: PaperMark) -> None:
        name = self.questions[self.index].question.id
        self._undo.append((self.index, self.marks.get(name)))
        self.marks[name] = mark
        self.move(1)

    def add(self) -> None:
        """The next letter counts beside the one before."""
        self.is_adding = self.index > 0 and not self.is_adding

    def move(self, step: int) -> None:
        """So many questions on or back; the last one stays."""
        self.is_adding = False
        self.index = min(max(self.index + step, 0), len(self.questions) - 1)

    def go_gap(self) -> None:
        """To the first question without anything typed."""
        for index, shown in enumerate(self.questions):
            if shown.question.id not in self.marks:
                self.move(index - self.index)
                return

    def undo(self) -> bool:
        """Undo what was typed last; False when there is nothing."""
        if not self._undo:
            return False
        index, before = self._undo.pop()
        self.move(index - self.index)
        name = self.questions[index].question.id
        self.marks.pop(name)
        if before is not None:
            self.marks[name] = before
        return True

    def save(self) -> int:
        """Put the keys into the banks and the judgements on record; how many are marked now.

        Raises StoreError.
        """
        day = self.library.history.day(self.sitting.opened.at)
        judged = {name: mark for name, mark in self.marks.items() if isinstance(mark, Verdict)}
        keys = {name: mark for name, mark in self.marks.items() if not isinstance(mark, Verdict)}
        with self.library.one_act("the paper's answer key"):
            for bank in {bank_of(name) for name in keys}:
                old = self.library.bank(bank)
                changed = [
                    replace(old.questions[name], answer_key=key)
                    for name, key in keys.items()
                    if bank_of(name) == bank
                ]
                self.library.save_bank(
                    old.with_questions(changed),
                    [response.id for response in changed],
                    label="the paper's answer key",
                )
            before = [self.given[name] for name in judged]
            self.library.record(
                [
                    Given(
                        question=response.question,
                        chosen=response.chosen,
                        verdict=judged[response.question],
                        confidence=response.confidence,
                        seconds=response.seconds,
                    )
                    for response in before
                ],
                Purpose.PAPER,
                sitting=self.sitting.opened.id,
                day=day,
                replacing=before,
                label="the paper's answer key",
            )
        return len(self.marks)


PAPER_LEGEND = (
    "Write the letter into the box, a capital when unsure; leave it empty for a blank."
    " Enter the letters, then the answer key, from Papers."
)


def print_paper(
    library: Library,
    paper: DrawnPaper,
    seed: int,
    path: Path,
    predicted: tuple[float, float] | None = None,
    page_size: PageSize = A4,
) -> str:
    """Write the paper's numbers as a sheet; the id of the sitting by which it is entered later.

    Raises UsageError for the file's ending, StoreError.
    """
    numbered = [
        (library.location(question), place, question)
        for place, question in enumerate(_there(library, paper.questions), 1)
    ]
    parts = []
    for heading, group in groupby(numbered, lambda line: line[0]):
        lines = tuple(
            SheetLine(question.number, reference=f"no. {place} {question.reference}".rstrip())
            for _, place, question in group
        )
        parts.append(SheetPart(heading.subject.title, heading.chapter.title, lines))
    about = f"{library.today()} · {paper.blueprint.scheme}"
    sheet = Sheet(paper.title, about, tuple(parts), PAPER_LEGEND, boxes=1)
    write_sheet(path, sheet, page_size)
    return begin(library, paper, seed, Medium.PRINTED, predicted)


def with_letters(shown: drill.ShownQuestion) -> drill.ShownQuestion:
    """A question of which only the number is known, with the letters of its printed options."""
    if shown.seating.options or shown.question.kind is not Kind.BEST:
        return shown
    letters = LETTERS[: shown.location.bank.option_count]
    return replace(shown, seating=Seating(tuple(Option(id=letter, text="") for letter in letters)))


def _there(library: Library, ids: Iterable[str]) -> list[Question]:
    questions = map(library.question, ids)
    return [question for question in questions if question is not None]
