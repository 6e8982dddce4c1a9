"""One go over questions on paper: its sitting, its marks, corrections, undo, and its time."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from msgspec import Struct

from banks.contents import Location
from banks.library import Given, Library, Outcome
from banks.views.triage import Explanation, explanation
from domain.history import Sitting
from domain.printed.entry import choices
from domain.printed.marking_grid import Act, GridMark, GridPart, MarkingGrid
from domain.printed.stopwatch import Stopwatch
from domain.questions import LETTERS, Question
from domain.responses import Medium, Purpose, Response
from domain.tiers import Standing
from domain.verdicts import Confidence


class QuestionRecord(Struct, frozen=True):
    """What is known of one question, to show beside the grid."""

    question: Question
    location: Location
    explanation: Explanation
    note: str

    @property
    def standing(self) -> Standing:
        """Where it stands."""
        return self.explanation.standing


class EarlierMarks(Struct, frozen=True):
    """Marks that the same questions already have of this study day: how many, and since when."""

    count: int
    since: str


class Scope(Struct, frozen=True):
    """What a sitting is over: question ids in the order of the book, and why it is taken."""

    title: str
    purpose: Purpose
    questions: tuple[str, ...]


def list_scope(library: Library, title: str, purpose: Purpose, questions: Iterable[str]) -> Scope:
    """Questions of any chapters, chapter by chapter and number by number."""
    wanted = set(questions)
    ordered = tuple(
        question.id for _, question in library.active_questions() if question.id in wanted
    )
    return Scope(title, purpose, ordered)


class PrintedSitting:
    """Marks for the questions of a scope.

    A sitting that was broken off is resumed. `correcting` makes today's earlier marks the sitting's
    own: a new mark takes their place.
    """

    def __init__(self, library: Library, scope: Scope) -> None:
        self.library, self.scope = library, scope
        self._members = frozenset(scope.questions)
        self.correcting = False
        self._sitting = self._broken_off()
        self.stopwatch = Stopwatch(library.settings.plan.seconds, library.time_cap())

    # what there is

    @property
    def is_taken_up(self) -> bool:
        """Whether this sitting goes on with marks made before."""
        return bool(self._sitting and self._sitting.given)

    def parts(self) -> list[GridPart]:
        """The questions that are in the bank still, under their chapters' headings."""
        found = []
        for _, members in groupby(self._living(), key=lambda question: question.chapter):
            listed = tuple(members)
            location = self.library.location(listed[0])
            title = f"{location.subject.title} · {location.chapter.title}"
            found.append(GridPart(title, listed, location.bank.option_count))
        return found

    def mark_of(self, question: Question, option_count: int) -> GridMark | None:
        """The mark that counts for a question in this sitting."""
        responses = self.counting(question.id)
        return self._mark(question, responses[-1], option_count) if responses else None

    def about(self, question: Question) -> QuestionRecord:
        """What is known of a question."""
        return QuestionRecord(
            question,
            self.library.location(question),
            explanation(self.library, question.id),
            self.library.history.note(question.id),
        )

    def earlier(self) -> EarlierMarks | None:
        """What of these questions is marked today already, outside this sitting."""
        today = self.library.today()
        history = self.library.history
        found = [
            last
            for last in (
                history.responses(q)[-1] for q in self.scope.questions if history.responses(q)
            )
            if history.day(last.at) == today
        ]
        if not found:
            return None
        return EarlierMarks(len(found), f"{min(one.at for one in found):%H:%M}")

    def counting(self, question_id: str) -> list[Response]:
        """The responses to a question that a new mark of this sitting takes the place of."""
        history = self.library.history
        own = self._sitting.opened.id if self._sitting else None
        today = self.library.today() if self.correcting else None
        return [
            one
            for one in history.responses(question_id)
            if one.sitting == own or (today and history.day(one.at) == today)
        ]

    # marking

    def record(self, act: Act, questions: Sequence[Question], left: int) -> list[Outcome]:
        """Put an act on record, for the act's questions; `left` counts what had no mark yet.

        Raises StoreError when nothing was saved.
        """
        now = self.library.now()
        replaced = {question.id: self.counting(question.id) for question in questions}
        fresh = self.stopwatch.share(now, left, in_turn=act.in_turn)
        given = [
            Given(
                question=question.id, chosen=act.chosen, verdict=act.verdict,
                confidence=act.confidence, seconds=_seconds(replaced[question.id], fresh),
            )
            for question in questions
        ]  # fmt: skip
        outcomes = self.library.record(
            given, self.scope.purpose, sitting=self._open(),
            replacing=[one for earlier in replaced.values() for one in earlier],
        )  # fmt: skip
        marked = sum(not earlier for earlier in replaced.values())
        self.stopwatch.hand_out(now, fresh * marked)
        return outcomes

    def undo(self) -> list[str]:
        """Undo the newest marks of this sitting; the questions' ids, none when nothing is left."""
        newest = self.library.newest
        if newest is not None and self._is_own(newest.records):
            gone = [record for record in newest.records if isinstance(record, Response)]
            back = newest.replaced
            self.library.undo()
        else:
            gone, back = self._last_batch(), ()
            if gone:
                self.library.withdraw(gone)
        seconds = sum(one.seconds for one in gone) - sum(one.seconds for one in back)
        self.stopwatch.take_back(max(0.0, seconds))
        return [one.question for one in gone]

    def correct(self) -> None:
        """Make today's earlier marks this sitting's own, to be corrected and added to."""
        self.correcting = True
        same = [
            sitting
            for sitting in self._sittings()
            if self.library.history.day(sitting.opened.at) == self.library.today()
        ]
        self._sitting = _newest(same)

    def leave(self) -> None:
        """Close the sitting if finished; forget it if nothing was marked; else it stays open."""
        sitting = self._sitting
        if sitting is None or sitting.closed:
            return
        if not sitting.given:
            self.library.withdraw([sitting.opened])
        elif not sitting.left:
            self.library.close_sitting(sitting.opened.id)

    # inside

    def _sittings(self) -> Iterator[Sitting]:
        """The sittings of this title, purpose and these questions."""
        for sitting in self.library.history.sittings.values():
            opened = sitting.opened
            is_same_list = (opened.title, opened.purpose, opened.questions) == (
                self.scope.title, self.scope.purpose, self.scope.questions,
            )  # fmt: skip
            if is_same_list and opened.medium is Medium.PRINTED:
                yield sitting

    def _broken_off(self) -> Sitting | None:
        return _newest(one for one in self._sittings() if not one.closed and one.left)

    def _open(self) -> str:
        """The name of the sitting; corrections of marks made without one are made without one."""
        if self._sitting is None and self.correcting:
            return ""
        if self._sitting is None:
            name = self.library.open_sitting(
                self.scope.title, self.scope.purpose, self.scope.questions,
                medium=Medium.PRINTED,
            )  # fmt: skip
            self._sitting = self.library.history.sittings[name]
        return self._sitting.opened.id

    def _living(self) -> Iterator[Question]:
        for name in self.scope.questions:
            question = self.library.question(name)
            if question is not None and not question.retired:
                yield question

    def _mark(self, question: Question, response: Response, option_count: int) -> GridMark:
        is_sure = response.confidence is Confidence.SURE
        chosen = self.library.history.chosen(response)
        letter = _letter(choices(question, option_count), chosen)
        return GridMark(
            self.library.history.verdict(response),
            Confidence.SURE if is_sure else Confidence.UNSURE,
            letter if is_sure else letter.upper(),
        )

    def _is_own(self, records: Sequence[object]) -> bool:
        own = self._sitting.opened.id if self._sitting else ""
        return bool(records) and all(
            isinstance(one, Response) and one.sitting == own and one.question in self._members
            for one in records
        )

    def _last_batch(self) -> list[Response]:
        """The newest marks of this sitting made in one stroke, from before this run."""
        given = list(self._sitting.given.values()) if self._sitting else []
        newest = max((one.at for one in given), default=None)
        return [one for one in given if one.at == newest]


def _newest(sittings: Iterable[Sitting]) -> Sitting | None:
    return max(sittings, key=lambda sitting: sitting.opened.at, default=None)


def _letter(options: Sequence[str], given: Sequence[str]) -> str:
    """The letter of a single choice; "" where it was none."""
    return LETTERS[options.index(given[0])] if given and given[0] in options else ""


def _seconds(replaced: Sequence[Response], fresh: float) -> float:
    """A correction keeps the time that the question took; a new mark takes its share."""
    return replaced[-1].seconds if replaced else fresh


class MarkingResult(Struct, frozen=True):
    """What an act came to: a mark and an outcome for each question."""

    questions: list[Question]
    marks: list[GridMark]
    outcomes: list[Outcome]


class PrintedTable:
    """The questions as the bank has them now, with the marks that count in this sitting."""

    def __init__(self, go: PrintedSitting) -> None:
        self.sitting = go
        self.lay_out()
        self.desk.go_open()

    def lay_out(self) -> None:
        """Read bank and history again; the cursor stays where it was."""
        before = getattr(self, "desk", None)
        self.desk = MarkingGrid(self.sitting.parts())
        self.desk.marks = self._marks()
        if before is not None:
            self.desk.go(before.cursor)

    def do(self, act: Act) -> MarkingResult:
        """Put an act on record. Raises StoreError when it could not be; nothing is marked then."""
        questions = [self.desk.slots[slot] for slot in act.slots]
        outcomes = self.sitting.record(act, questions, len(self.desk.open_slots()))
        marks = [mark for slot in act.slots if (mark := self._mark(slot)) is not None]
        self.desk.settle(act, marks)
        return MarkingResult(questions, marks, outcomes)

    def undo(self) -> list[int]:
        """Take back the newest act; the slots that changed, none when nothing is left of it."""
        gone = set(self.sitting.undo())
        slots = [slot for slot, question in enumerate(self.desk.slots) if question.id in gone]
        if slots:
            self.desk.unsettle(slots, self._marks())
        return slots

    def about(self, slot: int) -> QuestionRecord:
        """What is known of the question in a slot; past the end, of the last."""
        return self.sitting.about(self.desk.slots[min(slot, len(self.desk.slots) - 1)])

    def standing(self, slot: int) -> Standing:
        """Where the question in a slot stands now."""
        return self.sitting.library.history.standing(self.desk.slots[slot].id)

    def _marks(self) -> dict[int, GridMark]:
        found = {slot: self._mark(slot) for slot in range(len(self.desk.slots))}
        return {slot: mark for slot, mark in found.items() if mark is not None}

    def _mark(self, slot: int) -> GridMark | None:
        option_count = self.desk.parts[self.desk.part_of(slot)].option_count
        return self.sitting.mark_of(self.desk.slots[slot], option_count)
