"""What the candidate mixes up, with the words to show."""

from collections.abc import Iterator

from msgspec import Struct

from banks.library import Library
from domain.evidence.confusions import option_pairs, question_pairs
from domain.questions import Kind, Question
from domain.responses import Reason
from domain.verdicts import Verdict


class ConfusedOptions(Struct, frozen=True):
    """In a question, `chosen` was taken for `key` so many times; both as text, or as letters."""

    question: str
    stem: str
    chosen: str
    key: str
    times: int


class ConfusedQuestions(Struct, frozen=True):
    """Two questions whose keys were taken for each other, by id and stem."""

    first: str
    first_stem: str
    second: str
    second_stem: str
    times: int


class SaidMixedUp(Struct, frozen=True):
    """A question of which the candidate said on so many days that its options were mixed up, while
    marking the printed bank or in the drill. `where` is "Clouds · Genera · 13".
    """

    question: str
    where: str
    stem: str
    days: int


class Confusions(Struct, frozen=True):
    """Everything that is mixed up, the most frequent first."""

    options: tuple[ConfusedOptions, ...]
    questions: tuple[ConfusedQuestions, ...]
    said: tuple[SaidMixedUp, ...] = ()


def confusions(library: Library) -> Confusions:
    """The pairs of options and of questions that the candidate's misses show."""
    misses = list(_misses(library))
    keys = {one.id: library.answer_key(one)[0] for one, _ in misses}
    known = {question.id: question for _, question in library.active_questions()}
    return Confusions(
        tuple(
            ConfusedOptions(
                pair.question, known[pair.question].stem,
                _text(known[pair.question], pair.chosen), _text(known[pair.question], pair.key),
                pair.times,
            )
            for pair in option_pairs(misses, keys)
        ),
        tuple(
            ConfusedQuestions(
                pair.first, known[pair.first].stem, pair.second, known[pair.second].stem, pair.times
            )
            for pair in question_pairs(misses, known.values())
        ),
        tuple(sorted(_said(library), key=lambda said: -said.days)),
    )  # fmt: skip


def _said(library: Library) -> Iterator[SaidMixedUp]:
    for location, question in library.active_questions():
        reasons = library.history.reasons_by_day(question.id).values()
        if days := sum(reason is Reason.MIXED_UP for reason in reasons):
            where = f"{location.subject.title} · {location.chapter.title} · {question.number}"
            yield SaidMixedUp(question.id, where, question.stem, days)


def _misses(library: Library) -> Iterator[tuple[Question, str]]:
    for _, question in library.active_questions():
        if question.kind is Kind.MULTIPLE or not library.answer_key(question):
            continue
        for response in library.history.responses(question.id):
            chosen = library.history.chosen(response)
            if len(chosen) == 1 and library.history.verdict(response) is Verdict.WRONG:
                yield question, chosen[0]


def _text(question: Question, option_id: str) -> str:
    texts = (option.text for option in question.options if option.id == option_id)
    return next(texts, option_id)
