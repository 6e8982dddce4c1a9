"""A sitting being taken: which question is up, and what is said about it goes on record.

The screen shows what a `DrillSitting` tells and hands it the candidate's keys; no widget is needed
to try it out. Time before a response is thinking, time spent on its answer is reading; both are
recorded.
"""

from collections.abc import Callable
from time import monotonic

from banks.library import Given, Library
from banks.undo import Undone
from banks.views import drill, results
from domain.editing import retired
from domain.errors import InputError
from domain.questions import Question, bank_of
from domain.responses import (
    BankSaved,
    Dispute,
    Flag,
    Note,
    Purpose,
    ReadingTime,
    Reason,
    Response,
    ResponseReason,
)
from domain.timers import QuestionTimer
from domain.verdicts import Confidence, Verdict

_READ = 0.5
"""Seconds from which on a look at an answer counts as reading."""


class DrillSitting:
    """One sitting from where it was left. `tick` is a clock that only ever runs on, in seconds.

    `shown` is the question that is up, `feedback` what came of its response, None while it has
    none or is answered again. `is_reading`: the watch times how long its answer is read.
    Raises InputError when there is no such sitting.
    """

    shown: drill.ShownQuestion
    feedback: drill.ResponseFeedback | None = None

    def __init__(
        self, library: Library, sitting_id: str, tick: Callable[[], float] = monotonic
    ) -> None:
        if sitting_id not in library.history.sittings:
            raise InputError("this sitting was not found; nothing was changed")
        self.library = library
        self.sitting = library.history.sittings[sitting_id]
        self.questions = list(_there(library, self.sitting.opened.questions))
        self.is_over = False
        self._given = self._read_given()
        self._verdicts: dict[str, Verdict] = {}
        self._watch = QuestionTimer(tick, library.time_cap())
        self.is_reading = False
        self.index = -1
        self.next()

    # moving

    def next(self) -> None:
        """To the next question without a response, in a ring; it is over after the last, or when
        the time set for it is used up.

        Raises StoreError, as every move does, when the reading time was not saved; then the
        question stays up.
        """
        self.stop_reading()
        if self.seconds_left == 0:
            self.is_over = True
            return
        count = len(self.questions)
        ring = [(self.index + step) % count for step in range(1, count + 1)] if count else []
        for index in ring:
            if self.questions[index].id not in self._given:
                self._go(index)
                return
        self.is_over = True

    def step(self, by: int) -> None:
        """To a neighbour in the sitting's order, with a response or without."""
        if 0 <= self.index + by < len(self.questions):
            self._go(self.index + by)

    def stop_reading(self) -> None:
        """Put on record how long the answer that is up was read, and stop the watch.

        Raises StoreError when it was not saved.
        """
        seconds = self._watch.seconds
        if self.is_reading and self.feedback is not None and seconds >= _READ:
            response = self.feedback.response
            before = self.library.history.reading(response)
            self.library.put_on_record(
                ReadingTime, response=response.id, seconds=round(before + seconds, 1)
            )
        self.is_reading = False

    def reopen(self) -> None:
        """Ask the question that is up again: its next response takes the place of the last."""
        self.stop_reading()
        self.feedback = None

    def _go(self, index: int) -> None:
        self.stop_reading()
        self.index, self.is_over = index, False
        self._refresh()
        self._start()

    def _start(self) -> None:
        self._watch.start()
        self.is_reading = self.feedback is not None

    def reread(self) -> None:
        """Read everything afresh that was said elsewhere meanwhile."""
        self._given = self._read_given()
        self._verdicts.clear()
        self._refresh()

    def _read_given(self) -> dict[str, Response]:
        ids = {question.id for question in self.questions}
        return {name: given for name, given in self.sitting.given.items() if name in ids}

    def _refresh(self) -> None:
        question = self.library.question(self.questions[self.index].id)
        self.questions[self.index] = question or self.questions[self.index]
        seed = self.sitting.opened.seed
        self.shown = drill.show_question(self.library, self.questions[self.index], seed)
        response = self._given.get(self.shown.question.id)
        self.feedback = (
            drill.response_feedback(self.library, self.shown, response) if response else None
        )

    @property
    def purpose(self) -> Purpose:
        """Why the sitting is taken."""
        return self.sitting.opened.purpose

    @property
    def goes_on(self) -> bool:
        """Whether the next question comes by itself after the response that is up."""
        feedback = self.feedback
        return self.library.settings.looks.goes_on and bool(feedback and feedback.is_right_and_sure)

    @property
    def score(self) -> results.SittingScore:
        """How it goes so far."""
        return results.score(
            len(self.questions),
            [
                (response, self._verdict(response), self.library.history.reading(response))
                for response in self._given.values()
            ],
        )

    @property
    def seconds_left(self) -> float | None:
        """What is left of the time set for it, None where none was; idle time is capped in it."""
        minutes = self.sitting.opened.minutes
        if not minutes:
            return None
        unrecorded = 0.0 if self.is_over or self.index < 0 else self._watch.seconds
        score = self.score
        return max(0.0, minutes * 60 - score.seconds - score.reading - unrecorded)

    def missed(self) -> list[Question]:
        """The questions that were wrong or blank, in order."""
        given = self._given
        return [
            question
            for question in self.questions
            if question.id in given and self._verdict(given[question.id]) is not Verdict.RIGHT
        ]

    def remarks(self) -> drill.Remarks:
        """What the candidate said about the question that is up."""
        return drill.remarks(self.library, self.shown, self.feedback)

    def context(self) -> drill.QuestionContext:
        """How the question that is up came to stand where it does."""
        return drill.context(self.library, self.shown)

    def moved(self) -> results.TierMoves:
        """What the sitting did to the tiers."""
        return results.moved(self.library, self.sitting)

    def _verdict(self, response: Response) -> Verdict:
        """Graded once: a long sitting is counted anew after every key."""
        if response.id not in self._verdicts:
            self._verdicts[response.id] = self.library.history.verdict(response)
        return self._verdicts[response.id]

    # saying

    def given(
        self,
        chosen: tuple[str, ...] | None = None,
        verdict: Verdict | None = None,
        confidence: Confidence = Confidence.SURE,
    ) -> Given:
        """A response to the question that is up, with the time it took until now.

        One that corrects an earlier response keeps the time which that took.
        """
        corrected = self._given.get(self.shown.question.id)
        return Given(
            question=self.shown.question.id,
            chosen=chosen,
            verdict=verdict,
            confidence=confidence,
            seconds=corrected.seconds if corrected else self._watch.seconds,
        )

    def record(self, given: Given) -> None:
        """Put a response on record, in the place of an earlier one to the question in this sitting.

        A correction counts for the study day of what it corrects. Raises StoreError when it is
        not saved.
        """
        corrected = self._given.get(given.question)
        [outcome] = self.library.record(
            [given],
            self.purpose,
            sitting=self.sitting.opened.id,
            day=self.library.history.day(corrected.at) if corrected else None,
            label="the correction" if corrected else "the response",
            replacing=[corrected] if corrected else [],
        )
        self._given[given.question] = outcome.response
        self._refresh()
        self._start()

    def note(self, text: str) -> None:
        """Keep a note on the question that is up."""
        self.library.note(self.shown.question.id, text.strip())

    def reason(self, miss: Reason) -> None:
        """Say why the response to the question that is up was a miss."""
        if self.feedback:
            self.library.reason(self.feedback.response.id, miss)

    def dispute(self, key: tuple[str, ...], note: str) -> None:
        """Believe another key for the question that is up."""
        self.library.dispute(self.shown.question.id, key, note)
        self.reread()

    def flag(self) -> None:
        """Flag the question that is up, to come back to it, or take the flag off."""
        is_flagged = self.library.history.is_flagged(self.shown.question.id)
        label = "the flag taken off" if is_flagged else "the flag"
        self.library.put_on_record(
            Flag, label=label, question=self.shown.question.id, on=not is_flagged
        )
        self._refresh()

    def retire(self) -> None:
        """Take the question that is up out of use, and go to the next."""
        self.stop_reading()
        question = self.shown.question
        bank = self.library.bank(bank_of(question.id)).with_questions(retired([question]))
        self.library.save_bank(bank, [question.id], label=f"question {question.number} retired")
        del self.questions[self.index]
        self.index -= 1
        self._given.pop(question.id, None)
        self.next()

    def undo(self) -> Undone | None:
        """Undo the newest thing said in this sitting, of this run or an earlier, and go there."""
        newest = self.library.newest
        if newest is None or not self._is_of_sitting(newest):
            return None
        self.stop_reading()
        undone = self.library.undo()
        self.questions = list(_there(self.library, self.sitting.opened.questions))
        ids = [question.id for question in self.questions]
        names = [self._about(newest), *(undone.questions if undone else ())]
        back = [ids.index(name) for name in names if name in ids]
        self._given = self._read_given()
        self._verdicts.clear()
        self._go(back[0] if back else min(self.index, len(ids) - 1))
        return newest

    def _is_of_sitting(self, done: Undone) -> bool:
        """Whether something was said about its questions, or a bank changed, since it began."""
        began = self.sitting.opened.at
        edits = (record for record in done.records if isinstance(record, BankSaved))
        return bool(self._about(done)) or any(edit.at >= began for edit in edits)

    def _about(self, done: Undone) -> str:
        """The question of this sitting that something was said about, "" for none."""
        for record in done.records:
            match record:
                case Response() if record.sitting == self.sitting.opened.id:
                    return record.question
                case Note() | Dispute() | Flag() if self._holds(record.question):
                    return record.question
                case ResponseReason():
                    for response in self._given.values():
                        if response.id == record.response:
                            return response.question
        return ""

    def _holds(self, question_id: str) -> bool:
        return any(question.id == question_id for question in self.questions)

    # leaving

    def close(self) -> None:
        """End the sitting: it is not offered again. Raises StoreError."""
        self.stop_reading()
        if not self.sitting.closed:
            self.library.close_sitting(self.sitting.opened.id)


def _there(library: Library, ids: tuple[str, ...]) -> list[Question]:
    """The questions that are still in their banks; retired ones are left out."""
    questions = map(library.question, ids)
    return [question for question in questions if question is not None and not question.retired]
