"""An answer key for one chapter → its questions with their keys."""

from collections.abc import Iterable, Mapping

from msgspec import Struct
from msgspec.structs import replace

from banks.contents import Location
from banks.importers.answer_keys import KeyProblem, parse_keys
from domain.questions import LETTERS, Bank, Kind, Question

_TYPED = (Kind.TEXT, Kind.NUMERIC)


class Keyed(Struct, frozen=True, kw_only=True):
    """A bank with a chapter's key keyed in, and what was new in it.

    `changed` are the ids of the questions whose key was another one: their history regrades.
    `new` had none before. `without` counts those of the chapter that still have none.
    """

    bank: Bank
    new: list[str]
    changed: list[str]
    unchanged: int
    without: int
    problems: list[KeyProblem]

    def counts(self) -> dict[str, int]:
        """The figures to show."""
        figures = {
            "new": len(self.new),
            "changed": len(self.changed),
            "unchanged": self.unchanged,
            "without": self.without,
        }
        return figures | {"total": len(self.new) + len(self.changed) + self.unchanged}


def key_in(location: Location, text: str, first: int = 1) -> Keyed:
    """Read a key as printed and lay it on the chapter. A part of the chapter's key will do."""
    chapter = location.bank.in_chapter(location.chapter.id)
    numbers = {question.number for question in chapter}
    most = max([location.bank.option_count, *(len(question.options) for question in chapter)])
    sheet = parse_keys(text, option_count=most, first=first)
    last = max(sheet.keys.keys() & numbers, default=0)
    missing = {number for number in numbers if number < last}
    problems = [
        problem for problem in sheet.problems if not problem.is_gap or problem.number in missing
    ]
    return lay_on(location, sheet.keys, problems)


def lay_on(
    location: Location, keys: Mapping[int, tuple[str, ...]], problems: Iterable[KeyProblem] = ()
) -> Keyed:
    """Lay letters by number on the chapter. `problems` are those known before."""
    questions = {
        question.number: question for question in location.bank.in_chapter(location.chapter.id)
    }
    all_problems = list(problems)
    made: list[Question] = []
    new: list[str] = []
    changed: list[str] = []
    unchanged = 0
    for number, letters in keys.items():
        old = questions.get(number)
        problem = _problem(old, number, letters, questions, location.bank.option_count)
        if problem or old is None:
            all_problems.append(KeyProblem(number, problem))
        elif old.answer_key == (key := _ids(old, letters)):
            unchanged += 1
        else:
            made.append(replace(old, answer_key=key))
            (changed if old.answer_key else new).append(old.id)
    bank = location.bank.with_questions(made)
    without = sum(1 for question in bank.in_chapter(location.chapter.id) if not question.answer_key)
    all_problems.sort(key=lambda problem: problem.number)
    return Keyed(
        bank=bank,
        new=new,
        changed=changed,
        unchanged=unchanged,
        without=without,
        problems=all_problems,
    )


def _problem(
    old: Question | None,
    number: int,
    letters: tuple[str, ...],
    questions: dict[int, Question],
    option_count: int,
) -> str:
    if old is None:
        span = f"{min(questions)}–{max(questions)}" if questions else "it has none"
        return f"{number} is not in the chapter ({span})"
    if old.kind in _TYPED:
        return f"{number}: is answered by typing, so a letter can't be its key; its key was kept"
    count = len(old.options) or option_count
    if LETTERS.index(letters[-1]) >= count:
        return f"{number}: '{','.join(letters)}' is not one of a–{LETTERS[count - 1]}"
    return ""


def _ids(question: Question, letters: tuple[str, ...]) -> tuple[str, ...]:
    """The options that printed letters stand for: by position, as an edition may reorder them."""
    if not question.options:
        return letters
    return tuple(sorted(question.options[LETTERS.index(letter)].id for letter in letters))


def keyable(location: Location) -> list[Question]:
    """The chapter's questions that letters can be the key of, by number."""
    return [
        question
        for question in location.bank.in_chapter(location.chapter.id)
        if question.kind not in _TYPED
    ]


def letters_of(question: Question) -> tuple[str, ...]:
    """The printed letters of a question's key; empty while it has none."""
    if not question.options:
        return question.answer_key
    places = {option.id: LETTERS[at] for at, option in enumerate(question.options)}
    return tuple(sorted(places[option] for option in question.answer_key if option in places))
