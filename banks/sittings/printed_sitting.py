"""One sitting over questions of the printed bank: its marks, corrections, undo, and its time."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from itertools import groupby

from msgspec import Struct
from msgspec.structs import replace

from banks.contents import Location
from banks.library import Given, Library, Outcome
from banks.sittings.typed_marks import given_of
from banks.views.open_sittings import counting_responses, unanswered
from banks.views.triage import Explanation, explanation
from domain.errors import InputError
from domain.history import Sitting
from domain.printed.entry import choices
from domain.printed.marking_grid import Act, GridMark, GridPart, MarkingGrid
from domain.questions import LETTERS, Question
from domain.responses import Medium, Purpose, Response, VisitBegun
from domain.tiers import Standing
from domain.timers import Stopwatch
from domain.verdicts import Confidence, Verdict

FURTHEST_BACK = 60
"""Days back for which marks can still be entered in the grid."""
_MOVED = "the change of day or purpose"
_A_DAY_OF_IT = 0.2
"""The share of a list's questions that must have been answered on a day for it to be told."""


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


class QuestionPast(Struct, frozen=True):
    """What the pencil left on a question before this sitting.

    `missed`, `doubted`: what its last response was, neither where it was right and sure.
    """

    standing: Standing = Standing()
    missed: bool = False
    doubted: bool = False


class EarlierMarks(Struct, frozen=True):
    """Marks that the same questions already have of a study day: how many, and since when."""

    count: int
    since: str


class DayOfQuestions(Struct, frozen=True):
    """What a study day brought for a list of questions."""

    day: date
    done: int
    missed: int


class SittingResult(Struct, frozen=True):
    """How the questions marked went. `missed_before` counts those of them that were missed the
    time before, None where none had been tried before.
    """

    done: int
    missed: int
    missed_before: int | None
    settled: int


class Scope(Struct, frozen=True):
    """What a sitting is over: question ids in the order of the book, and why it is taken.

    `sitting` names one to go on with, as that of a printed sheet. `days_back` is how long ago
    the work was done.
    """

    title: str
    purpose: Purpose
    questions: tuple[str, ...]
    sitting: str = ""
    days_back: int = 0


def list_scope(
    library: Library,
    title: str,
    purpose: Purpose | None,
    questions: Iterable[str],
    sitting: str = "",
    days_back: int = 0,
) -> Scope:
    """Questions of any chapters, chapter by chapter and number by number.

    Without a purpose it is that of the line of Today that holds them.
    """
    chosen = set(questions)
    ordered = tuple(name for _, name in library.active_ids() if name in chosen)
    if purpose is None:
        day = library.today() - timedelta(days=days_back)
        purpose = usual_purpose(library, ordered, day)
    return Scope(title, purpose, ordered, sitting, days_back)


def usual_purpose(library: Library, questions: Sequence[str], day: date) -> Purpose:
    """The purpose of the day's line that holds most of these questions, else revision.

    Of an earlier day, that of the visit which its plan had for their subjects on that day.
    """
    from banks.planning.workload import PlanWorkload
    from banks.views.today import DayLines
    from domain.plan.study_plan import EntryKind

    if not library.settings.plan.is_set_up:
        return Purpose.REVISION
    exam = library.settings.plan.exam
    if exam is not None and exam <= day:
        return Purpose.REVISION
    workload, chosen = PlanWorkload(library), set(questions)
    try:
        if day == workload.today:
            lines = DayLines(library, workload, may_choose=False).of(day)
            held = Counter({line.purpose: 0 for line in lines})
            for line in lines:
                held[line.purpose] += len(chosen.intersection(line.questions))
        else:
            subjects = Counter(map(library.subject_id, questions))
            kinds = {EntryKind.BLOCK: Purpose.REVISION, EntryKind.SWEEP: Purpose.SWEEP}
            held = Counter()
            for entry in workload.plan(day).on(day):
                if entry.kind in kinds:
                    held[kinds[entry.kind]] += subjects[entry.subject or ""]
    except InputError:  # no plan can be made of the inputs
        return Purpose.REVISION
    purpose, count = max(held.items(), key=lambda item: item[1], default=(Purpose.REVISION, 0))
    return purpose if count else Purpose.REVISION


class PrintedSitting:
    """Marks for the questions of a scope, under a purpose and for a study day.

    A sitting that was broken off is resumed. `correcting` makes the day's earlier marks the
    sitting's own: a new mark takes their place. `days_back` is how long ago the work was done.
    """

    def __init__(self, library: Library, scope: Scope) -> None:
        self.library, self.scope = library, scope
        self.purpose, self.days_back = scope.purpose, scope.days_back
        self.correcting = False
        self._members = frozenset(scope.questions)
        self._fresh: dict[str, None] = {}
        self._sitting = library.history.sittings.get(scope.sitting) or self._broken_off()
        if self._sitting is not None and (given := self._sitting.given):
            self.purpose = max(given.values(), key=lambda response: response.id).purpose
        self.stopwatch = Stopwatch(library.settings.plan.seconds, library.time_cap())

    # what there is

    @property
    def day(self) -> date:
        """The study day that marks are for."""
        return self.library.today() - timedelta(days=self.days_back)

    @property
    def is_sheet(self) -> bool:
        """Whether its list was printed."""
        return bool(self._sitting and self._sitting.opened.sheet)

    @property
    def is_taken_up(self) -> bool:
        """Whether this sitting goes on with marks made before."""
        return bool(self._sitting and self._sitting.given)

    def parts(self) -> list[GridPart]:
        """The questions that are in the bank still, under their chapters' headings."""
        parts = []
        for _, members in groupby(self._active(), key=lambda question: question.chapter):
            listed = tuple(members)
            location = self.library.location(listed[0])
            title = f"{location.subject.title} · {location.chapter.title}"
            parts.append(GridPart(title, listed, location.bank.option_count))
        return parts

    def mark_of(self, question: Question, option_count: int) -> GridMark | None:
        """The mark that counts for a question in this sitting."""
        responses = self._counting(question.id)
        return self._mark(question, responses[-1], option_count) if responses else None

    def past_of(self, question: Question) -> QuestionPast:
        """What the pencil left on it before it was marked here."""
        history = self.library.history
        counting = self._counting(question.id)
        ids = {response.id for response in counting}
        before = [response for response in history.responses(question.id) if response.id not in ids]
        if not counting:
            standing = history.standing(question.id)
        else:
            standing = history.standing_before(question.id, history.day(counting[0].at))
        if not before:
            return QuestionPast(standing)
        is_missed = history.verdict(before[-1]) is not Verdict.RIGHT
        is_doubted = not is_missed and before[-1].confidence is not Confidence.SURE
        return QuestionPast(standing, is_missed, is_doubted)

    def about(self, question: Question) -> QuestionRecord:
        """What is known of a question."""
        return QuestionRecord(
            question,
            self.library.location(question),
            explanation(self.library, question.id),
            self.library.history.note(question.id),
        )

    def days_of(self, questions: Sequence[Question]) -> list[DayOfQuestions]:
        """The study days on which a good part of these were answered, newest first.

        The marks of this sitting are left out.
        """
        history = self.library.history
        done: Counter[date] = Counter()
        missed: Counter[date] = Counter()
        for question in questions:
            own = {response.id for response in self._counting(question.id)}
            days: dict[date, bool] = {}
            for response in history.responses(question.id):
                if response.id not in own:
                    day = history.day(response.at)
                    is_miss = history.verdict(response) is not Verdict.RIGHT
                    days[day] = days.get(day, False) or is_miss
            done.update(days.keys())
            missed.update(day for day, is_miss in days.items() if is_miss)
        enough = max(1, int(_A_DAY_OF_IT * len(questions)))
        return [
            DayOfQuestions(day, done[day], missed[day])
            for day in sorted(done, reverse=True)
            if done[day] >= enough
        ]

    def result(self, questions: Sequence[Question]) -> SittingResult:
        """How those of these questions went that are marked."""
        done = missed = settled = missed_before = tried_before = 0
        for question in questions:
            mark = self.mark_of(question, 0)
            if mark is None:
                continue
            past = self.past_of(question)
            done += 1
            missed += mark.verdict is not Verdict.RIGHT
            missed_before += past.missed
            tried_before += past.standing.last is not None
            is_settled = self.library.history.standing(question.id).settled
            settled += is_settled and not past.standing.settled
        return SittingResult(done, missed, missed_before if tried_before else None, settled)

    def earlier(self) -> EarlierMarks | None:
        """What of these questions is marked already on the sitting's day, outside of it."""
        history = self.library.history
        marked = []
        for name in self.scope.questions:
            own = {response.id for response in self._counting(name)}
            on_day = [
                response
                for response in history.responses(name)
                if response.id not in own and history.day(response.at) == self.day
            ]
            marked += on_day[-1:]
        if not marked:
            return None
        return EarlierMarks(len(marked), f"{min(response.at for response in marked):%H:%M}")

    def _own(self, question_id: str) -> list[Response]:
        """The responses to a question that a new mark of this sitting takes the place of."""
        history = self.library.history
        own = self._sitting.opened.id if self._sitting else None
        day = self.day if self.correcting else None
        return [
            response
            for response in history.responses(question_id)
            if response.sitting == own or (day and history.day(response.at) == day)
        ]

    def _counting(self, question_id: str) -> list[Response]:
        """The responses that mark a question here; on a sheet whatever came after it too."""
        own = self._own(question_id)
        if own or self._sitting is None:
            return own
        return counting_responses(self._sitting, question_id)

    # marking

    def record(self, act: Act, questions: Sequence[Question], left: int) -> list[Outcome]:
        """Put an act on record, for the act's questions; `left` counts what had no mark yet.

        Raises StoreError when nothing was saved.
        """
        now = self.library.now()
        replaced = {question.id: self._own(question.id) for question in questions}
        fresh = self.stopwatch.share(now, left, in_turn=act.in_turn)
        given = [_given(act, question, replaced[question.id], fresh) for question in questions]
        outcomes = self._record(given, [response for old in replaced.values() for response in old])
        marked = sum(not earlier for earlier in replaced.values())
        self.stopwatch.hand_out(now, fresh * marked)
        self._fresh |= dict.fromkeys(replaced)
        return outcomes

    def _record(
        self, given: Sequence[Given], replaced: Sequence[Response], label: str = ""
    ) -> list[Outcome]:
        day = self.day if self.days_back else None
        return self.library.record(
            given, self.purpose, sitting=self._open(), day=day, label=label, replacing=replaced
        )

    def move(self, *, purpose: Purpose | None = None, days_back: int | None = None) -> int:
        """Go on under another purpose or for another day; how many marks went along.

        Those do that were made since the sitting was opened here. Raises InputError for a day
        to come or too long ago, StoreError when the marks were not saved; nothing changes then.
        """
        before = self.purpose, self.days_back
        if days_back is not None and not 0 <= days_back <= FURTHEST_BACK:
            raise InputError(
                "that day is still to come"
                if days_back < 0
                else f"more than {FURTHEST_BACK} days back: use `resieve mark --date`"
            )
        self.purpose = purpose or self.purpose
        self.days_back = self.days_back if days_back is None else days_back
        if (self.purpose, self.days_back) == before:
            return 0
        moved = [own[-1] for name in self._fresh if (own := self._own(name))]
        try:
            if moved:
                self._record([self._same(response) for response in moved], moved, _MOVED)
        except Exception:
            self.purpose, self.days_back = before
            raise
        return len(moved)

    def _same(self, response: Response) -> Given:
        return Given(
            question=response.question,
            chosen=response.chosen,
            verdict=response.verdict,
            confidence=response.confidence,
            seconds=response.seconds,
            reason=self.library.history.reason(response),
            was_sure=response.was_sure,
        )

    def undo(self) -> list[str]:
        """Undo the newest marks of this sitting; the questions' ids, none when nothing is left."""
        newest = self.library.newest
        if newest is not None and self._is_own(newest.records):
            gone = [record for record in newest.records if isinstance(record, Response)]
            back = newest.replaced
            self.library.undo()
            if newest.label == _MOVED:
                self.purpose = back[0].purpose
                self.days_back = (self.library.today() - self.library.history.day(back[0].at)).days
        else:
            gone, back = self._last_batch(), ()
            if gone:
                self.library.withdraw(gone)
        seconds = sum(response.seconds for response in gone) - sum(
            response.seconds for response in back
        )
        self.stopwatch.take_back(max(0.0, seconds))
        return [response.question for response in gone]

    def correct(self) -> None:
        """Make the day's earlier marks this sitting's own, to be corrected and added to."""
        self.correcting = True
        same = [
            sitting
            for sitting in self._sittings()
            if self.library.history.day(sitting.opened.at) == self.day
        ]
        self._sitting = _newest(same) or self._sitting

    def leave(self) -> None:
        """Close the sitting if finished; forget it if nothing was marked; else it stays open."""
        sitting = self._sitting
        if sitting is None or sitting.closed:
            return
        if not sitting.given and not sitting.opened.sheet:
            self.library.withdraw([sitting.opened])
        elif not unanswered(self.library, sitting):
            self.library.close_sitting(sitting.opened.id)

    # inside

    def _sittings(self) -> Iterator[Sitting]:
        """The sittings of this title and these questions; what for may have been changed."""
        for sitting in self.library.history.sittings.values():
            opened = sitting.opened
            is_same_list = (opened.title, opened.questions) == (
                self.scope.title,
                self.scope.questions,
            )
            if is_same_list and opened.medium is Medium.PRINTED:
                yield sitting

    def _broken_off(self) -> Sitting | None:
        return _newest(
            sitting
            for sitting in self._sittings()
            if not sitting.closed and sitting.left and self._is_for_the_same(sitting)
        )

    def _is_for_the_same(self, sitting: Sitting) -> bool:
        """Its purpose is the scope's, or it was changed since it was opened."""
        purposes = {response.purpose for response in sitting.given.values()}
        return self.scope.purpose in (purposes or {sitting.opened.purpose})

    def _open(self) -> str:
        """The name of the sitting; corrections of marks made without one are made without one."""
        if self._sitting is None and self.correcting:
            return ""
        if self._sitting is None:
            name = self.library.open_sitting(
                self.scope.title, self.purpose, self.scope.questions, medium=Medium.PRINTED
            )
            self._sitting = self.library.history.sittings[name]
        return self._sitting.opened.id

    def _active(self) -> Iterator[Question]:
        for name in self.scope.questions:
            question = self.library.question(name)
            if question is not None and not question.retired:
                yield question

    def _mark(self, question: Question, response: Response, option_count: int) -> GridMark:
        history = self.library.history
        is_sure = response.confidence is Confidence.SURE
        letter = _letter(choices(question, option_count), history.chosen(response))
        return GridMark(
            history.verdict(response),
            Confidence.SURE if is_sure else Confidence.UNSURE,
            history.reason(response),
            response.was_sure,
            letter if is_sure else letter.upper(),
        )

    def _is_own(self, records: Sequence[object]) -> bool:
        """Whether an act marked questions here, and did no more than begin their sweep."""
        own = self._sitting.opened.id if self._sitting else ""
        marks = [record for record in records if not isinstance(record, VisitBegun)]
        return bool(marks) and all(
            isinstance(mark, Response) and mark.sitting == own and mark.question in self._members
            for mark in marks
        )

    def _last_batch(self) -> list[Response]:
        """The newest marks of this sitting made in one stroke, from before this run."""
        given = list(self._sitting.given.values()) if self._sitting else []
        newest = max((response.at for response in given), default=None)
        return [response for response in given if response.at == newest]


def _given(act: Act, question: Question, replaced: Sequence[Response], fresh: float) -> Given:
    """The response that an act asks for. A correction keeps the time that the question took.

    A reason said of a question that has its letter keeps the letter.
    """
    seconds = replaced[-1].seconds if replaced else fresh
    if act.judgement is None:
        return Given(
            question=question.id, chosen=act.chosen, confidence=act.confidence, seconds=seconds
        )
    given = replace(given_of(question, act.judgement), seconds=seconds)
    if act.judgement.reason and replaced and replaced[-1].chosen:
        last = replaced[-1]
        return replace(given, chosen=last.chosen, verdict=None, confidence=last.confidence)
    return given


def _newest(sittings: Iterable[Sitting]) -> Sitting | None:
    return max(sittings, key=lambda sitting: sitting.opened.at, default=None)


def _letter(options: Sequence[str], given: Sequence[str]) -> str:
    """The letter of a single choice; "" where it was none."""
    return LETTERS[options.index(given[0])] if given and given[0] in options else ""


class MarkingResult(Struct, frozen=True):
    """What an act came to: a mark and an outcome for each question."""

    questions: list[Question]
    marks: list[GridMark]
    outcomes: list[Outcome]


class MarkedGrid:
    """The grid over a sitting's questions as the bank has them now, with their marks and past."""

    grid: MarkingGrid

    def __init__(self, sitting: PrintedSitting) -> None:
        self.sitting = sitting
        self._read()
        self.grid.go_open()

    def read_again(self) -> None:
        """Read bank and history again; the cursor and what was typed stay as they were."""
        before = self.grid
        self._read()
        self.grid.resume(before)

    def _read(self) -> None:
        self.grid = MarkingGrid(self.sitting.parts())
        self.grid.marks = self._marks()
        self.pasts = [self.sitting.past_of(question) for question in self.grid.slots]
        self._days: dict[int, list[DayOfQuestions]] = {}

    def do(self, act: Act) -> MarkingResult:
        """Put an act on record. Raises StoreError when it could not be; nothing is marked then."""
        questions = [self.grid.slots[slot] for slot in act.slots]
        outcomes = self.sitting.record(act, questions, len(self.grid.open_slots()))
        marks = [mark for slot in act.slots if (mark := self._mark(slot)) is not None]
        self.grid.settle(act, marks)
        return MarkingResult(questions, marks, outcomes)

    def move(self, *, purpose: Purpose | None = None, days_back: int | None = None) -> int:
        """As `PrintedSitting.move`."""
        moved = self.sitting.move(purpose=purpose, days_back=days_back)
        if moved:
            self.grid.remember_cursor()
        return moved

    def undo(self) -> list[int]:
        """Undo the newest act; the slots that changed, none when nothing is left of it."""
        gone = set(self.sitting.undo())
        slots = [slot for slot, question in enumerate(self.grid.slots) if question.id in gone]
        if slots:
            self.grid.unsettle(slots, self._marks())
        return slots

    def about(self, slot: int) -> QuestionRecord:
        """What is known of the question in a slot; past the end, of the last."""
        return self.sitting.about(self.grid.slots[min(slot, len(self.grid.slots) - 1)])

    def days(self, part: int) -> list[DayOfQuestions]:
        """What earlier days brought for a part's questions, newest first."""
        if part not in self._days:
            self._days[part] = self.sitting.days_of(self.grid.parts[part].questions)
        return self._days[part]

    def result(self) -> SittingResult:
        """How it went so far."""
        return self.sitting.result(self.grid.slots)

    def _marks(self) -> dict[int, GridMark]:
        marks = {slot: self._mark(slot) for slot in range(len(self.grid.slots))}
        return {slot: mark for slot, mark in marks.items() if mark is not None}

    def _mark(self, slot: int) -> GridMark | None:
        option_count = self.grid.parts[self.grid.part_of(slot)].option_count
        return self.sitting.mark_of(self.grid.slots[slot], option_count)
