"""What a bank is made of: subjects, chapters, questions, options.

A question is *full* (stem, options, key), *keyed* (number and key, the text is in the printed
bank) or *bare* (number only). Its `id` is its identity for the history and is never given to
another question; its `fingerprint` tells whether two texts are the same question.
"""

import hashlib
import re
import unicodedata
from array import array
from collections import defaultdict
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import IntEnum, StrEnum
from functools import cached_property
from itertools import count
from string import ascii_lowercase
from typing import NamedTuple

from msgspec import Struct
from msgspec import field as msgspec_field

LETTERS = ascii_lowercase
"""Option letters; a question has at most twenty-six options."""

KEYED_LETTERS = LETTERS[:8]
"""Letters with a shortcut of their own, which an answer key without options may name."""


class Kind(StrEnum):
    """How a question is answered."""

    BEST = "best"
    MULTIPLE = "multiple"
    TRUE_FALSE = "true-false"
    TEXT = "text"
    NUMERIC = "numeric"


class Form(StrEnum):
    """How much of a question is in the bank."""

    FULL = "full"
    KEYED = "keyed"
    BARE = "bare"


class Option(Struct, frozen=True, omit_defaults=True, gc=False):
    """One option. `id` is what a response records, so it survives shuffling and rewording."""

    id: str
    text: str
    fixed: bool = False
    explanation: str = ""


class Figure(Struct, frozen=True, omit_defaults=True, gc=False):
    """A picture kept beside the bank: `file` is its name in the bank's own folder."""

    file: str
    alt: str = ""


class Question(Struct, frozen=True, kw_only=True, omit_defaults=True, gc=False):
    """One question of a chapter.

    `answer_key` holds option ids (best, multiple, true-false), accepted texts (text), or one
    decimal number (numeric, right within ±`tolerance`). Empty with a stem: not known yet.
    `shuffle` False keeps the options in the printed order.
    `credit` maps option ids to marks where the bank's source gave partial credit. `same_as`
    names the question that a retired duplicate turned out to be: its history counts for that one.
    `code` is the source's own name of the question (`A1B02`). `to_check` says why it should be
    compared with the print; empty once that was done, and where nothing was doubtful.
    """

    id: str
    chapter: str
    number: int
    kind: Kind = Kind.BEST
    stem: str = ""
    options: tuple[Option, ...] = ()
    answer_key: tuple[str, ...] = msgspec_field(default=(), name="key")
    tolerance: float = 0.0
    explanation: str = ""
    reference: str = ""
    tags: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    credit: dict[str, float] = {}
    shuffle: bool = True
    retired: bool = False
    same_as: str = ""
    code: str = ""
    to_check: str = ""

    @property
    def form(self) -> Form:
        """Full with a stem, keyed with only a key, else bare."""
        if self.stem:
            return Form.FULL
        return Form.KEYED if self.answer_key else Form.BARE


class Chapter(Struct, frozen=True, omit_defaults=True):
    """A numbered chapter. Its `id` is unique in the bank."""

    id: str
    title: str


class Subject(Struct, frozen=True, omit_defaults=True):
    """A subject with its chapters in the bank's order.

    `weight` is its share in the exam, in any unit (None: as many as its questions);
    `open_from` is the first day on which it may be revised (its first study done).
    """

    id: str
    title: str
    chapters: tuple[Chapter, ...] = ()
    weight: float | None = None
    open_from: date | None = None


class Trait(IntEnum):
    """What is asked of many questions at once, a bit each."""

    RETIRED = 1
    HAS_TEXT = 2
    HAS_KEY = 4
    TO_CHECK = 8


_RETIRED = Trait.RETIRED.value


class QuestionPlace(NamedTuple):
    """A question's chapter, by its id, and its number in it."""

    chapter: str
    number: int


@dataclass(frozen=True, kw_only=True)
class QuestionIndex:
    """What is asked of all questions of a bank, in columns: a row per question, in its order.

    `chapter_ids` are those of the chapters that questions name, `chapters` has an index into it for
    each row, `active` the rows of each chapter's active questions by number; `same_as` gives the
    question that a retired duplicate turned out to be, by the duplicate's id.
    """

    ids: list[str] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    traits: bytes = b""
    chapter_ids: list[str] = field(default_factory=list)
    chapters: "array[int]" = field(default_factory=lambda: array("I"))
    active: "dict[str, array[int]]" = field(default_factory=dict)
    same_as: dict[str, str] = field(default_factory=dict)

    def with_questions(self, changed: Iterable[tuple[str, Question]]) -> "QuestionIndex":
        """A copy with these questions, each with its id, added or in the place of their namesakes.
        What did not change is not gone through.
        """
        ids, numbers, traits = self.ids.copy(), self.numbers.copy(), bytearray(self.traits)
        chapter_ids = {chapter_id: n for n, chapter_id in enumerate(self.chapter_ids)}
        chapters, same_as = self.chapters[:], self.same_as.copy()
        gone, come = defaultdict[str, set[int]](set), defaultdict[str, list[int]](list)
        for name, question in changed:
            chapter_index = chapter_ids.setdefault(question.chapter, len(chapter_ids))
            row = self.rows.get(name)
            if row is None:
                row = len(ids)
                ids.append(name)
                numbers.append(question.number)
                traits.append(_traits(question))
                chapters.append(chapter_index)
            else:
                gone[self.chapter(row)].add(row)
                same_as.pop(name, None)
                numbers[row], traits[row] = question.number, _traits(question)
                chapters[row] = chapter_index
            if not question.retired:
                come[question.chapter].append(row)
            if question.same_as:
                same_as[name] = question.same_as
        active = self.active.copy()
        for chapter in gone.keys() | come.keys():
            rows = [row for row in self.rows_in(chapter) if row not in gone[chapter]]
            rows += come[chapter]
            rows.sort(key=lambda row: (numbers[row], ids[row]))
            active[chapter] = array("I", rows)
        return QuestionIndex(
            ids=ids,
            numbers=numbers,
            traits=bytes(traits),
            chapter_ids=list(chapter_ids),
            chapters=chapters,
            active=active,
            same_as=same_as,
        )

    @cached_property
    def rows(self) -> dict[str, int]:
        """The row of each question by its id."""
        return dict(zip(self.ids, range(len(self.ids)), strict=True))

    @cached_property
    def duplicates(self) -> dict[str, tuple[str, ...]]:
        """The retired duplicates whose history counts for a question too, by its id."""
        duplicates: dict[str, tuple[str, ...]] = {}
        for name, stays in sorted(self.same_as.items(), key=lambda pair: self.rows[pair[0]]):
            duplicates[stays] = (*duplicates.get(stays, ()), name)
        return duplicates

    @property
    def active_count(self) -> int:
        """How many questions are not retired."""
        return sum(map(len, self.active.values()))

    def place(self, question_id: str) -> "QuestionPlace | None":
        """Where an active question stands; None for any other id."""
        row = self.rows.get(question_id)
        if row is None or self.traits[row] & _RETIRED:
            return None
        return QuestionPlace(self.chapter(row), self.numbers[row])

    def chapter(self, row: int) -> str:
        """The id of the chapter that the question names."""
        return self.chapter_ids[self.chapters[row]]

    def has(self, row: int, trait: Trait) -> bool:
        """Whether the question has this trait."""
        return bool(self.traits[row] & trait.value)

    def ids_with(self, trait: Trait) -> Iterator[str]:
        """The ids of all questions with this trait."""
        bit = trait.value
        return (name for name, traits in zip(self.ids, self.traits, strict=True) if traits & bit)

    def rows_in(self, chapter_id: str) -> Sequence[int]:
        """The rows of the chapter's active questions by number."""
        return self.active.get(chapter_id, ())

    def ids_in(self, chapter_id: str) -> list[str]:
        """The ids of the chapter's active questions by number."""
        return list(map(self.ids.__getitem__, self.rows_in(chapter_id)))

    def numbers_in(self, chapter_id: str) -> list[int]:
        """The numbers of the chapter's active questions, ascending."""
        return list(map(self.numbers.__getitem__, self.rows_in(chapter_id)))


def _traits(question: Question) -> int:
    """The bits of `Trait`, as plain numbers: an import asks for those of every question."""
    return (
        question.retired
        | (question.stem != "") << 1
        | (question.answer_key != ()) << 2
        | (question.to_check != "") << 3
    )


class StoredQuestions(Mapping[str, Question]):
    """The questions of an index by id, each read when it is asked for: `read` gives a row's.

    Those that have `changed` since are held.
    """

    def __init__(
        self,
        index: QuestionIndex,
        read: Callable[[int], Question],
        changed: Mapping[str, Question] | None = None,
    ) -> None:
        self.index = index
        self._read = read
        self._changed = changed or {}

    def with_changed(self, changed: Mapping[str, Question]) -> "StoredQuestions":
        """A copy with these added or in the place of their namesakes."""
        index = self.index.with_questions(changed.items())
        return StoredQuestions(index, self._read, {**self._changed, **changed})

    def __getitem__(self, question_id: str) -> Question:
        changed = self._changed.get(question_id)
        return self._read(self.index.rows[question_id]) if changed is None else changed

    def __contains__(self, question_id: object) -> bool:
        return question_id in self.index.rows

    def __iter__(self) -> Iterator[str]:
        return iter(self.index.ids)

    def __len__(self) -> int:
        return len(self.index.ids)


@dataclass(frozen=True, kw_only=True)
class Bank:
    """A bank of questions, a value: changes make a new one.

    `questions` is keyed by question id and holds retired ones too. `option_count` is how many
    options a question has whose text is only in the printed bank.
    """

    id: str
    title: str
    edition: str = ""
    option_count: int = 4
    subjects: tuple[Subject, ...] = ()
    questions: Mapping[str, Question] = field(default_factory=dict)

    @cached_property
    def index(self) -> QuestionIndex:
        """What goes over all questions asks this rather than each of them."""
        questions = self.questions
        if isinstance(questions, StoredQuestions):
            return questions.index
        return QuestionIndex().with_questions(questions.items())

    def in_chapter(self, chapter_id: str) -> tuple[Question, ...]:
        """The chapter's active questions by number."""
        return tuple(map(self.questions.__getitem__, self.index.ids_in(chapter_id)))

    def duplicates(self, question_id: str) -> tuple[str, ...]:
        """The retired duplicates whose history counts for this question too."""
        return self.index.duplicates.get(question_id, ())

    def subject_of(self, chapter_id: str) -> Subject:
        """The subject that holds the chapter. Raises KeyError if none does."""
        return self._places[chapter_id][0]

    def chapter(self, chapter_id: str) -> Chapter:
        """The chapter with this id. Raises KeyError if there is none."""
        return self._places[chapter_id][1]

    def with_questions(self, changed: Iterable[Question]) -> "Bank":
        """A copy in which these questions are added or take the place of their namesakes."""
        added, present = {question.id: question for question in changed}, self.questions
        if isinstance(present, StoredQuestions):
            return replace(self, questions=present.with_changed(added))
        return replace(self, questions={**present, **added})

    def with_subjects(self, subjects: Iterable[Subject]) -> "Bank":
        """A copy with these subjects."""
        return replace(self, subjects=tuple(subjects))

    @cached_property
    def _places(self) -> dict[str, tuple[Subject, Chapter]]:
        return {
            chapter.id: (subject, chapter)
            for subject in self.subjects
            for chapter in subject.chapters
        }


def normal_text(text: str) -> str:
    """The text as it counts for identity: NFC, white space folded; case, digits, symbols kept."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def fingerprint(question: Question) -> str:
    """Twelve hex digits that are equal when kind, stem and set of options are (order aside).

    The key does not count: a corrected key leaves a question the same question.
    """
    options = sorted(normal_text(option.text) for option in question.options)
    content = "\x1f".join([question.kind, normal_text(question.stem), *options])
    return hashlib.sha256(content.encode()).hexdigest()[:12]


def slug(text: str) -> str:
    """A short plain name made of the text: lower-case ASCII letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    made = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-")
    return made or hashlib.sha256(text.encode()).hexdigest()[:8]


def question_id(bank_id: str, chapter_id: str, number: int, text_mark: str = "") -> str:
    """The identity of the question that first takes a number; a later taker adds its fingerprint.

    It depends on nothing but its arguments, so two machines that import the same book agree.
    """
    place = f"{bank_id}/{chapter_id}/{number}"
    return f"{place}~{text_mark}" if text_mark else place


def bank_of(question_id: str) -> str:
    """The id of the bank that a question's id begins with."""
    return question_id.partition("/")[0]


def free_name(base: str, taken: Container[str]) -> str:
    """`base`, or the first of `base-2`, `base-3` … that is not taken."""
    numbered = (f"{base}-{number}" for number in count(2))
    return base if base not in taken else next(name for name in numbered if name not in taken)


# Patterns are compiled by `re` when they are first used: most commands use none of them.
_NAMED = r"(?:\((?:[a-h]|[1-8]|i{1,3}|iv|vi{0,3})\)|(?:[a-h]|[1-8]|i{1,3}|iv|vi{0,3})\b)"
"""An option or statement by its letter, number or Roman number."""
_OTHERS = (
    r"\b(all|none|some|most|both|any|neither|either)\b.{0,24}\b(above|below|these|of\sthose|mentioned|following|foregoing|options?|statements?|correct|true|false)\b"
    r"|\b(both|neither|either|only)\s+\(?[a-h]\b\)?\s*(and|or|nor|&|,)"
    rf"|^{_NAMED}(\s+(and|or)\s+|\s*[&,+]\s*){_NAMED}"
    r"(?=\s*($|[.,&+]|(and|only|are|is|alone|both|true|false|correct)\b))"
    r"|\b(option|choice|answer)s?\s+\(?[a-h]\b"
    r"|\b(all|both|neither|either|only)\s+(?-i:[A-H]{2,4})\b(?!\s+(and|or)\b)"
    r"|^(all|none|both|neither)\.?$"
)


def speaks_of_others(text: str) -> bool:
    """Whether an option refers to other options ("all of the above", "both A and B")."""
    return bool(re.search(_OTHERS, text.strip(), re.IGNORECASE))


_PICTURE = (
    r"(?:figures?|figs?|diagrams?|pictures?|photographs?|photos?|images?|illustrations?|drawings?"
    r"|graphs?|x-?rays?|radiographs?|charts?|maps?|curves?|scans?|slides?|plates?|devices?)"
)
_MARKED = r"(?:marked|shown|depicted|labell?ed|indicated|drawn|pictured|illustrated)"
_FIGURE = (
    rf"\b(?:(?<!of the )following|given|accompanying|attached)\s+(?:\w+\s+){{0,2}}{_PICTURE}\b"
    rf"|\b{_MARKED}\b[^.?!]{{0,25}}\b(?:in|on|by)\s+(?:the\s+|this\s+)?(?:\w+\s+){{0,2}}{_PICTURE}\b"
    rf"|\b{_PICTURE}\s+(?:(?:is|was|are)\s+)?(?:as\s+)?(?:given|shown|below|above|not\s+(?:given|provided))\b"
    rf"|^\W*{_PICTURE}\s+(?:\d+\s+)?(?:depicts?|shows?)\b"
    rf"|\b(?:in|of|on|from|see)\s+(?:the|this)\s+(?:figure|diagram|picture|photograph|illustration)\b"
    r"|\b(?:shown|depicted|pictured|illustrated|drawn)\s+(?:below|above|here|beside)\b"
    r"|\b(?:as|(?:case|structure|instrument|lesion|patient))\s+shown(?=\s*[.:,?]|\s*$)"
    r"|\bmarked\s+(?:\(?(?:with|by)\s+(?:an?\s+)?arrows?|arrows?|structures?|muscles?|parts?|areas?)\b"
)
_FIGURE_WORDS = (
    "fig",
    "diagram",
    "picture",
    "photo",
    "image",
    "illustrat",
    "draw",
    "graph",
    "ray",
    "chart",
    "map",
    "curve",
    "scan",
    "slide",
    "plate",
    "device",
    "shown",
    "depicted",
    "marked",
)
"""One of these is in every stem that `_FIGURE` finds: most stems are passed over at once."""


def speaks_of_figure(stem: str) -> bool:
    """Whether a stem points at a picture ("in the diagram", "as shown below", "the given map")."""
    folded = stem.casefold()
    may_point = any(word in folded for word in _FIGURE_WORDS)
    return may_point and bool(re.search(_FIGURE, stem, re.IGNORECASE))


def may_shuffle(question: Question) -> bool:
    """Whether the options may be shown in another order than the printed one."""
    return (
        question.shuffle
        and question.kind in (Kind.BEST, Kind.MULTIPLE)
        and not any(speaks_of_others(option.text) for option in question.options)
    )
