"""Stores of the real size and of several times it, written straight to files.

Real size: 21 subjects of 9 chapters, about 11,000 questions, every other chapter with its text, and
60,000 responses over 150 days: the bank gone through nearly four times, the last time as
revision by the plan. At n times the size a question takes an n-th of the time, so that the plan
stays one that can be done.
"""

import random
import tempfile
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

import msgspec

from banks.settings import Settings
from banks.store.bankfile import BankHeader
from banks.store.checked_json import sealed
from banks.store.log import line_of
from domain.plan.inputs import PlanInputs
from domain.questions import Chapter, Option, Question, Subject
from domain.responses import Purpose

SUBJECTS, CHAPTERS, PER_CHAPTER, DAYS = 21, 9, 58, 150
REAL_QUESTIONS, REAL_RESPONSES = SUBJECTS * CHAPTERS * PER_CHAPTER, 60_000
FIRST_DAY = date(2026, 1, 5)
TODAY = FIRST_DAY + timedelta(days=DAYS)
EXAM = FIRST_DAY + timedelta(days=300)
START, PASSES = FIRST_DAY + timedelta(days=119), 3  # revision begins after so many passes
SECONDS = 45.0
SUBJECT = "Subject"
"""The first word of every subject's name: where it stands, the bank's content is on the screen."""
_TEXT = """
cloud base layer front wind shear dew point pressure gradient station visibility drizzle
altocumulus isobar humidity sensor gust anemometer observer report hour cover eighths
"""
WORDS = _TEXT.split()


@cache
def store_of(times: int) -> Path:
    """A store of so many times the real size, made once a run and removed at its end."""
    return write_store(Path(_room().name) / f"{times}x", times)


@cache
def _room() -> tempfile.TemporaryDirectory:
    return tempfile.TemporaryDirectory(prefix="resieve-bench-")


def write_store(folder: Path, times: int = 1) -> Path:
    """A store of `times` the real size."""
    dice = random.Random(times)
    questions = _questions(times, dice)
    (folder / "banks").mkdir(parents=True)
    (folder / "log").mkdir()
    plan = PlanInputs(exam=EXAM, start=START, seconds=SECONDS / times)
    (folder / "store.json").write_bytes(
        sealed({"format": {"1": {"version": 1}}, "settings": {"1": Settings(plan=plan)}})
    )
    header = BankHeader("book", "The printed bank", questions=len(questions))
    tables = {"bank": {"1": header}, "subjects": {s.id: s for s in _subjects()}}
    tables["questions"] = questions
    (folder / "banks/book.json").write_bytes(sealed(tables))
    for month, records in groupby(_responses(list(questions), times, dice), _month):
        lines = b"".join(map(line_of, records))
        (folder / "log" / f"{month}.bench-00000000.jsonl").write_bytes(lines)
    return folder


def _month(record: dict[str, Any]) -> str:
    return record["at"][:7]


def _subjects() -> Iterator[Subject]:
    for s in range(SUBJECTS):
        chapters = tuple(Chapter(f"s{s}.c{c}", f"Chapter {c + 1}") for c in range(CHAPTERS))
        yield Subject(f"s{s}", f"{SUBJECT} {s + 1}", chapters)


def _questions(times: int, dice: random.Random) -> dict[str, Question]:
    made = {}
    for subject in _subjects():
        for chapter in subject.chapters:
            for number in range(1, PER_CHAPTER * times + 1):
                name = f"book/{chapter.id}/{number}"
                made[name] = _question(name, chapter.id, number, dice)
    return made


def _question(name: str, chapter: str, number: int, dice: random.Random) -> Question:
    if not _has_text(chapter):
        return Question(id=name, chapter=chapter, number=number)
    return Question(
        id=name, chapter=chapter, number=number, stem=_text(18, dice) + "?",
        options=tuple(Option(letter, _text(4, dice)) for letter in "abcd"),
        answer_key=(dice.choice("abcd"),), explanation=_text(25, dice), reference=f"p. {number}",
    )  # fmt: skip


def _has_text(chapter: str) -> bool:
    return int(chapter.rpartition("c")[2]) % 2 == 0


def _text(words: int, dice: random.Random) -> str:
    return " ".join(dice.choices(WORDS, k=words)).capitalize()


def _responses(names: list[str], times: int, dice: random.Random) -> Iterator[dict[str, Any]]:
    """Every day a stretch of the bank in order, and now and then one met again."""
    total, place = REAL_RESPONSES * times, 0
    a_day = total // DAYS
    for count in range(total):
        day, nth = divmod(count, a_day)
        at = datetime(2026, 1, 5, 18, tzinfo=UTC) + timedelta(days=day, seconds=nth * 9 / times)
        again = dice.random() < 0.3
        name = names[dice.randrange(len(names)) if again else place % len(names)]
        place += not again
        planned = not again and place > PASSES * len(names)
        purpose = Purpose.REVISION if planned else Purpose.FREE
        yield response_of(count, at, name, dice) | {
            "purpose": purpose, "seconds": round(SECONDS / times, 1)
        }  # fmt: skip


def response_of(count: int, at: datetime, name: str, dice: random.Random) -> dict[str, Any]:
    """A response to the question of this name."""
    record = {
        "what": "response", "id": f"{int(at.timestamp() * 1000):011x}{count:010x}",
        "at": at.isoformat().replace("+00:00", "Z"), "question": name,
        "sitting": f"{int(at.timestamp()) // 86400:011x}0000bench0",
    }  # fmt: skip
    if not _has_text(name.split("/")[1]):
        return record | {"verdict": dice.choices(("right", "wrong", "blank"), (75, 20, 5))[0]}
    return record | {"chosen": [dice.choice("abcd")]}


def responses_of(folder: Path) -> int:
    """How many records the store's log has."""
    return sum(path.read_bytes().count(b"\n") for path in folder.glob("log/*.jsonl"))


def first_question(folder: Path) -> str:
    """The id of the bank's first question."""
    tables = msgspec.json.decode((folder / "banks/book.json").read_bytes())
    return next(iter(tables["questions"]))
