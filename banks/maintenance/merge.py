"""Two machines' stores as one: the union of their records and of their questions.

Nothing is taken away, on either side. Every step may be repeated: a merge that was interrupted
is finished by merging again. Of two states of one bank order does not matter: every question that
is in either is in the union; where they differ on one, the version that ranks higher is in force
and the other is kept beside the bank.
"""

import zlib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TypeVar

import msgspec
from msgspec.structs import replace

from banks.store.checked_json import SealedStorage
from banks.store.files import list_files, replace_file, why
from banks.store.folder import Store
from banks.store.log import checked_lines
from domain.errors import InputError, StoreDamaged
from domain.questions import Bank, Chapter, Question, Subject


class Merged(msgspec.Struct):
    """What a merge brought in. `conflicts` tells in words of questions that the stores disagree on.

    The version of a conflict that is not in force is kept in the store's `conflicts/`.
    """

    records: int = 0
    banks: list[str] = []
    questions: int = 0
    conflicts: list[str] = []
    notices: list[str] = []


class _Versions(msgspec.Struct):
    questions: dict[str, Question]


def merge(store: Store, folder: Path) -> Merged:
    """Bring what the store in `folder` has and this one has not into this one.

    Raises InputError when there is no store, StoreError when something could not be saved.
    """
    if not (folder / "store.json").exists():
        raise InputError(f"{folder}: holds no store; nothing was changed")
    if folder.resolve() == store.folder.resolve():
        raise InputError(f"{folder}: is this store itself; nothing was changed")
    other = Store.open(folder, read_only=True, system=store.system)
    merged = Merged()
    merged.records = _merge_logs(store, other, merged)
    _merge_banks(store, other, merged)
    _merge_conflicts(store, other, merged)
    if other.settings() != store.settings():
        merged.notices.append("the settings differ; this store's stay in force")
    merged.notices += other.notices
    other.close()
    return merged


def _merge_banks(store: Store, other: Store, merged: Merged) -> None:
    own = {bank.id: bank for bank in store.load_banks()}
    for bank in other.load_banks(whole=True):
        if bank.id in own:
            _merge_bank(store, own[bank.id], bank, merged)
        else:
            store.save_bank(bank)
            merged.banks.append(bank.title)
            merged.questions += len(bank.questions)
        _copy_figures(store, other, bank.id, merged)


def _merge_bank(store: Store, own: Bank, theirs: Bank, merged: Merged) -> None:
    united, beaten = unite(own, theirs)
    kept = _keep(store, own.id, beaten)
    if united != own:
        store.save_bank(united)
        merged.questions += len(united.questions) - len(own.questions)
    for question in kept:
        chapter = united.chapter(question.chapter).title
        subject = united.subject_of(question.chapter).title
        ours = united.questions[question.id] == own.questions[question.id]
        merged.conflicts.append(
            f"{own.title}, {subject}, {chapter}, question {question.number}: the stores differ; "
            f"{'this' if ours else 'the other'} store's version is in force, the other is kept"
        )


def _merge_conflicts(store: Store, other: Store, merged: Merged) -> None:
    for path in list_files(store.system, other.folder / "conflicts", ".json"):
        try:
            versions = SealedStorage(path, store.system).read_as(_Versions)
        except StoreDamaged as failure:
            merged.notices.append(f"{failure}; it was left out")
            continue
        _keep(store, path.stem, versions.questions.values() if versions else ())


def _keep(store: Store, bank_id: str, beaten: Iterable[Question]) -> list[Question]:
    """Keep the versions that are not in force; those that had not been kept before."""
    storage = SealedStorage(store.folder / "conflicts" / f"{bank_id}.json", store.system)
    versions = storage.read_as(_Versions)
    kept = versions.questions if versions else {}
    new = {
        f"{question.id}#{zlib.crc32(msgspec.json.encode(question)):08x}": question
        for question in beaten
    }
    added = [question for name, question in new.items() if name not in kept]
    if added:
        storage.write({"questions": dict(sorted((kept | new).items()))})
    return added


def _copy_figures(store: Store, other: Store, bank_id: str, merged: Merged) -> None:
    for path in sorted((other.folder / "banks" / f"{bank_id}.files").glob("*")):
        target = store.figure_path(bank_id, path.name)
        content = _read(store, path)
        if not target.exists():
            replace_file(store.system, target, content, keep_previous=False)
        elif _read(store, target) != content:
            merged.notices.append(f"{path}: differs from this store's picture, which stays")


def _merge_logs(store: Store, other: Store, merged: Merged) -> int:
    """Copy the lines whose records are missing here, into the files of the same names.

    Every line is decoded and judged first; what is no record stays where it is and is named.
    """
    known = {line.id for path in store.log.files() for line in checked_lines(_read(store, path))}
    count = 0
    for path in other.log.files():
        try:
            content = _read(store, path)
        except StoreDamaged as failure:
            merged.notices.append(str(failure))
            continue
        missing: dict[str, bytes] = {}
        for line in checked_lines(content):
            if line.problem:
                merged.notices.append(f"{path}: line {line.number} was left there: {line.problem}")
            elif line.id not in known:
                missing[line.id] = line.line
        if missing:
            store.append_lines(path.name, b"".join(line + b"\n" for line in missing.values()))
        known |= missing.keys()
        count += len(missing)
    return count


def _read(store: Store, path: Path) -> bytes:
    try:
        return store.system.read(path)
    except OSError as failure:
        raise StoreDamaged(f"{path}: could not be read ({why(failure)})") from failure


T = TypeVar("T", Subject, Chapter)


def unite(bank: Bank, other: Bank) -> tuple[Bank, list[Question]]:
    """The union, and the questions' versions that are not in force in it."""
    questions, beaten = dict(bank.questions), []
    for name, question in other.questions.items():
        present = questions.setdefault(name, question)
        if present != question:
            lower, questions[name] = sorted((present, question), key=rank)
            if replace(lower, retired=True) != replace(questions[name], retired=True):
                beaten.append(lower)
    leading = max(bank, other, key=_heading)
    united = Bank(
        id=bank.id,
        title=leading.title,
        edition=leading.edition,
        option_count=leading.option_count,
        subjects=_subjects(bank.subjects, other.subjects),
        questions=questions,
    )
    return united, beaten


def rank(question: Question) -> tuple[bool, bool, bool, int, int, bytes]:
    """What decides between two versions: a retirement counts, then the fuller text; no ties."""
    return (
        question.retired,
        bool(question.stem),
        bool(question.answer_key),
        len(question.options),
        len(question.explanation),
        msgspec.json.encode(question),
    )


def _heading(bank: Bank) -> tuple[str, str, int]:
    return bank.edition, bank.title, bank.option_count


def _subjects(subjects: Sequence[Subject], other: Sequence[Subject]) -> tuple[Subject, ...]:
    both = {subject.id: subject for subject in subjects}
    theirs = {subject.id: subject for subject in other}
    return tuple(
        _subject(both.get(each.id, each), theirs.get(each.id, each))
        for each in _join(subjects, other)
    )


def _subject(first: Subject, other: Subject) -> Subject:
    leading = max(
        first, other, key=lambda subject: msgspec.json.encode(replace(subject, chapters=()))
    )
    return replace(leading, chapters=_join(first.chapters, other.chapters))


def _join(first: Sequence[T], other: Sequence[T]) -> tuple[T, ...]:
    """The members of both by id: the fuller sequence first, then what only the other has."""
    is_led = _fullness(other) > _fullness(first)
    leading, following = (other, first) if is_led else (first, other)
    present = {member.id for member in leading}
    return tuple(leading) + tuple(member for member in following if member.id not in present)


def _fullness(members: Sequence[Subject | Chapter]) -> tuple[int, bytes]:
    return len(members), msgspec.json.encode(members)
