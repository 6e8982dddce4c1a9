"""The demo's store: the sample banks, the candidate's settings and their history."""

from datetime import date, time
from importlib.resources import files
from pathlib import Path
from random import Random

from msgspec.structs import replace

from banks.clock import Clock
from banks.demo.diary import exam_day, ill_days, opening_day, plan_start
from banks.demo.story import UNSTUDIED, demo_records, turns
from banks.importers.common import Hints
from banks.importers.json_reader import parse
from banks.importers.outline import parse_outline
from banks.intake.reconcile import reconcile
from banks.library import Library
from banks.settings import Settings
from banks.store.folder import Store
from banks.views.week import last_week, remember_week
from domain.marking.blueprint import ExamBlueprint
from domain.plan.inputs import PlanInputs
from domain.questions import Bank
from domain.responses import study_day

_SAMPLES = files("sample_banks")
_OUTLINE = "observers-printed-outline.csv"
_EXAM = ExamBlueprint(minutes=120, scheme="+4/−1", hour=time(10))


def make_demo(folder: str | Path, clock: Clock, seed: int = 1) -> Path:
    """Fill an empty folder with the demo's store as of now. Returns the folder."""
    settings = Settings()
    now = clock()
    zone = now.tzinfo
    assert zone is not None, "a clock tells its zone"
    today = study_day(now, settings.turn_hour)
    full, printed = full_bank(), printed_bank(today)
    records = demo_records(full, printed, today, Random(seed), zone)
    store = Store.open(Path(folder))
    try:
        store.save_settings(replace(settings, plan=demo_inputs(printed, today), exam=_EXAM))
        store.save_bank(printed)
        store.save_bank(full)
        store.append(records)
        library = Library(store, clock)
        remember_week(library, last_week(library))  # the demo opens on Today
    finally:
        store.close()
    return store.folder


def demo_inputs(printed: Bank, today: date) -> PlanInputs:
    """What the candidate told the plan: the exam some three months ahead, the rest as usual."""
    return PlanInputs(
        exam=exam_day(today),
        start=plan_start(today),
        off=tuple(ill_days(today)),
        banks=(printed.id,),
        order=tuple(f"{printed.id}/{subject}" for subject in turns(printed)),
    )


def full_bank() -> Bank:
    """The part of the question book that is there with its text: nine subjects."""
    bank = Bank(id="observers-full-text", title="Question Book, full text", edition="2nd")
    for file in sorted(_SAMPLES.joinpath("observer").iterdir(), key=lambda file: file.name):
        bank = reconcile(bank, parse(file.read_bytes(), Hints(name=file.name))).bank
    return bank


def printed_bank(today: date) -> Bank:
    """The printed question book, of which only the numbers are known: 21 subjects.

    Those that still wait for their first study are open for revision from next week.
    """
    outline = parse_outline(_SAMPLES.joinpath(_OUTLINE).read_bytes(), Hints(name=_OUTLINE))
    empty = Bank(id="observers-question-book", title="Observer's Question Book", edition="2nd")
    bank = reconcile(empty, outline.parsed, weights=outline.weights).bank
    studied = bank.subjects[:-UNSTUDIED]
    waiting = bank.subjects[-UNSTUDIED:]
    opening = opening_day(today)
    return bank.with_subjects(
        [*studied, *(replace(subject, open_from=opening) for subject in waiting)]
    )
