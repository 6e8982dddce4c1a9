"""The exam as it was told, the mock paper as it was set, and both as a line of sections."""

import re
from collections.abc import Mapping, Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from banks.library import Library
from banks.lookup import titled
from banks.views.evidence_log import EvidenceLog, random_pick
from domain.errors import InputError
from domain.marking.blueprint import Blueprint, Draw, ExamBlueprint, Section, even_sections
from domain.marking.schemes import MultipleRule, break_even, parse_scheme
from domain.responses import ExamTopic

_SECTION = re.compile(r"(?P<title>.+?)\s+(?P<questions>\d+)(?:\s+(?P<scheme>[+\d].*))?")


def exam_blueprint(library: Library, reading: EvidenceLog) -> Blueprint:
    """The exam as it was told, or a neutral one; never what a mock paper was set to.

    Sections name subjects by their key, "bank/subject". Subjects that the banks no longer hold
    are left out. Where nothing was told, no subject has more questions than the bank.
    """
    exam = library.settings.exam
    everything = {key: subject.questions for key, subject in reading.subjects.items()}
    if exam is None:
        neutral = ExamBlueprint()
        paper = made(reading, neutral.questions, neutral.minutes, everything)
        return replace(paper, scheme=neutral.scheme)
    sections = tuple(part for part in exam.sections if part.subject in reading.subjects)
    return Blueprint(
        sections=sections or _by_weight(reading, exam.questions, everything),
        minutes=exam.minutes,
        scheme=exam.scheme,
    )


def told_exam(library: Library) -> ExamBlueprint | None:
    """What the candidate said of the exam; None: nothing yet."""
    return library.settings.exam


def tell_exam(library: Library, exam: ExamBlueprint | None) -> None:
    """Keep what the candidate says of the exam. Raises InputError for one that can't be."""
    if exam is not None:
        exam.check()
    library.change_settings(exam=exam)


def keep_checklist(library: Library, text: str) -> None:
    """Keep what to take along, things between semicolons; an empty text keeps none."""
    things = tuple(filter(None, (" ".join(part.split()) for part in text.split(";"))))
    library.change_settings(checklist=things)


class ExamMorning(Struct, frozen=True):
    """What the card for the exam's morning says: the exam (a neutral one where it was not told),
    its day, what to take along, and the chances of a random pick and from which answering pays.
    """

    exam: ExamBlueprint
    is_told: bool
    day: date | None
    checklist: tuple[str, ...]
    break_even: float
    random: float


def exam_morning(library: Library) -> ExamMorning:
    """The exam's morning as the settings have it."""
    settings = library.settings
    exam = settings.exam or ExamBlueprint()
    pays_from = float(break_even(parse_scheme(exam.scheme)))
    return ExamMorning(
        exam,
        settings.exam is not None,
        settings.plan.exam,
        settings.checklist,
        pays_from,
        random_pick(library),
    )


def tell_topics(library: Library, text: str) -> int:
    """Put on record what came in the exam, things between semicolons; undone like any act.

    Gives how many. Raises InputError for none.
    """
    topics = list(filter(None, (" ".join(part.split()) for part in text.split(";"))))
    if not topics:
        raise InputError("name what came, as: Clouds; 2 Direction; a question on halos")
    records = [ExamTopic(**library.stamp(), text=topic) for topic in topics]
    library.keep(records, label="what came in the exam")
    return len(records)


def exam_topics(library: Library) -> list[str]:
    """What came in the exam, in the order it was told."""
    return [topic.text for topic in library.history.records_of(ExamTopic)]


def drawable(library: Library, reading: EvidenceLog) -> Blueprint:
    """The mock paper that was set, or one like the exam of questions that have an answer key.

    Raises InputError when there are none.
    """
    if not reading.keyed.total():
        raise InputError(
            "a mock paper needs questions with an answer key: import some, or enter a chapter's key"
        )
    paper = library.settings.paper
    there = (
        tuple(part for part in paper.sections if part.subject in reading.subjects) if paper else ()
    )
    if paper and there:
        return replace(paper, sections=there)
    exam = library.settings.exam or ExamBlueprint()
    sections = tuple(part for part in exam.sections if reading.keyed[part.subject])
    drawn = at_most(sections or _by_weight(reading, exam.questions, reading.keyed), reading.keyed)
    minutes = minutes_of(library, sum(section.questions for section in drawn))
    return Blueprint(sections=drawn, minutes=minutes, scheme=exam.scheme)


def minutes_of(library: Library, questions: int) -> int:
    """The exam's time for so many of its questions."""
    exam = library.settings.exam or ExamBlueprint()
    return max(1, round(questions * exam.minutes / exam.questions))


def made(
    reading: EvidenceLog, questions: int, minutes: int, available: Mapping[str, int]
) -> Blueprint:
    """A paper of so many questions over the subjects that have any available, by their weight."""
    sections = _by_weight(reading, questions, available)
    return Blueprint(sections=at_most(sections, available), minutes=minutes)


def _by_weight(
    reading: EvidenceLog, questions: int, available: Mapping[str, int]
) -> tuple[Section, ...]:
    """So many questions shared by weight over the subjects that have any available."""
    weights = [(key, subject.weight) for key, subject in reading.subjects.items() if available[key]]
    return even_sections(weights, questions) if any(weight for _, weight in weights) else ()


def changed(
    reading: EvidenceLog,
    paper: Blueprint,
    *,
    questions: int | None = None,
    minutes: int | None = None,
    scheme: str | None = None,
    draw: Draw | None = None,
    hard_share: float | None = None,
    multiple: MultipleRule | None = None,
    sections: str | None = None,
) -> Blueprint:
    """The paper with what is given changed. Raises InputError when no such paper can be made.

    `questions` are shared over all subjects by weight; `sections` says it subject by subject, as
    `sections_text` writes them.
    """
    if questions is not None:
        paper = replace(
            paper, sections=made(reading, questions, paper.minutes, reading.keyed).sections
        )
        if paper.questions < questions:
            raise InputError(
                f"the banks hold {reading.keyed.total()} questions with a key, "
                f"too few for a paper of {questions}; ask for fewer"
            )
    given = {
        "minutes": minutes,
        "draw": draw,
        "hard_share": hard_share,
        "multiple": multiple,
        "sections": parse_sections(reading, sections) if sections is not None else None,
        "scheme": parse_scheme(scheme).text if scheme is not None else None,
    }
    paper = replace(paper, **{name: value for name, value in given.items() if value is not None})
    paper.check()
    return paper


def sections_text(reading: EvidenceLog, paper: Blueprint) -> str:
    """The sections as one line: "Clouds 20; Wind 10 +2/−1"."""
    parts = [
        f"{reading.title(part.subject)} {part.questions} {part.scheme}".rstrip()
        for part in paper.sections
    ]
    return "; ".join(parts)


def parse_sections(
    reading: EvidenceLog, text: str, *, for_exam: bool = False
) -> tuple[Section, ...]:
    """The sections in a line as `sections_text` writes it. Raises InputError.

    A subject may be named by the beginning of its title; each comes once. A mock paper's need
    answer keys; the exam's don't.
    """
    subjects = [key for key in reading.subjects if for_exam or reading.keyed[key]]
    parts = filter(None, (part.strip() for part in text.split(";")))
    sections = [_section(reading, subjects, part) for part in parts]
    twice = len({part.subject for part in sections}) < len(sections)
    if twice or not sections:
        raise InputError("name each subject of the paper once, as: Clouds 20; Wind 10 +2/−1")
    for part in sections:
        if not for_exam and part.questions > reading.keyed[part.subject]:
            raise InputError(
                f"{reading.title(part.subject)} has {reading.keyed[part.subject]} questions with "
                f"a key, not {part.questions}"
            )
    return tuple(sections)


def _section(reading: EvidenceLog, subjects: Sequence[str], text: str) -> Section:
    match = _SECTION.fullmatch(text)
    if match is None:
        raise InputError(f'a section reads like "Clouds 20" or "Wind 10 +2/−1", not "{text}"')
    matches = titled(match["title"], {key: reading.subjects[key].title for key in subjects})
    if len(matches) != 1:
        how = (
            "fits more than one subject"
            if matches
            else "is no subject of the banks that can be asked"
        )
        raise InputError(f'"{match["title"]}" {how}')
    scheme = parse_scheme(match["scheme"]).text if match["scheme"] else ""
    return Section(matches[0], int(match["questions"]), scheme)


def at_most(sections: tuple[Section, ...], available: Mapping[str, int]) -> tuple[Section, ...]:
    """The sections, none larger than what there is; what one can't give the next ones do."""
    cut, owed = [], 0
    for part in sorted(
        sections, key=lambda section: available[section.subject] - section.questions
    ):
        count = min(part.questions + owed, available[part.subject])
        owed += part.questions - count
        cut.append(Section(part.subject, count))
    order = {part.subject: place for place, part in enumerate(sections)}
    return tuple(sorted(cut, key=lambda part: order[part.subject]))
