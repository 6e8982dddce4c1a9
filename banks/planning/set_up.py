"""Setting up: the bank as a file or a typed shape, what is studied, the exam, and the plan.

Everything is read and tried out first, and kept at once, as one act.
"""

from datetime import date
from functools import cached_property
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from banks.importers.common import Finding, Hints
from banks.importers.detect import read_bytes
from banks.importers.outline import parse_outline
from banks.intake.file_import import (
    ImportOptions,
    Preview,
    apply_import,
    preview_import,
    preview_outline,
)
from banks.library import Library
from banks.planning.first_study import (
    StudiedAlready,
    parse_studied,
    say_subjects_studied,
    with_studied,
)
from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload, counting_banks, request_for
from domain.errors import InputError
from domain.marking.blueprint import ExamBlueprint
from domain.plan.inputs import PlanInputs
from domain.plan.levers import at_attendance
from domain.plan.study_plan import StudyPlan
from domain.plan.study_plan_writer import make_study_plan
from domain.questions import Bank

PRACTICE = "practice"
"""Typed in the place of a bank: the demo's banks."""
TITLE = "Printed bank"
"""What a typed bank is called until it is renamed."""


USUAL_ATTENDANCE = 80
"""Of 100 planned days, so many are kept even by those who mean to keep all: common practice, no
source.
"""


class TriedPlan(Struct, frozen=True):
    """The plan that is tried out; `unreached` of its questions are not, at `USUAL_ATTENDANCE`."""

    plan: StudyPlan
    unreached: int


class BankText(Struct, frozen=True):
    """What stands in the place of the bank, read: how much it holds, and what can't be read.

    `is_file` is False for a typed shape; `is_practice` for the demo's banks.
    """

    title: str
    subjects: int = 0
    chapters: int = 0
    questions: int = 0
    findings: tuple[Finding, ...] = ()
    is_file: bool = False
    is_practice: bool = False


class SetUp:
    """The first steps with a store: reads and tries out what is typed, then keeps it."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._read: tuple[str, Preview] | None = None

    # the bank

    def read(self, text: str) -> BankText:
        """What a typed shape, a file's name or `practice` stands for. Raises InputError."""
        if _is_practice(text):
            return BankText("The practice banks", is_practice=True)
        if _is_file(text):
            bank = self._preview(text)
            chapters = sum(len(subject.chapters) for subject in bank.bank.subjects)
            return BankText(
                bank.bank.title,
                len(bank.bank.subjects),
                chapters,
                len(bank.bank.questions),
                (*bank.skipped, *bank.warnings),
                is_file=True,
            )
        parsed = parse_outline(text.encode(), Hints(name="Your bank")).parsed
        headings = {(draft.subject, draft.chapter) for draft in parsed.drafts}
        subjects = {subject for subject, _ in headings}
        return BankText(
            TITLE,
            len(subjects),
            len(headings),
            len(parsed.drafts),
            (*parsed.skipped, *parsed.warnings),
        )

    def _preview(self, text: str) -> Preview:
        """The bank that a file or a shape would make; read once."""
        if self._read is None or self._read[0] != text:
            self._read = (text, self._previewed(text))
        return self._read[1]

    def _previewed(self, text: str) -> Preview:
        if not _is_file(text):
            return preview_outline({}, text.encode(), TITLE, ImportOptions(bank=TITLE))
        file = Path(text.strip()).expanduser()
        preview = preview_import(self._library, {}, read_bytes(file), file.name, ImportOptions())
        if not isinstance(preview, Preview):
            raise InputError(f"{file.name}: these are marks, not questions; give the bank first")
        return preview

    # the plan

    def planned_bank(self, text: str = "") -> Bank | None:
        """The bank that the plan would be made of; `text` as for `read`, "" for the library's."""
        if _is_practice(text):
            return self._practice_banks[1]
        if text.strip():
            return self._preview(text).bank
        return next(iter(counting_banks(self._library.settings.plan, self._library.banks)), None)

    def studied(
        self, text: str, others_from: date | None, bank_text: str = ""
    ) -> StudiedAlready | None:
        """What is typed of the subjects studied already. Raises InputError."""
        bank = self.planned_bank(bank_text)
        return parse_studied(text, others_from, bank) if bank else None

    def try_out(
        self, inputs: PlanInputs, studied: StudiedAlready | None, bank_text: str = ""
    ) -> TriedPlan:
        """The plan that all of it would give. Raises InputError; nothing is changed."""
        bank = self.planned_bank(bank_text)
        if bank is not None and studied is not None:
            inputs = with_studied(inputs, bank, studied)
        if bank is None or bank.id in self._library.banks:
            request = request_for(PlanWorkload(self._library, inputs), inputs)
        else:
            tried = PlanWorkload(self._library, inputs, banks={bank.id: bank})
            request = tried.request(inputs=inputs)
        plan = make_study_plan(request)
        if (plan.needs_attendance or 100) <= USUAL_ATTENDANCE:
            return TriedPlan(plan, 0)
        usual = at_attendance(request, USUAL_ATTENDANCE / 100)
        return TriedPlan(plan, sum(left.questions for left in usual.beyond))

    def keep(
        self,
        inputs: PlanInputs,
        studied: StudiedAlready | None,
        exam: ExamBlueprint | None,
        bank_text: str = "",
    ) -> None:
        """Keep all of it: the bank, the exam, what is studied, the plan. Raises ResieveError."""
        self.try_out(inputs, studied, bank_text)
        library = self._library
        with library.one_act("setting up"):
            if bank_text.strip():
                self.keep_bank(bank_text)
            if exam != library.settings.exam:
                library.change_settings(exam=exam)
            bank = self.planned_bank()
            if bank is not None and studied is not None:
                say_subjects_studied(library, studied.subjects)
                inputs = with_studied(inputs, bank, studied)
            accept(library, inputs)

    def keep_bank(self, text: str) -> None:
        """Keep the bank alone."""
        if _is_practice(text):
            self._keep_practice()
        else:
            apply_import(self._library, [self._preview(text)])

    @cached_property
    def _practice_banks(self) -> tuple[Bank, Bank]:
        """The demo's bank with texts and its printed bank, of which the plan is made."""
        from banks.demo.making import full_bank, printed_bank

        return full_bank(), printed_bank(self._library.today())

    def _keep_practice(self) -> None:
        full, printed = self._practice_banks
        for bank in (full, printed):
            self._library.save_bank(bank, label="the practice banks")
        inputs = replace(self._library.settings.plan, banks=(printed.id,))
        self._library.change_settings(plan=inputs)


def _is_practice(text: str) -> bool:
    return text.strip().casefold() == PRACTICE


def _is_file(text: str) -> bool:
    """Whether a single line names a file that is there."""
    name = text.strip()
    if not name or "\n" in name or len(name) > 1000:
        return False
    try:
        return Path(name).expanduser().is_file()
    except (OSError, ValueError, RuntimeError):
        return False
