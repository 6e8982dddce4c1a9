"""What the drill shows: the question as it is put, what came of a response, and the score."""

import re
from collections.abc import Iterator, Sequence
from datetime import date
from random import Random

from msgspec import Struct
from msgspec.structs import replace

from banks.contents import Location
from banks.library import Library
from banks.views.open_sittings import counting_responses
from banks.views.triage import Explanation, explanation
from domain.drill_choice import DrillCandidate, DrillChoice
from domain.errors import InputError
from domain.history import Sitting
from domain.history_table import Mark
from domain.presentation import Seating, seat
from domain.questions import KEYED_LETTERS, Bank, Form, Kind, Question, Trait
from domain.responses import Medium, Purpose, Reason, Response
from domain.tiers import Standing, Step, TierRules, is_waiting
from domain.verdicts import Confidence, Verdict

ANSWER_KEYS = f"{KEYED_LETTERS}t"
"""The keys that answer with an option, a letter each."""


class ShownQuestion(Struct, frozen=True):
    """A question as it is put to the candidate. `answer_key` is the one in force."""

    question: Question
    location: Location
    seating: Seating
    answer_key: tuple[str, ...]
    standing: Standing
    is_flagged: bool = False

    @property
    def is_typed(self) -> bool:
        """Answered by typing a text or a number, or letters where there are more than keys."""
        has_no_keys = len(self.seating.options) > len(KEYED_LETTERS)
        return self.is_graded and (self.question.kind in (Kind.TEXT, Kind.NUMERIC) or has_no_keys)

    @property
    def is_graded(self) -> bool:
        """Whether resieve can tell right from wrong; else the candidate judges."""
        return bool(self.answer_key)

    def option_at(self, key_place: int) -> str | None:
        """The id of the option that a key of `ANSWER_KEYS` means (0 for a), None where none does.

        In true/false t and f mean the words.
        """
        is_truth = self.question.kind is Kind.TRUE_FALSE
        if key_place < 0 or not is_truth or ANSWER_KEYS[key_place] not in "tf":
            return self.seating.option_at(key_place) if key_place < len(KEYED_LETTERS) else None
        begins = (
            option.id
            for option in self.seating.options
            if option.text.casefold().startswith(ANSWER_KEYS[key_place])
        )
        return next(begins, None)

    @property
    def takes_several(self) -> bool:
        """Several options together are the response."""
        return self.question.kind is Kind.MULTIPLE


class EarlierResponse(Struct, frozen=True):
    """An earlier response: its study day, what was given in words, and what that was worth."""

    day: date
    given: str
    verdict: Verdict
    confidence: Confidence


class ResponseFeedback(Struct, frozen=True):
    """What came of a response. `step` is what its study day did to the tier (None: nothing yet);
    `is_repeat` tells that the day had an earlier response, and a day counts once.
    """

    response: Response
    verdict: Verdict
    step: Step | None
    rules: TierRules
    is_repeat: bool
    earlier: list[EarlierResponse]

    @property
    def is_right_and_sure(self) -> bool:
        """Nothing to look up."""
        return self.verdict is Verdict.RIGHT and self.response.confidence is Confidence.SURE


class Remarks(Struct, frozen=True):
    """What the candidate said about a question: a note, why it was missed, a disputed key."""

    note: str = ""
    reason: Reason | None = None
    dispute: str = ""


class QuestionContext(Struct, frozen=True):
    """How a question came to stand where it does; its responses newest first."""

    explanation: Explanation
    earlier: list[EarlierResponse]


def show_question(library: Library, question: Question, seed: int | None) -> ShownQuestion:
    """The question as a sitting puts it: the same seed seats the options the same.

    Without a seed they sit as printed, and so they do in a chapter of which some questions are only
    in the printed bank: the letters then agree with the book that lies open beside it.
    """
    location = library.location(question)
    index = location.bank.index
    chapter = index.rows_in(question.chapter)
    is_printed = not all(index.has(row, Trait.HAS_TEXT) for row in chapter)
    shuffles = seed is not None and not is_printed and library.settings.looks.shuffle_options
    rng = Random(f"{seed}/{question.id}") if shuffles else None
    seating = seat(question, location.bank.option_count, rng)
    key = library.answer_key(question)
    standing = library.history.standing(question.id)
    is_flagged = library.history.is_flagged(question.id)
    return ShownQuestion(question, location, seating, key, standing, is_flagged)


def preview_question(bank: Bank, question: Question) -> ShownQuestion:
    """A question of a bank that is not saved yet, as a sitting would put it."""
    chapter = bank.chapter(question.chapter)
    location = Location(bank, bank.subject_of(chapter.id), chapter)
    seating = seat(question, bank.option_count, None)
    return ShownQuestion(question, location, seating, question.answer_key, Standing())


def response_feedback(
    library: Library, shown: ShownQuestion, response: Response
) -> ResponseFeedback:
    """What came of a response, and what was given before it."""
    history = library.history
    day = history.day(response.at)
    before = [
        earlier
        for earlier in history.responses(response.question)
        if (earlier.at, earlier.id) < (response.at, response.id)
    ]
    steps = [step for step in history.trail(response.question) if step.day == day]
    return ResponseFeedback(
        response,
        history.verdict(response),
        steps[-1] if steps else None,
        history.rules,
        any(history.day(earlier.at) == day for earlier in before),
        [_earlier(library, shown, earlier) for earlier in reversed(before)],
    )


def remarks(library: Library, shown: ShownQuestion, came: ResponseFeedback | None) -> Remarks:
    """What the candidate said about a question and its response."""
    history = library.history
    dispute = history.dispute(shown.question.id)
    reason = history.reason(came.response) if came else None
    disputed = ""
    if dispute:
        printed = key_words(replace(shown, answer_key=shown.question.answer_key)) or "none"
        note = f": {dispute.note}" if dispute.note else ""
        disputed = f"the bank's key is {printed}, yours {key_words(shown)}{note}"
    return Remarks(history.note(shown.question.id), reason, disputed)


def context(library: Library, shown: ShownQuestion) -> QuestionContext:
    """How the question came to stand where it does."""
    name = shown.question.id
    responses = library.history.responses(name)
    return QuestionContext(
        explanation(library, name),
        [_earlier(library, shown, response) for response in reversed(responses)],
    )


def _earlier(library: Library, shown: ShownQuestion, response: Response) -> EarlierResponse:
    history = library.history
    return EarlierResponse(
        history.day(response.at),
        words_of(shown, history.chosen(response)),
        history.verdict(response),
        response.confidence,
    )


def given_words(shown: ShownQuestion, response: Response) -> str:
    """What was given: letters as they sit now, the text typed, or "" for a verdict or a blank."""
    return words_of(shown, response.chosen or ())


def words_of(shown: ShownQuestion, chosen: tuple[str, ...]) -> str:
    """What was chosen as a reader names it: letters as they sit now, or the text typed."""
    if shown.seating.options:
        return ", ".join(sorted(shown.seating.letter(option) for option in chosen))
    return ", ".join(chosen)


def key_words(shown: ShownQuestion) -> str:
    """The key in force as a reader names it: letters as they sit, texts, a number."""
    if shown.question.kind is Kind.NUMERIC and shown.question.tolerance:
        return f"{' or '.join(shown.answer_key)} ± {shown.question.tolerance:g}"
    if shown.question.kind in (Kind.TEXT, Kind.NUMERIC):
        return " or ".join(shown.answer_key)
    joint = ", " if shown.takes_several else " or "
    return joint.join(sorted(shown.seating.letter(option) for option in shown.answer_key))


def where(shown: ShownQuestion) -> str:
    """Where the question stands, in words."""
    location, question = shown.location, shown.question
    parts = [location.subject.title, location.chapter.title, str(question.number), question.code]
    return " · ".join(part for part in parts if part)


def book_line(shown: ShownQuestion) -> str:
    """What to look up where the text is only in the printed bank."""
    if shown.question.form is Form.FULL:
        return ""
    page = f", {shown.question.reference}" if shown.question.reference else ""
    return f"Question {shown.question.number} in the printed bank{page}."


def typed_response(shown: ShownQuestion, text: str) -> tuple[tuple[str, ...], Confidence]:
    """What was chosen by typing a text, a number or letters, () for a blank, and how sure: question
    marks at its end say it, one for unsure, two for a guess. Raises InputError for a letter that
    no option has.
    """
    text = text.strip()
    marks = len(text) - len(text.rstrip("?"))
    confidence = (Confidence.SURE, Confidence.UNSURE, Confidence.GUESS)[min(marks, 2)]
    typed = text.rstrip("? ")
    if not shown.seating.options:
        return ((typed,) if typed else ()), confidence
    letters = shown.seating.letters
    places = [letters.find(letter) for letter in re.sub(r"[\s,]", "", typed.casefold())]
    if -1 in places or (len(places) > 1 and not shown.takes_several):
        number = "letters" if shown.takes_several else "one letter"
        raise InputError(f"'{typed[:20]}' is not {number} from a to {letters[-1]}")
    return tuple(sorted({shown.seating.options[place].id for place in places})), confidence


def is_from_book(library: Library, questions: Sequence[str]) -> bool:
    """Whether most of these questions are to be read in the printed bank."""
    forms = [
        question.form for name in questions if (question := library.question(name)) is not None
    ]
    return sum(form is Form.FULL for form in forms) * 2 <= len(forms)


def last_choice(library: Library) -> DrillChoice:
    """What the last free drill was made of."""
    return library.settings.drill


def drill_candidates(library: Library, *, with_reasons: bool) -> Iterator[DrillCandidate]:
    """Every active question as the conditions of a free drill see it, in the banks' order.

    What was said of responses is in their records alone, which all have to be read for it.
    """
    history, today = library.history, library.today()
    if with_reasons:
        history.read_all()
    for location, name in library.active_ids():
        index, standing = location.bank.index, history.standing(name)
        marks = [event for _, event, _ in history.tallied(name) if isinstance(event, Mark)]
        reasons = map(history.reason, history.responses(name) if with_reasons else ())
        yield DrillCandidate(
            name,
            (location.bank.id, location.subject.id, location.chapter.id),
            standing.tier,
            is_waiting(standing, today, history.rules.waiting_days),
            was_unsure=bool(marks) and marks[-1].confidence is not Confidence.SURE,
            is_noted=bool(history.note(name)),
            is_flagged=history.is_flagged(name),
            has_text=index.has(index.rows[name], Trait.HAS_TEXT),
            reasons=frozenset(reason for reason in reasons if reason is not None),
        )


class ReadItem(Struct, frozen=True):
    """A question of a sitting. `place` counts from 1. Without a response `verdict` is None, or
    blank where a paper was handed in; None too for an answer that awaits its key.
    """

    place: int
    question: Question
    response: Response | None
    verdict: Verdict | None
    reading: float = 0.0

    @property
    def is_missed(self) -> bool:
        """Wrong or blank."""
        return self.verdict in (Verdict.WRONG, Verdict.BLANK)

    @property
    def confidence(self) -> Confidence:
        """How sure the response was; sure where there is none."""
        return self.response.confidence if self.response else Confidence.SURE

    @property
    def seconds(self) -> float:
        """Seconds of thinking, 0 where they were not measured."""
        return self.response.seconds if self.response else 0.0


class SittingLine(Struct, frozen=True):
    """A sitting that can be read through, in short."""

    id: str
    title: str
    purpose: Purpose
    day: date
    given: int
    missed: int


def read_through(library: Library, sitting_id: str) -> list[ReadItem]:
    """The questions of a sitting that are in the banks, in its order. Raises KeyError."""
    return list(_items(library, library.sitting(sitting_id)))


def _items(library: Library, sitting: Sitting) -> Iterator[ReadItem]:
    history, given = library.history, sitting.given
    is_paper = sitting.opened.purpose is Purpose.PAPER and sitting.closed
    for place, name in enumerate(sitting.opened.questions, 1):
        question = library.question(name)
        if question is None:
            continue
        response = given.get(name)
        if response is None and sitting.opened.sheet:
            response = next(iter(reversed(counting_responses(sitting, name))), None)
        if response is None:
            yield ReadItem(place, question, None, Verdict.BLANK if is_paper else None)
        else:
            verdict = None if history.awaits_key(response) else history.verdict(response)
            reading = history.reading(response)
            yield ReadItem(place, question, response, verdict, reading)


def shown_again(
    library: Library, sitting: Sitting, item: ReadItem
) -> tuple[ShownQuestion, ResponseFeedback | None]:
    """A question as the sitting put it, and what came of its response."""
    seed = None if sitting.opened.medium is Medium.PRINTED else sitting.opened.seed
    shown = show_question(library, item.question, seed)
    feedback = response_feedback(library, shown, item.response) if item.response else None
    return shown, feedback


def newest_sittings(library: Library, most: int) -> list[SittingLine]:
    """The newest sittings with responses, newest first. A paper still being taken is left out."""
    lines: list[SittingLine] = []
    for sitting in reversed(library.history.sittings.values()):
        opened = sitting.opened
        if len(lines) == most:
            break
        if opened.purpose is Purpose.PAPER and not sitting.closed:
            continue
        items = [item for item in _items(library, sitting) if item.response]
        if items:
            missed = sum(item.is_missed for item in items)
            day = library.history.day(opened.at)
            lines.append(
                SittingLine(opened.id, opened.title, opened.purpose, day, len(items), missed)
            )
    return lines
