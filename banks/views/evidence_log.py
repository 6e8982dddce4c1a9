"""The whole log read once for the evidence, as plain values, and kept until something changes."""

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from datetime import date
from functools import cached_property, partial
from hashlib import blake2b
from threading import Lock
from weakref import WeakKeyDictionary

from msgspec import Struct, msgpack

from banks.contents import Location
from banks.kept_history import KeptByQuestion
from banks.library import Library, paused_collector
from banks.planning.workload import counting_banks
from domain.evidence.memory.learning import ENOUGH, Check, Memory, OneRate, TierRates, learn
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import Practice, Stage, StageColumns, Trial, read
from domain.history_table import Tallied
from domain.marking.schemes import exam_weights
from domain.questions import Question
from domain.responses import Purpose
from domain.tiers import HandSet, Judged, Tier
from domain.verdicts import Confidence, Verdict


class SubjectName(Struct, frozen=True):
    """A subject among all banks: `key` is "bank/subject"; `weight` its share in the exam, in
    questions.
    """

    key: str
    bank: str
    title: str
    weight: float
    questions: int


class LoggedResponse(Struct, frozen=True, gc=False):
    """A response as the evidence counts it. `subject` is the key.

    `stated` tells whether its confidence was said before the outcome was known: the candidate
    chose, rather than judged with the book open, and for the first time that day.
    """

    question: str
    subject: str
    chapter: str
    day: date
    verdict: Verdict
    confidence: Confidence
    seconds: float
    purpose: Purpose
    stated: bool


class Studied(Struct, frozen=True, gc=False):
    """An active question, the stages of its practice, oldest first, on how many days it was missed,
    and the seconds that responses took, as far as they were timed.
    """

    question: Question
    subject: str
    stages: list[Stage]
    missed_days: int
    timed: list[float]

    def stage(self, day: int | None = None) -> Stage | None:
        """Its stage at the end of a day (an ordinal), or now; None when still untried."""
        current = None
        for stage in self.stages:
            if day is not None and stage.since > day:
                break
            current = stage
        return current

    def practice(self, day: int | None = None) -> Practice | None:
        """Its practice at the end of a day (an ordinal), or now; None when still untried."""
        stage = self.stage(day)
        return stage.practice if stage else None


class _KeptMemory(Struct, frozen=True):
    """What was learnt, and the digest of the tries, subjects and guess it was learnt from."""

    made_from: str
    chances: Logistic | OneRate | TierRates
    name: str
    check: Check | None


_MEMORY = "memory"


class EvidenceLog:
    """The log as the evidence needs it. `today` is the study day it was read on.

    `keyed` counts the questions of each subject that have a key to be marked by; `guess` is the
    chance of a random pick.
    """

    def __init__(self, library: Library) -> None:
        self.today, self.guess = library.today(), random_pick(library)
        self._cache = library.store.cache
        self.subjects: dict[str, SubjectName] = {}
        self.chapters: dict[str, str] = {}
        self.response_count = 0
        self.trials: list[Trial] = []
        self.studied: list[Studied] = []
        self.keyed: Counter[str] = Counter()
        self._weights: dict[str, dict[str, float]] = {}
        self._memory: Memory | None = None
        self._responses: list[LoggedResponse] | None = None
        self._learning, self._reading = Lock(), Lock()
        self._misses, self._blanks, self._tallied = 0, 0, list[Iterator[Tallied]]()
        practised = KeptByQuestion(library, "practice", _Practised, partial(_practised, library))
        for location, question in library.active_questions():
            self._take(library, location, question, practised.of(question.id))
        practised.keep()
        self.trials.sort(key=lambda trial: trial.day)

    def _take(
        self, library: Library, location: Location, question: Question, practised: "_Practised"
    ) -> None:
        key = self._name(location)
        self.chapters.setdefault(f"{location.bank.id}/{question.chapter}", location.chapter.title)
        self.keyed[key] += bool(library.answer_key(question))
        self.trials += practised.trials
        self.studied.append(
            Studied(question, key, practised.stages, practised.missed_days, practised.timed)
        )
        self.response_count += practised.responses
        self._misses += practised.misses
        self._blanks += practised.blanks
        self._tallied.append(library.history.tallied(question.id))

    @property
    def responses(self) -> list[LoggedResponse]:
        """Every response, question by question in the banks' order. Read when asked for first."""
        with self._reading:
            if self._responses is None:
                with paused_collector():
                    self._responses = list(self._logged())
                self._tallied.clear()
            return self._responses

    def _logged(self) -> Iterator[LoggedResponse]:
        for studied, tallied in zip(self.studied, self._tallied, strict=True):
            question, answered = studied.question, date.min
            chapter = f"{studied.subject.partition('/')[0]}/{question.chapter}"
            for day, mark, seconds in tallied:
                if isinstance(mark, Tier):
                    continue
                stated = mark.is_chosen and day > answered
                answered = max(answered, day)
                yield LoggedResponse(
                    question.id,
                    studied.subject,
                    chapter,
                    day,
                    mark.verdict,
                    mark.confidence,
                    seconds,
                    mark.purpose,
                    stated,
                )

    def _name(self, location: Location) -> str:
        key = f"{location.bank.id}/{location.subject.id}"
        if key not in self.subjects:
            bank, subject = location.bank, location.subject
            questions = sum(len(bank.in_chapter(chapter.id)) for chapter in subject.chapters)
            if bank.id not in self._weights:
                self._weights[bank.id] = exam_weights(bank)
            weight = self._weights[bank.id][subject.id]
            self.subjects[key] = SubjectName(key, bank.id, subject.title, weight, questions)
        return key

    def title(self, subject: str) -> str:
        """The subject's title; the key itself for a subject that is gone."""
        return self.subjects[subject].title if subject in self.subjects else subject

    @cached_property
    def columns(self) -> StageColumns:
        """The stages of all studied questions, in their order."""
        return StageColumns(
            [studied.stages for studied in self.studied],
            [studied.subject for studied in self.studied],
        )

    def by_subject(self) -> dict[str, list[Studied]]:
        """The studied questions of each subject, in the banks' order."""
        by_subject: dict[str, list[Studied]] = defaultdict(list)
        for studied in self.studied:
            by_subject[studied.subject].append(studied)
        return by_subject

    @cached_property
    def past_trials(self) -> Sequence[Trial]:
        """The tries of the full days before today: what models are learnt from."""
        before = bisect_left(self.trials, self.today.toordinal(), key=lambda trial: trial.day)
        return self.trials[:before]

    @property
    def memory(self) -> Memory:
        """What the full days before today teach of the candidate's memory: the same all day.

        A second or two at 60,000 responses.
        """
        with self._learning:
            if self._memory is None:
                self._memory = self.learnt(self.past_trials)
            return self._memory

    def learnt(self, trials: Sequence[Trial]) -> Memory:
        """What these tries teach: what was learnt last, where it was from the very same tries."""
        if len(trials) < ENOUGH:
            return learn(trials, self.subjects, guess=self.guess)
        basis = trials, list(self.subjects), self.guess
        made_from = blake2b(msgpack.encode(basis)).hexdigest()
        kept = self._cache.load_packed(_MEMORY, list[_KeptMemory]) or []
        for learnt in kept:
            if learnt.made_from == made_from:
                return Memory(learnt.chances, learnt.name, learnt.check)
        memory = learn(trials, self.subjects, guess=self.guess)
        if isinstance(memory.chances, Logistic | OneRate | TierRates):
            fresh = _KeptMemory(made_from, memory.chances, memory.name, memory.check)
            self._cache.save_packed(_MEMORY, [fresh, *kept][:2])
        return memory

    @property
    def blanks(self) -> float:
        """The share of the misses that were left blank."""
        return self._blanks / self._misses if self._misses else 0.0


class _Practised(Struct, frozen=True, gc=False, array_like=True):
    """What a question's history teaches; see `Studied`. `responses` are all, `misses` those not
    right, `blanks` those left blank.
    """

    trials: list[Trial] = []
    stages: list[Stage] = []
    missed_days: int = 0
    timed: list[float] = []
    responses: int = 0
    misses: int = 0
    blanks: int = 0


def _practised(library: Library, question_id: str) -> _Practised:
    history: list[Judged | HandSet] = []
    answered, missed, in_papers = date.min, set[date](), set[int]()
    verdicts, timed = Counter[Verdict](), list[float]()
    for day, mark, seconds in library.history.tallied(question_id):
        if isinstance(mark, Tier):
            history.append(HandSet(day, mark, ""))
            continue
        history.append(Judged(day, mark.verdict, mark.confidence))
        verdicts[mark.verdict] += 1
        if mark.purpose is Purpose.PAPER and day > answered:
            in_papers.add(day.toordinal())
        answered = max(answered, day)
        if mark.verdict is not Verdict.RIGHT:
            missed.add(answered)
        if seconds > 0:
            timed.append(seconds)
    if not history:
        return _Practised()
    trials, stages = read(library.subject_id(question_id), history, library.history.rules)
    # What was first answered that day in a paper is practice, but nothing to learn from.
    learnt = [trial for trial in trials if trial.day not in in_papers]
    responses = verdicts.total()
    misses = responses - verdicts[Verdict.RIGHT]
    return _Practised(
        learnt, stages, len(missed), timed, responses, misses, verdicts[Verdict.BLANK]
    )


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
                kept = _kept[library] = (state, EvidenceLog(library))
        return kept[1]


def _state(library: Library) -> tuple[date, int, float]:
    """Equal only while banks, log, rules, day and the chance of a random pick are the same."""
    return library.today(), library.history.version, random_pick(library)
