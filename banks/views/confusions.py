"""What the candidate mixes up, with the words to show."""

from enum import StrEnum
from functools import partial

from msgspec import Struct

from banks.kept_history import KeptByQuestion
from banks.library import Library
from domain.evidence.confusions import Miss, option_pairs, question_pairs
from domain.questions import Kind, Question
from domain.responses import Reason
from domain.verdicts import Verdict


class ConfusionKind(StrEnum):
    """A distractor chosen again and again, two questions whose keys are taken for each other, or
    a question of which the candidate said that its options were mixed up.
    """

    OPTION = "wrong option"
    QUESTIONS = "two questions"
    SAID = "you said so"


class ConfusedQuestion(Struct, frozen=True):
    """A question in a confusion. `chosen` is the id of the option taken in it, "" for none; both
    texts are letters where the text is only in the printed bank. `where` is "Clouds · Genera · 13".
    """

    id: str
    where: str
    stem: str
    chosen: str = ""
    chosen_text: str = ""
    key_text: str = ""


class Confusion(Struct, frozen=True):
    """One question, or two of `ConfusionKind.QUESTIONS`; `times` are days where it was said."""

    kind: ConfusionKind
    times: int
    questions: tuple[ConfusedQuestion, ...]


def confusions(library: Library) -> tuple[Confusion, ...]:
    """Everything that is mixed up, the most frequent first."""
    locations = {question.id: (place, question) for place, question in library.active_questions()}
    kept = KeptByQuestion(library, "confusions", _MixedUp, partial(_mixed_up, library))
    if kept.is_empty:
        library.history.read_all()
    mixed = {question_id: kept.of(question_id) for question_id in locations}
    kept.keep()
    misses, keys = list[Miss](), dict[str, str]()
    for question_id, own in mixed.items():
        _, question = locations[question_id]
        if own.taken and (key := library.answer_key(question)):
            misses += (Miss(question, chosen) for chosen in own.taken)
            keys[question_id] = key[0]

    def confused(question_id: str, chosen: str = "") -> ConfusedQuestion:
        location, question = locations[question_id]
        where = f"{location.subject.title} · {location.chapter.title} · {question.number}"
        key = next(iter(library.answer_key(question)), "")
        return ConfusedQuestion(
            question_id, where, question.stem, chosen, _text(question, chosen), _text(question, key)
        )

    mixed_up = [
        Confusion(ConfusionKind.OPTION, pair.times, (confused(pair.question, pair.chosen),))
        for pair in option_pairs(misses, keys)
    ]
    mixed_up += [
        Confusion(
            ConfusionKind.QUESTIONS,
            pair.times,
            (confused(pair.first, pair.chosen_first), confused(pair.second, pair.chosen_second)),
        )
        for pair in question_pairs(misses, [question for _, question in locations.values()])
    ]
    mixed_up += [
        Confusion(ConfusionKind.SAID, own.days_said, (confused(question_id),))
        for question_id, own in mixed.items()
        if own.days_said
    ]
    return tuple(sorted(mixed_up, key=lambda confusion: -confusion.times))


_SINGLE_RESPONSE = (Kind.BEST, Kind.TEXT)
"""Kinds in which what was taken for the key says more than that it was missed."""


class _MixedUp(Struct, frozen=True, gc=False, array_like=True):
    """What was taken for a question's key, each time, and on how many days its options were said
    to be mixed up.
    """

    taken: list[str]
    days_said: int


def _mixed_up(library: Library, question_id: str) -> _MixedUp:
    history, question = library.history, library.question(question_id)
    taken = []
    if question is not None and question.kind in _SINGLE_RESPONSE:
        for response in history.responses(question_id):
            chosen = history.chosen(response)
            if len(chosen) == 1 and history.verdict(response) is Verdict.WRONG:
                taken.append(chosen[0])
    reasons = history.reasons_by_day(question_id).values()
    return _MixedUp(taken, sum(reason is Reason.MIXED_UP for reason in reasons))


def _text(question: Question, option_id: str) -> str:
    texts = (option.text for option in question.options if option.id == option_id)
    return next(texts, option_id)
