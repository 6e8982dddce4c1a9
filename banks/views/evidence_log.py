"""The log as the evidence needs it, in columns, and kept until something changes.

What is learnt of the candidate (`EvidenceLog.kept`) is learnt from the full days before today and
kept with their digest: so a response changes counts, but no model, until the day is over.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import date
from functools import cache, cached_property
from hashlib import blake2b
from itertools import repeat
from operator import is_
from threading import Lock, RLock
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TypeVar
from weakref import WeakKeyDictionary

from msgspec import Struct, msgpack

from banks import kept_history
from banks.contents import Location
from banks.library import Library, paused_collector
from banks.planning.workload import counting_banks
from domain.evidence.memory.learning import (
    Check,
    Memory,
    OneRate,
    TierRates,
    learn,
)
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import (
    STAGE_COLUMNS,
    UNSEEN,
    StageColumns,
    StandingColumns,
    Trial,
    read,
    spread_out,
    stage_numbers,
)
from domain.history_table import HAND_SET, MARKS, HistoryTable, Mark, Tallied
from domain.marking.schemes import exam_weights
from domain.questions import Bank, Trait, fingerprint
from domain.responses import Purpose
from domain.tiers import HandSet, Judged, Tier, TierRules
from domain.verdicts import Confidence, Verdict

if TYPE_CHECKING:
    from numpy import bool_, float64, int8, int32, int_, uint8, uint64
    from numpy.typing import NDArray

T = TypeVar("T")

VERDICTS, CONFIDENCES, PURPOSES = tuple(Verdict), tuple(Confidence), tuple(Purpose)
"""What the numbers in columns stand for."""
RIGHT, BLANK = VERDICTS.index(Verdict.RIGHT), VERDICTS.index(Verdict.BLANK)


# the questions


class SubjectName(Struct, frozen=True):
    """A subject among all banks: `key` is "bank/subject"; `weight` its share in the exam, in
    questions.
    """

    key: str
    bank: str
    title: str
    weight: float
    questions: int


class _Questions(NamedTuple):
    """The active questions in the banks' order, in columns: the numbers of subject and chapter, of
    those with the same text (-1: none has), whether the bank has the answer key. `chapters` are
    titles by key, "bank/chapter"; `merged` are the numbers of those with retired duplicates.
    """

    ids: list[str]
    subjects: dict[str, SubjectName]
    chapters: dict[str, str]
    subject: "NDArray[int_]"
    chapter: "NDArray[int_]"
    group: "NDArray[int_]"
    has_key: "NDArray[bool_]"
    merged: list[int]

    @classmethod
    def of(cls, library: Library) -> "_Questions":
        """Those of all banks."""
        import numpy as np

        ids, merged, chapters = list[str](), list[int](), dict[str, str]()
        subjects, sizes, traits = dict[str, Location](), Counter[str](), list["NDArray[uint8]"]()
        in_chapter, of_subject = list[int](), list[int]()
        for location in library.locations():
            bank, index = location.bank, location.bank.index
            if not (rows := index.rows_in(location.chapter.id)):
                continue
            subject = f"{bank.id}/{location.subject.id}"
            subjects.setdefault(subject, location)
            chapters[f"{bank.id}/{location.chapter.id}"] = location.chapter.title
            own = index.ids_in(location.chapter.id)
            merged += (n for n, name in enumerate(own, len(ids)) if name in index.duplicates)
            ids += own
            sizes[subject] += len(own)
            in_chapter.append(len(own))
            of_subject.append(len(subjects) - 1)
            traits.append(np.frombuffer(index.traits, dtype=np.uint8)[np.array(rows)])
        weights = {bank.id: exam_weights(bank) for bank in library.banks.values()}
        has_key = np.concatenate([np.zeros(0, dtype=np.uint8), *traits]) & Trait.HAS_KEY.value
        return cls(
            ids,
            {
                key: SubjectName(
                    key,
                    place.bank.id,
                    place.subject.title,
                    weights[place.bank.id][place.subject.id],
                    sizes[key],
                )
                for key, place in subjects.items()
            },
            chapters,
            np.repeat(np.array(of_subject, dtype=int), in_chapter),
            np.repeat(np.arange(len(in_chapter)), in_chapter),
            _same_text(library, ids),
            has_key > 0,
            merged,
        )


class _KeptGroups(Struct, frozen=True):
    """Questions with the same text as another: their ids, and the number that these share."""

    banks: dict[str, str]
    groups: dict[str, int]


def _same_text(library: Library, ids: Sequence[str]) -> "NDArray[int_]":
    """The number shared by questions with the same text, -1 for all others; read from the banks
    only where they have changed since.
    """
    import numpy as np

    marks = library.store.bank_marks()
    is_worth_it = kept_history.is_worth_it(library.store) and all(marks.values())
    kept = library.store.cache.load_packed("same-text", _KeptGroups) if is_worth_it else None
    if kept is None or kept.banks != marks:
        texts: dict[str, list[str]] = {}
        for bank in library.banks.values():
            for name in bank.index.ids_with(Trait.HAS_TEXT):
                texts.setdefault(fingerprint(bank.questions[name]), []).append(name)
        same = [names for names in texts.values() if len(names) > 1]
        kept = _KeptGroups(marks, {name: n for n, names in enumerate(same) for name in names})
        if is_worth_it:
            library.store.cache.save_packed("same-text", kept)
    groups = kept.groups
    return np.array([groups.get(name, -1) for name in ids], dtype=int)


# what was answered


class ResponseColumns(NamedTuple):
    """Every response that counts, question by question, each's oldest first: the question's number,
    the day (an ordinal), the numbers of verdict, confidence and purpose.

    `stated` tells whether its confidence was said before the outcome was known: the candidate
    chose, rather than judged with the book open, and for the first time that day.
    """

    question: "NDArray[int_]"
    day: "NDArray[int_]"
    verdict: "NDArray[int_]"
    confidence: "NDArray[int_]"
    purpose: "NDArray[int_]"
    seconds: "NDArray[float64]"
    stated: "NDArray[bool_]"

    def on_days(
        self, chosen: "NDArray[bool_] | None" = None
    ) -> "tuple[NDArray[int_], NDArray[int_], NDArray[int_]]":
        """Each question on each of its days, of all responses or where it says so: the question's
        number, the day, and the place of its first response among these.
        """
        import numpy as np

        days = _question_days(self.question, self.day)
        if chosen is not None:
            days = days[chosen]
        if (days[1:] >= days[:-1]).all():  # else a clock was set back
            first = np.flatnonzero(np.diff(days, prepend=-1))
        else:
            first = np.unique(days, return_index=True)[1]
        return days[first] >> _DAY_BITS, days[first] & ((1 << _DAY_BITS) - 1), first


_DAY_BITS = 22


def _question_days(question: "NDArray[int_]", day: "NDArray[int_]") -> "NDArray[int_]":
    """One number for a question on a day, sorted as both are."""
    days: NDArray[int_] = (question.astype(int) << _DAY_BITS) + day
    return days


class _Events(NamedTuple):
    """Responses and tiers set by hand as the tables of history hold them, question by question."""

    question: "NDArray[int_]"
    day: "NDArray[int_]"
    code: "NDArray[int_]"
    seconds: "NDArray[float64]"

    def responses(self) -> ResponseColumns:
        import numpy as np

        kinds = _kinds()
        is_response = kinds[self.code, _IS_RESPONSE] > 0
        question, day, code, seconds = self
        if not is_response.all():
            question, day, code, seconds = (column[is_response] for column in self)
        verdict, confidence, purpose, is_chosen = (kinds[code, kind] for kind in range(4))
        # Days only go on, whatever a clock did.
        days = _question_days(question, day)
        newest = np.concatenate(([-1], np.maximum.accumulate(days)[:-1]))
        stated = (is_chosen > 0) & (days > newest[: len(days)])
        return ResponseColumns(question, day, verdict, confidence, purpose, seconds, stated)


_IS_RESPONSE, _COUNTS = 4, 5


@cache
def _kinds() -> "NDArray[int8]":
    """By code of a table: the numbers of verdict, confidence and purpose, whether it was chosen,
    whether it is a response that counts, whether it is anything that counts.
    """
    import numpy as np

    kinds = np.zeros((1 << 16, 6), dtype=np.int8)
    for code, mark in MARKS.items():
        if mark.counts:
            kinds[code] = (
                VERDICTS.index(mark.verdict), CONFIDENCES.index(mark.confidence),
                PURPOSES.index(mark.purpose), mark.is_chosen, 1, 1,
            )  # fmt: skip
    kinds[list(HAND_SET), _COUNTS] = 1
    return kinds


_CODES: dict[Mark | Tier, int] = {mark: code for code, mark in MARKS.items()}
_CODES |= {tier: code for code, tier in HAND_SET.items()}


# what was practised


class _Ragged(NamedTuple):
    """Some rows of numbers to each of many things, and from where to where each one's stand."""

    rows: "NDArray[int32]"
    begins: "NDArray[int_]"
    ends: "NDArray[int_]"

    @classmethod
    def of(cls, each: Sequence[Sequence[int]], width: int) -> "_Ragged":
        import numpy as np

        numbers = [np.array(own, dtype=np.int32).reshape(-1, width) for own in each]
        rows = np.concatenate([np.empty((0, width), dtype=np.int32), *numbers])
        ends = np.cumsum([0, *map(len, numbers)], dtype=int)
        return cls(rows, ends[:-1], ends[1:])

    @classmethod
    def load(cls, rows: bytes, sizes: bytes, width: int) -> "_Ragged":
        import numpy as np

        ends = np.concatenate(([0], np.cumsum(np.frombuffer(sizes, dtype=np.int32), dtype=int)))
        table = np.frombuffer(rows, dtype=np.int32).reshape(-1, width)
        return cls(table, ends[:-1], ends[1:])

    def saved(self) -> tuple[bytes, bytes]:
        """The rows, packed one after another, and how many each thing has."""
        import numpy as np

        rows = self.rows[spread_out(self.begins, self.ends)]
        return rows.tobytes(), (self.ends - self.begins).astype(np.int32).tobytes()

    def taken(self, chosen: "NDArray[int_]") -> "_Ragged":
        """Those of these things; the rows stay where they are."""
        return _Ragged(self.rows, self.begins[chosen], self.ends[chosen])

    def beside(self, other: "_Ragged") -> "_Ragged":
        """These, then the others."""
        import numpy as np

        shift = len(self.rows)
        return _Ragged(
            np.concatenate((self.rows, other.rows)) if len(other.rows) else self.rows,
            np.concatenate((self.begins, other.begins + shift)),
            np.concatenate((self.ends, other.ends + shift)),
        )


class _KeptPractice(Struct, frozen=True, array_like=True):
    """What is in the file: see `_Practised`."""

    rules: TierRules
    turn_hour: int
    names: list[str]
    states: bytes
    stages: tuple[bytes, bytes]


class _Practised(NamedTuple):
    """The stages of every row of a history's table, and the states they were made from."""

    rules: TierRules
    turn_hour: int
    names: list[str]
    states: "NDArray[uint64]"
    stages: _Ragged

    @classmethod
    def of(cls, library: Library, table: HistoryTable, before: "_Practised | None") -> "_Practised":
        """Of a history's table, read on from `before` or from what was kept: only rows with other
        events are folded anew.
        """
        import numpy as np

        history, is_worth_it = library.history, kept_history.is_worth_it(library.store)
        rules, turn_hour, names = history.rules, history.turn_hour, table.names
        states = _states_of(table)
        if before is None and is_worth_it:
            before = cls._load(library)
        if before is None or (before.rules, before.turn_hour) != (rules, turn_hour):
            before = cls(rules, turn_hour, [], states[:0], _Ragged.of((), STAGE_COLUMNS))
        old = before._same_rows(names, states)
        fresh = np.flatnonzero(old < 0)
        folded = [_practised(table.tallied(row), rules) for row in fresh.tolist()]
        old[fresh] = len(before.names) + np.arange(len(fresh))
        stages = before.stages.beside(_Ragged.of(folded, STAGE_COLUMNS)).taken(old)
        made = cls(rules, turn_hour, names, states, stages)
        if is_worth_it and len(fresh) > kept_history.LONGEST_TAIL:
            kept = _KeptPractice(rules, turn_hour, names, states.tobytes(), stages.saved())
            library.store.cache.save_packed("practice", kept)
        return made

    @classmethod
    def _load(cls, library: Library) -> "_Practised | None":
        import numpy as np

        kept = library.store.cache.load_packed("practice", _KeptPractice)
        if kept is None:
            return None
        states = np.frombuffer(kept.states, dtype=np.uint64)
        stages = _Ragged.load(*kept.stages, STAGE_COLUMNS)
        return cls(kept.rules, kept.turn_hour, kept.names, states, stages)

    def _same_rows(self, names: list[str], states: "NDArray[uint64]") -> "NDArray[int_]":
        """For each of these rows the one here that was made from the same events, or -1."""
        import numpy as np

        if names[: len(self.names)] == self.names:
            old = np.arange(len(names))
            old[len(self.names) :] = -1
        else:
            place = {name: row for row, name in enumerate(self.names)}
            old = np.array([place.get(name, -1) for name in names], dtype=int)
        known = np.flatnonzero(old >= 0)
        old[known[self.states[old[known]] != states[known]]] = -1
        return old


def _states_of(table: HistoryTable) -> "NDArray[uint64]":
    """What a row's practice follows from, its events' days, codes and ids, as a hash of 64 bits:
    the sum of each event's, mixed as in splitmix64 (Steele, Lea and Flood, OOPSLA 2014; from
    memory).
    """
    import numpy as np

    begins = np.array(table.begins).astype(int)
    days, codes, ids = (
        np.array(column).astype(np.uint64) for column in (table.days, table.codes, table.ids)
    )
    place = np.arange(len(days)) - np.repeat(begins[:-1], np.diff(begins))
    mixed = _mixed(
        _mixed(ids << np.uint64(32) | days) ^ codes ^ place.astype(np.uint64) << np.uint64(16)
    )
    sums = np.concatenate((np.zeros(1, dtype=np.uint64), np.cumsum(mixed)))
    states: NDArray[uint64] = sums[begins[1:]] - sums[begins[:-1]]
    return states


def _mixed(words: "NDArray[uint64]") -> "NDArray[uint64]":
    import numpy as np

    words = (words ^ words >> np.uint64(30)) * np.uint64(0xBF58476D1CE4E5B9)
    words = (words ^ words >> np.uint64(27)) * np.uint64(0x94D049BB133111EB)
    mixed: NDArray[uint64] = words ^ words >> np.uint64(31)
    return mixed


def _practised(tallied: Iterable[Tallied], rules: TierRules) -> Sequence[int]:
    """What a question's history teaches: the stages of its practice, in numbers."""
    history: list[Judged | HandSet] = []
    answered, in_papers = date.min, set[int]()
    for day, mark, _ in tallied:
        if isinstance(mark, Tier):
            history.append(HandSet(day, mark, ""))
            continue
        history.append(Judged(day, mark.verdict, mark.confidence))
        if mark.purpose is Purpose.PAPER and day > answered:
            in_papers.add(day.toordinal())
        answered = max(answered, day)
    _, stages = read("", history, rules)
    # What was first answered that day in a paper is practice, but nothing to learn from.
    return stage_numbers(stages, in_papers)


# all of it


class _KeptValue(Struct, Generic[T], frozen=True, array_like=True):
    """A value and the digest of what it was made from."""

    made_from: bytes
    value: T


class _Learnt(Struct, frozen=True):
    """What was learnt of the memory; see `Memory`."""

    chances: Logistic | OneRate | TierRates
    name: str
    check: Check | None


class EvidenceLog:
    """The log as the evidence needs it. `today` is the study day it was read on.

    `ids` are the active questions in the banks' order; columns hold their numbers. `now` is where
    they stand, `morning` where they stood before today. `keyed` counts the questions of each
    subject that have a key to be marked by; `guess` is the chance of a random pick.
    """

    def __init__(self, library: Library, before: "EvidenceLog | None" = None) -> None:
        """`before` was read of the same library: what is as it was is taken from there."""
        import numpy as np

        self.today, self.guess = library.today(), random_pick(library)
        self._banks = list(library.banks.values())
        is_same_bank = before is not None and _are_same(before._banks, self._banks)
        self._questions: _Questions = (
            before._questions if before and is_same_bank else _Questions.of(library)
        )
        own, self.ids = self._questions, self._questions.ids
        self.subjects, self.chapters = own.subjects, own.chapters
        self.subject, self.chapter, self.group = own.subject, own.chapter, own.group
        store = library.store
        self._cache = store.cache if kept_history.is_worth_it(store) else None
        self._values: dict[str, _KeptValue[Any]] = before._values if before else {}
        self._learning = RLock()
        table = library.history.table
        self._practised: _Practised = _Practised.of(
            library, table, before._practised if before else None
        )
        self._read(library, table, before)
        disputed = self.marked(library.history.disputed())
        self.has_key = own.has_key | disputed
        keyed = np.bincount(self.subject[self.has_key], minlength=len(self.subjects))
        self.keyed: Counter[str] = Counter(self.by_subject(keyed))

    def _rows_of(self, table: HistoryTable, before: "EvidenceLog | None") -> "NDArray[int_]":
        """The row of each question in the table, -1 where it has none."""
        import numpy as np

        is_same = before is not None and before._questions is self._questions
        if before is not None and is_same and before._practised.names == table.names:
            return before._rows
        return np.array(list(map(table.rows.get, self.ids, repeat(-1))), dtype=int)

    def _read(self, library: Library, table: HistoryTable, before: "EvidenceLog | None") -> None:
        """Events and stages, question by question."""
        import numpy as np

        history, merged = library.history, self._questions.merged
        self._rows = self._rows_of(table, before)
        rows = self._rows.copy()
        tallied = [list(history.tallied(self.ids[n])) for n in merged]
        # After the table's rows come those with retired duplicates, then one without events.
        rows[merged] = len(table.names) + np.arange(len(merged))
        rows[rows < 0] = len(table.names) + len(merged)
        begins = np.array(table.begins).astype(int)
        more = begins[-1] + np.cumsum([0, *map(len, tallied), 0], dtype=int)
        begins, ends = (
            np.concatenate((begins[:-1], more[:-1]))[rows],
            np.concatenate((begins[1:], more[1:]))[rows],
        )
        places = spread_out(begins, ends)
        events = [event for own in tallied for event in own]
        day, code, seconds = (
            np.concatenate((np.array(column), np.array(own, dtype=kind)))[places]
            for column, own, kind in (
                (table.days, [event.day.toordinal() for event in events], np.int32),
                (table.codes, [_CODES[event.event] for event in events], np.uint16),
                (table.seconds, [event.seconds for event in events], float),
            )
        )
        question = np.repeat(np.arange(len(rows), dtype=np.int32), ends - begins)
        counts = _kinds()[code, _COUNTS] > 0
        self._events = _Events(*(column[counts] for column in (question, day, code, seconds)))
        stages = self._practised.stages
        folded = [_practised(own, history.rules) for own in [*tallied, []]]
        self.stages = StageColumns(*stages.beside(_Ragged.of(folded, STAGE_COLUMNS)).taken(rows))

    @cached_property
    def responses(self) -> ResponseColumns:
        """Every response that counts."""
        return self._events.responses()

    @cached_property
    def is_past(self) -> "NDArray[bool_]":
        """Whether each response is of the full days before today."""
        past: NDArray[bool_] = self.responses.day < self.today.toordinal()
        return past

    @cached_property
    def now(self) -> StandingColumns:
        """Where each question stands."""
        return self.stages.on()

    @cached_property
    def morning(self) -> StandingColumns:
        """Where each question stood before anything was answered today."""
        return self.stages.on(self.today.toordinal() - 1)

    @cached_property
    def numbers(self) -> dict[str, int]:
        """The number of each question by its id."""
        return {name: n for n, name in enumerate(self.ids)}

    @cached_property
    def subject_names(self) -> list[str]:
        """The subjects' keys by their numbers."""
        return list(self.subjects)

    def subject_of(self, number: int) -> str:
        """The key of a question's subject."""
        return self.subject_names[int(self.subject[number])]

    def marked(self, ids: Iterable[str]) -> "NDArray[bool_]":
        """Whether each question is among these."""
        import numpy as np

        chosen = np.zeros(len(self.ids), dtype=bool)
        chosen[[self.numbers[name] for name in ids if name in self.numbers]] = True
        return chosen

    def of_subjects(self, keys: Iterable[str]) -> "NDArray[bool_]":
        """Whether each question is in one of these subjects."""
        import numpy as np

        named = set(keys)
        is_one = np.array([key in named for key in self.subjects], dtype=bool)
        chosen: NDArray[bool_] = is_one[self.subject]
        return chosen

    def of_banks(self, banks: Collection[str]) -> "NDArray[bool_]":
        """Whether each question is in one of these banks."""
        every = self.subjects.values()
        return self.of_subjects(subject.key for subject in every if subject.bank in banks)

    def by_subject(self, column: "NDArray[Any]") -> dict[str, Any]:
        """A column of one number per subject, by the subjects' keys."""
        return dict(zip(self.subject_names, column.tolist(), strict=True))

    def title(self, subject: str) -> str:
        """The subject's title; the key itself for a subject that is gone."""
        return self.subjects[subject].title if subject in self.subjects else subject

    def place(self, number: int) -> tuple[str, str]:
        """The titles of a question's subject and chapter."""
        chapter = self.chapter_keys[int(self.chapter[number])]
        return self.title(self.subject_of(number)), self.chapters[chapter]

    @cached_property
    def subject_of_chapter(self) -> "NDArray[int_]":
        """The number of each chapter's subject, by the chapter's number."""
        import numpy as np

        subjects = np.zeros(len(self.chapters), dtype=int)
        subjects[self.chapter] = self.subject
        return subjects

    @cached_property
    def chapter_keys(self) -> list[str]:
        """The chapters' keys, "bank/chapter", by their numbers."""
        return list(self.chapters)

    # what the full days teach

    def trials(self, before: date | None = None) -> list[Trial]:
        """The tries before a day, or all, by day."""
        question, *columns = self.stages.tries(before.toordinal() if before else None)
        names, subjects = self.subject_names, self.subject[question].tolist()
        tried = zip(subjects, *(column.tolist() for column in columns), strict=True)
        return [
            Trial(names[subject], day, tuple(cell) if seen else UNSEEN, right)
            for subject, day, seen, cell, right in tried
        ]

    @cached_property
    def past_trials(self) -> list[Trial]:
        """Those of the full days before today: what models are learnt from."""
        return self.trials(self.today)

    @cached_property
    def _past(self) -> bytes:
        """A digest of the full days before today: the same only for the same events of the same
        questions under the same rules.
        """
        past = self._events.day < self.today.toordinal()
        digest = blake2b(msgpack.encode((self.ids, self.subject_names, self._practised.rules)))
        for column in (self.subject, *(column[past] for column in self._events)):
            digest.update(column.tobytes())
        return digest.digest()

    def kept(self, name: str, shape: type[T], made_from: object, make: Callable[[], T]) -> T:
        """A value made from the full days before today and from what is named: as it was kept,
        where these are the same. Several threads may ask at once: one makes it.

        The events themselves are compared, not the history's versions as in
        `kept_history.of_morning`: learning may take seconds, and a corrected stem changes none of
        them, nor does a damaged line of the log, with which no history is kept.
        """
        with self._learning:
            digest = blake2b(self._past + msgpack.encode(made_from)).digest()
            known = self._values.get(name)
            if known is None and self._cache is not None:
                known = self._cache.load_packed(name, _KeptValue[shape])  # type: ignore[valid-type]
            if known is None or known.made_from != digest:
                with paused_collector():
                    known = _KeptValue(digest, make())
                if self._cache is not None:
                    self._cache.save_packed(name, known)
            self._values[name] = known
            value: T = known.value
            return value

    @cached_property
    def _learnt(self) -> _Learnt:
        return self.kept("memory", _Learnt, self.guess, self._learn)

    def _learn(self) -> _Learnt:
        memory = learn(self.past_trials, self.subjects, guess=self.guess)
        chances = memory.chances
        assert isinstance(chances, Logistic | OneRate | TierRates)
        return _Learnt(chances, memory.name, memory.check)

    @property
    def memory(self) -> Memory:
        """What the full days before today teach of the candidate's memory: the same all day.

        A second or two at 60,000 responses, where it was not kept.
        """
        learnt = self._learnt
        return Memory(learnt.chances, learnt.name, learnt.check)

    @cached_property
    def blanks(self) -> float:
        """The share of the misses that were left blank."""
        verdicts = self.responses.verdict[self.is_past]
        misses = int((verdicts != RIGHT).sum())
        return int((verdicts == BLANK).sum()) / misses if misses else 0.0


def _are_same(banks: Sequence[Bank], others: Sequence[Bank]) -> bool:
    return len(banks) == len(others) and all(map(is_, banks, others))


def random_pick(library: Library) -> float:
    """The chance of a random pick among the options of the first bank that counts."""
    counting = counting_banks(library.settings.plan, library.banks)
    return 1 / (counting[0].option_count if counting else 4)


_reading = Lock()
_kept: WeakKeyDictionary[Library, tuple[tuple[date, int, float], EvidenceLog]] = WeakKeyDictionary()


def evidence_log(library: Library) -> EvidenceLog:
    """The log read, or what was read before if nothing has changed since.

    Several threads may ask at once: one reads, the others wait for it.
    """
    with _reading:
        state = _state(library)
        kept = _kept.get(library)
        if kept is None or kept[0] != state:
            with paused_collector():
                before = kept[1] if kept else None
                kept = _kept[library] = (state, EvidenceLog(library, before))
        return kept[1]


def _state(library: Library) -> tuple[date, int, float]:
    """Equal only while banks, log, rules, day and the chance of a random pick are the same."""
    return library.today(), library.history.version, random_pick(library)
