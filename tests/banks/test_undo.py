"""One undo for all that the candidate does, within a run and across restarts."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from banks.library import Given, Library
from domain.errors import InputError, StoreError
from domain.questions import Bank
from domain.responses import FirstStudyDone, Flag, Purpose, VisitEnd, VisitEnded
from domain.tiers import Tier
from tests.builders import FakeClock, bank, full, library

NAME = "observer/wind.force/{}"
QUESTIONS = [full(n, f"Which {n}?", ["x", "y"], "a") for n in (1, 2, 3)]
BOOK = bank("Observer", {"Wind": {"Force": QUESTIONS}})


@pytest.fixture
def opened(tmp_path: Path) -> Library:
    return library(tmp_path, BOOK)


def respond(library: Library, *numbers: int, chosen: str = "a", **more: object) -> list:
    responses = [Given(question=NAME.format(n), chosen=(chosen,)) for n in numbers]
    return [outcome.response for outcome in library.record(responses, Purpose.REVISION, **more)]


def restart(library: Library) -> Library:
    library.close()
    return Library.open(library.store.folder, FakeClock())


def stem(library: Library) -> str:
    return library.banks["observer"].questions[NAME.format(1)].stem


def edit(library: Library, text: str) -> None:
    held = library.banks["observer"]
    changed = replace(held.questions[NAME.format(1)], stem=text)
    library.save_bank(held.with_questions([changed]), [changed.id], label=f"edit {text}")


def flag(library: Library, name: str) -> None:
    is_flagged = library.history.is_flagged(name)
    library.put_on_record(Flag, label="the flag", question=name, on=not is_flagged)


def all_of(library: Library) -> object:
    """Everything that undo can change."""
    history = library.history
    return (
        [
            (response.chosen, response.purpose)
            for n in (1, 2, 3)
            for response in history.responses(NAME.format(n))
        ],
        [history.note(NAME.format(n)) for n in (1, 2, 3)],
        [history.is_flagged(NAME.format(n)) for n in (1, 2, 3)],
        [history.standing(NAME.format(n)).tier for n in (1, 2, 3)],
        library.banks,
        library.settings.plan.rounds,
    )


def test_what_was_done_before_a_restart_is_undone_newest_first(opened: Library) -> None:
    respond(opened, 1, 2)
    edit(opened, "edited")
    opened.note(NAME.format(3), "look at the gust")
    opened.accept_plan(replace(opened.settings.plan, rounds=5))
    again = restart(opened)

    assert again.undo().label == "the plan"
    assert again.settings.plan.rounds == 2
    assert again.undo().label == "the note"
    assert again.history.note(NAME.format(3)) == ""
    undone = again.undo()
    assert (undone.label, undone.questions) == ("edit edited", (NAME.format(1),))
    assert stem(again) == "Which 1?"
    assert again.undo().label == "2 responses"
    assert again.undo() is None
    assert restart(again).undo() is None


def test_a_correction_undone_after_a_restart_gives_what_it_replaced_back(opened: Library) -> None:
    first = respond(opened, 1)
    respond(opened, 1, chosen="b", replacing=first)
    again = restart(opened)

    assert again.undo().label == "1 response"
    assert [response.chosen for response in again.history.responses(NAME.format(1))] == [("a",)]
    last = restart(again)
    assert last.undo().label == "1 response"
    assert last.history.responses(NAME.format(1)) == []
    assert last.undo() is None


def test_a_bank_is_put_back_byte_for_byte_so_that_undo_goes_on(opened: Library) -> None:
    path = opened.store.folder / "banks" / "observer.json"
    before = path.read_bytes()
    edit(opened, "once")
    edit(opened, "twice")
    opened.undo()
    assert stem(opened) == "once"
    again = restart(opened)
    again.undo()
    assert path.read_bytes() == before


def test_several_changes_made_as_one_are_undone_as_one(opened: Library) -> None:
    with opened.one_act("the import of book.csv"):
        opened.save_bank(Bank(id="mine", title="Mine"), label="the import of book.csv")
        edit(opened, "imported")
        respond(opened, 1)
        respond(opened, 2)
    again = restart(opened)

    assert again.undo().label == "the import of book.csv"
    assert (list(again.banks), stem(again)) == (["observer"], "Which 1?")
    assert list(again.history.questions()) == []
    assert again.undo() is None


def test_several_changes_made_as_one_are_one_act_in_the_same_run_too(opened: Library) -> None:
    opened.set_tier(NAME.format(1), Tier.HARDER, "so")
    with opened.one_act("nothing at all"):
        pass
    with opened.one_act("two responses"):
        respond(opened, 1)
        respond(opened, 2)

    assert opened.undo().label == "two responses"
    assert restart(opened).undo().label == "the tier set to harder"


def test_sittings_and_visits_are_not_undone(opened: Library) -> None:
    opened.open_sitting("Force", Purpose.REVISION, [NAME.format(1)])
    opened.put_on_record(VisitEnded, visit="v", how=VisitEnd.DONE)
    assert opened.newest is None
    opened.put_on_record(
        FirstStudyDone, label="the first study", bank="observer", subject="wind", day=opened.today()
    )
    assert opened.undo().label == "the first study"
    assert opened.history.records_of(FirstStudyDone) == []
    assert len(opened.history.records_of(VisitEnded)) == 1


def test_a_bank_changed_by_other_hands_is_left_and_undo_goes_on_before_it(opened: Library) -> None:
    respond(opened, 1)
    edit(opened, "mine")
    path = opened.store.folder / "banks" / "observer.json"
    opened.close()
    path.write_text(path.read_text().replace("mine", "theirs"))
    again = Library.open(opened.store.folder, FakeClock())

    with pytest.raises(InputError, match="changed otherwise"):
        again.undo()
    assert stem(again) == "theirs"
    assert again.undo().label == "1 response"


def test_a_plan_changed_otherwise_since_is_left(opened: Library) -> None:
    opened.accept_plan(replace(opened.settings.plan, rounds=3))
    opened.save_settings(replace(opened.settings, plan=replace(opened.settings.plan, rounds=4)))
    with pytest.raises(InputError, match="changed otherwise"):
        opened.undo()
    assert opened.settings.plan.rounds == 4


def test_a_former_version_that_is_gone_cannot_be_undone(opened: Library) -> None:
    edit(opened, "new")
    for path in opened.store.folder.glob("former/*/*"):
        path.unlink()
    with pytest.raises(InputError, match="not kept any more"):
        opened.undo()
    assert stem(opened) == "new"


def test_only_the_newest_former_versions_are_kept(opened: Library) -> None:
    for number in range(30):
        edit(opened, f"text {number}")
    assert len(list(opened.store.folder.glob("former/*"))) == 20
    for _ in range(20):
        opened.undo()
    assert stem(opened) == "text 9"


def test_a_bank_that_cannot_be_put_on_record_is_not_changed(
    opened: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(records: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr(opened.store, "append", refuse)
    for change in (
        lambda: edit(opened, "lost"),
        lambda: opened.accept_plan(replace(opened.settings.plan, rounds=4)),
    ):
        with pytest.raises(StoreError):
            change()
    monkeypatch.undo()
    assert (stem(opened), opened.settings.plan.rounds) == ("Which 1?", 2)
    assert stem(restart(opened)) == "Which 1?"


def test_what_was_withdrawn_is_not_undone_again(opened: Library) -> None:
    first = respond(opened, 1)
    opened.withdraw(respond(opened, 1, chosen="b", replacing=first))
    assert opened.newest is None
    assert restart(opened).newest is None


STEPS: list[Callable[[Library], object]] = [
    lambda library: respond(library, 1),
    lambda library: respond(library, 1, 2, chosen="b"),
    lambda library: respond(
        library, 1, chosen="b", replacing=library.history.responses(NAME.format(1))[-1:]
    ),
    lambda library: library.note(NAME.format(2), f"note {len(library.store.own_records())}"),
    lambda library: library.set_tier(NAME.format(3), Tier.HARDEST, "always wrong"),
    lambda library: flag(library, NAME.format(3)),
    lambda library: edit(library, f"text {len(library.store.own_records())}"),
    lambda library: library.accept_plan(
        replace(library.settings.plan, rounds=library.settings.plan.rounds + 1)
    ),
]


@settings(max_examples=25, deadline=None)
@given(steps=st.lists(st.sampled_from(range(len(STEPS) + 2)), max_size=10))
def test_undo_is_the_way_back_step_by_step(
    tmp_path_factory: pytest.TempPathFactory, steps: list[int]
) -> None:
    opened = library(tmp_path_factory.mktemp("undo"), BOOK)
    states = [all_of(opened)]
    for step in steps:
        if step < len(STEPS):
            STEPS[step](opened)
            states.append(all_of(opened))
        elif step == len(STEPS):
            opened = restart(opened)
        elif len(states) > 1:
            opened.undo()
            states.pop()
        assert all_of(opened) == states[-1]
    while len(states) > 1:
        assert opened.undo() is not None
        states.pop()
        assert all_of(opened) == states[-1]
    assert opened.undo() is None
    opened.close()


def test_memory_is_not_ahead_of_the_drive(opened: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    first = respond(opened, 1)
    before = all_of(opened)

    def refuse(records: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr(opened.store, "append", refuse)
    for change in (
        lambda: respond(opened, 2),
        lambda: respond(opened, 1, chosen="b", replacing=first),
        opened.undo,
    ):
        with pytest.raises(StoreError):
            change()
        assert all_of(opened) == before
    monkeypatch.undo()
    assert opened.undo() is not None


def test_the_correction_is_written_before_the_withdrawal(opened: Library) -> None:
    first = respond(opened, 1)
    second = respond(opened, 1, chosen="b", replacing=first)
    written = [type(record).__name__ for record in opened.store.own_records()]
    assert written == ["Response", "Response", "Withdrawal"]
    assert opened.store.own_records()[1].id == second[0].id


def test_recording_nothing_is_no_act(opened: Library) -> None:
    first = respond(opened, 1)
    assert respond(opened) == []
    assert opened.newest.records == (first[0],)
    assert respond(opened, replacing=first) == []
    assert opened.newest is None
