"""How the exam is made and marked; the blueprint of a paper, and drawing a paper from it."""

import random
import re
from collections.abc import Iterable, Sequence
from datetime import time
from enum import StrEnum

from msgspec import Struct

from domain.errors import InputError
from domain.marking.schemes import Marking, MultipleRule, parse_scheme
from domain.tiers import Tier


class Draw(StrEnum):
    """How a section's questions are drawn: all alike, or in proportion to their weights."""

    RANDOM = "random"
    WEIGHTED = "weighted"


class Section(Struct, frozen=True, omit_defaults=True):
    """A part of the paper: how many questions of a subject, and its own scheme if it has one."""

    subject: str
    questions: int
    scheme: str = ""


class Blueprint(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a mock paper is made of. `minutes` is the time allowed.

    `hard_share` is the share (0–1) of each section that comes from the hard-tiers; None lets
    the draw decide.
    """

    sections: tuple[Section, ...]
    minutes: int
    scheme: str = "+4/−1"
    draw: Draw = Draw.RANDOM
    hard_share: float | None = None
    multiple: MultipleRule = MultipleRule.ALL_OR_NOTHING

    @property
    def questions(self) -> int:
        """How many questions the paper has."""
        return sum(section.questions for section in self.sections)

    def marking(self) -> Marking:
        """The scheme and the sections' own schemes. Raises InputError for one that can't be."""
        own = {part.subject: parse_scheme(part.scheme) for part in self.sections if part.scheme}
        return Marking(parse_scheme(self.scheme), own)

    def check(self) -> None:
        """Raises InputError, in words, when no paper can be made of this."""
        self.marking()
        if self.minutes < 1:
            raise InputError(f"a paper takes at least 1 minute, not {self.minutes}")
        if not self.sections or any(section.questions < 1 for section in self.sections):
            raise InputError("a paper needs at least one question in each of its sections")
        if self.hard_share is not None and not 0 <= self.hard_share <= 1:
            raise InputError(f"the hard-tiers' share is 0 to 1, not {self.hard_share:g}")


class ExamBlueprint(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What the candidate says of the exam; forecast, worth and papers rest on it.

    As it stands it is neutral: a hundred questions, each worth one, nothing for a wrong one.
    Without `sections` the subjects' weights share the questions. `hour` is when it begins, `target`
    the score the candidate wants to reach, if they named one.
    """

    questions: int = 100
    minutes: int = 100
    scheme: str = "+1/0"
    sections: tuple[Section, ...] = ()
    hour: time | None = None
    target: int | None = None

    @property
    def text(self) -> str:
        """Its numbers on a line, "200 questions, 180 minutes, +4/−1, 10:00, target 300"."""
        hour = f", {self.hour:%H:%M}" if self.hour else ""
        target = f", target {self.target}" if self.target is not None else ""
        return f"{self.questions} questions, {self.minutes} minutes, {self.scheme}{hour}{target}"

    def check(self) -> None:
        """Raises InputError, in words, for an exam that can't be."""
        parse_scheme(self.scheme)
        for name, count in (("question", self.questions), ("minute", self.minutes)):
            if not 1 <= count <= _MOST:
                raise InputError(f"an exam has 1 to {_MOST:,} {name}s, not {count:,}")


_MOST = 10_000
_PARTS = {
    "questions": re.compile(r"(\d{1,6})\s*q(?:uestions?)?"),
    "minutes": re.compile(r"(\d{1,6})\s*m(?:in(?:utes?)?)?\.?"),
    "hour": re.compile(r"(\d{1,2}:\d{2})"),
    "target": re.compile(r"target\s*(\d{1,6})|no target"),
    "scheme": re.compile(r"(\+?\d.*/.*)"),
}


def parse_exam(text: str, before: ExamBlueprint | None) -> ExamBlueprint | None:
    """The exam in a line such as `ExamBlueprint.text`; what it doesn't name stays as `before`.

    An empty line: not told. Raises InputError.
    """
    fields: dict[str, str | None] = {}
    for part in filter(None, (part.strip() for part in text.split(","))):
        named = [
            (name, match[1])
            for name, pattern in _PARTS.items()
            if (match := pattern.fullmatch(part.lower()))
        ]
        if not named or named[0][0] in fields:
            raise InputError(
                f'Can\'t read "{part}": expected such as 200 questions, 180 minutes, +4/−1, 10:00, '
                "target 300"
            )
        fields |= named
    if not fields:
        return None
    exam = before or ExamBlueprint()
    hour, target = exam.hour, exam.target
    if begins := fields.get("hour"):
        try:
            hour = time.fromisoformat(begins.zfill(5))
        except ValueError:
            raise InputError(f"{begins} is no time of the day; write 10:00") from None
    scheme = fields.get("scheme")
    if "target" in fields:
        target = int(fields["target"]) if fields["target"] else None
    exam = ExamBlueprint(
        questions=int(fields.get("questions") or exam.questions),
        minutes=int(fields.get("minutes") or exam.minutes),
        scheme=parse_scheme(scheme).text if scheme else exam.scheme,
        sections=exam.sections,
        hour=hour,
        target=target,
    )
    exam.check()
    return exam


class DrawableQuestion(Struct, frozen=True, gc=False):
    """A question that may come in the paper. `weight` (> 0) counts only in a weighted draw."""

    question: str
    subject: str
    tier: Tier = Tier.UNTRIED
    weight: float = 1.0


def even_sections(subjects: Iterable[tuple[str, float]], questions: int) -> tuple[Section, ...]:
    """Sections for so many questions, shared by weight; largest remainders get the odd ones.

    Source of the rule: Hamilton's method of apportionment.
    """
    weighted = [(subject, weight) for subject, weight in subjects if weight > 0]
    total = sum(weight for _, weight in weighted)
    shares = {subject: questions * weight / total for subject, weight in weighted}
    counts = {subject: int(share) for subject, share in shares.items()}
    remainders = sorted(shares, key=lambda subject: counts[subject] - shares[subject])
    for subject in remainders[: questions - sum(counts.values())]:
        counts[subject] += 1
    return tuple(Section(subject, count) for subject, count in counts.items() if count)


def draw_paper(
    blueprint: Blueprint, candidates: Iterable[DrawableQuestion], rng: random.Random
) -> tuple[str, ...]:
    """Question ids for one paper, section by section, in random order within each.

    Raises InputError when a subject has fewer questions than its section asks for.
    """
    blueprint.check()
    pools: dict[str, list[DrawableQuestion]] = {}
    for candidate in candidates:
        pools.setdefault(candidate.subject, []).append(candidate)
    paper: list[str] = []
    for section in blueprint.sections:
        drawn = _draw_section(section, pools.get(section.subject, []), blueprint, rng)
        rng.shuffle(drawn)
        paper += drawn
    return tuple(paper)


def draw_evenly(questions: Sequence[str], count: int, rng: random.Random) -> tuple[str, ...]:
    """So many question ids, evenly over all that are given, in their order; all if there are fewer.

    One at random from each of `count` stretches: stratified sampling with one unit per stratum
    (Cochran, Sampling Techniques, 3rd ed., chapter 5; from memory).
    """
    count, size = min(count, len(questions)), len(questions)
    stretches = ((n * size // count, (n + 1) * size // count) for n in range(count))
    return tuple(questions[rng.randrange(first, last)] for first, last in stretches)


def _draw_section(
    section: Section, pool: list[DrawableQuestion], blueprint: Blueprint, rng: random.Random
) -> list[str]:
    if len(pool) < section.questions:
        raise InputError(
            f"{section.subject} has {len(pool)} questions to draw from; "
            f"the blueprint asks for {section.questions}"
        )
    order = _shuffled(pool, blueprint.draw, rng)
    if blueprint.hard_share is not None:
        hard_count = round(section.questions * blueprint.hard_share)
        hard = [candidate for candidate in order if candidate.tier >= Tier.HARD]
        rest = [candidate for candidate in order if candidate.tier < Tier.HARD]
        # Where one side has too few, the other fills up.
        hard_count = max(min(hard_count, len(hard)), section.questions - len(rest))
        order = hard[:hard_count] + rest
    return [candidate.question for candidate in order[: section.questions]]


def _shuffled(
    pool: list[DrawableQuestion], draw: Draw, rng: random.Random
) -> list[DrawableQuestion]:
    """All of the pool in the order in which it is drawn.

    Weighted without replacement: P. S. Efraimidis and P. G. Spirakis, "Weighted random sampling
    with a reservoir", Information Processing Letters 97 (2006), 181-185.
    """
    if draw is Draw.RANDOM:
        return rng.sample(pool, len(pool))
    keyed = [(rng.random() ** (1 / candidate.weight), candidate) for candidate in pool]
    return [candidate for _, candidate in sorted(keyed, key=lambda pair: pair[0], reverse=True)]
