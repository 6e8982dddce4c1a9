"""Any course of answers, undos, edits, failures, merges and restarts, against a model."""

import shutil
import tempfile
from pathlib import Path

import hypothesis.strategies as st
from hypothesis import settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from msgspec.structs import replace

from banks.maintenance.merge import merge
from banks.store.folder import Store
from domain.errors import StoreError
from domain.questions import Bank
from domain.responses import AnyRecord, Withdrawal
from tests.faults.scenarios import BOOK, START, response, state_of
from tests.faults.systems import Failing, Unflushed

CODES = st.sampled_from([5, 28, 0])
NAMES = list(BOOK.questions)


class Histories(RuleBasedStateMachine):
    """The model: the records and the bank that were acknowledged, and what may be there besides."""

    def __init__(self) -> None:
        super().__init__()
        self._temporary = tempfile.TemporaryDirectory(prefix="resieve-test-")
        self.room = Path(self._temporary.name)
        self.folder = self.room / "store"
        self.system = Failing(0, 0)
        self.store = Store.open(self.folder, system=self.system)
        self.records: set[AnyRecord] = set()
        self.doubtful: set[AnyRecord] = set()
        self.bank, self.other_bank = BOOK, BOOK
        self.count = 0

    @initialize()
    def begin(self) -> None:
        self.store.save_bank(BOOK)

    def _next(self, question: int) -> AnyRecord:
        self.count += 1
        return response(self.count, question)

    @rule(question=st.integers(1, 4))
    def answer(self, question: int) -> None:
        record = self._next(question)
        self.store.append([record])
        self.records.add(record)

    @rule(data=st.data())
    def undo(self, data: st.DataObject) -> None:
        if not self.records:
            return
        gone = data.draw(st.sampled_from(sorted(self.records, key=lambda record: record.id)))
        self.count += 1
        record = Withdrawal(id=f"undo-{self.count}", at=START, targets=(gone.id,))
        self.store.append([record])
        self.records.add(record)

    @rule(name=st.sampled_from(NAMES), page=st.integers(1, 99))
    def edit_the_bank(self, name: str, page: int) -> None:
        self.bank = self._edited(self.bank, name, page)
        self.store.save_bank(self.bank)

    @rule(number=st.integers(1, 12), code=CODES, lasting=st.booleans())
    def answer_while_something_fails(self, number: int, code: int, lasting: bool) -> None:
        record = self._next(1)
        self.system.arm(number, code, lasting=lasting)
        try:
            self.store.append([record])
            self.records.add(record)
        except StoreError:
            self.doubtful.add(record)
        self.system.heal()

    @rule(number=st.integers(1, 16), code=CODES, name=st.sampled_from(NAMES))
    def edit_while_something_fails(self, number: int, code: int, name: str) -> None:
        bank = self._edited(self.bank, name, 100)
        self.system.arm(number, code, lasting=False)
        try:
            self.store.save_bank(bank)
            self.bank = bank
        except StoreError:
            self.system.heal()
            banks = self.store.load_banks()
            assert banks in ([self.bank], [bank])
            self.bank = banks[0]
        self.system.heal()

    @rule()
    def restart(self) -> None:
        self._restart()

    @rule(keep=st.integers(0, 80))
    def lose_power_in_a_write(self, keep: int) -> None:
        record = self._next(2)
        self.store.append([record])
        self.store.close()
        log = self.store.log.files()[-1]
        content = log.read_bytes()
        start = content[:-1].rfind(b"\n") + 1
        log.write_bytes(content[: start + keep] if start + keep < len(content) else content)
        (self.records if start + keep >= len(content) else self.doubtful).add(record)
        self._restart()

    @rule(question=st.integers(1, 4), name=st.sampled_from(NAMES))
    def merge_with_another(self, question: int, name: str) -> None:
        record = self._next(question)
        other = self.room / f"other-{self.count}"
        shutil.copytree(self.folder, other)
        theirs = Store.open(other, system=Unflushed())
        theirs.load_banks()
        theirs.save_bank(self._edited(self.bank, name, self.count))
        theirs.append([record])
        theirs.close()
        merge(self.store, other)
        self.records.add(record)
        self.bank = self.store.load_banks()[0]

    @invariant()
    def everything_acknowledged_is_there_once(self) -> None:
        records = self.store.records()
        assert len(records) == len(set(records))
        assert self.records <= set(records) <= self.records | self.doubtful
        assert self.store.load_banks() == [self.bank]

    def teardown(self) -> None:
        self.store.close()
        state = state_of(self.folder)
        assert self.records <= state.records <= self.records | self.doubtful
        self._temporary.cleanup()

    def _edited(self, bank: Bank, name: str, page: int) -> Bank:
        return bank.with_questions([replace(bank.questions[name], reference=f"page {page}")])

    def _restart(self) -> None:
        self.store.close()
        self.store = Store.open(self.folder, system=self.system)
        self.store.load_banks()


Histories.TestCase.settings = settings(max_examples=60, stateful_step_count=20, deadline=None)
TestHistories = Histories.TestCase
