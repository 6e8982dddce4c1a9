"""Whatever stands in a bank's file, nothing of it drives the terminal or is read as markup."""

import json
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from banks.intake.file_import import ImportOptions
from banks.library import Library, Location
from domain.questions import LETTERS, Figure, Option, Question
from domain.responses import Purpose
from domain.text import safe_line
from domain.tiers import Tier
from tests.builders import FakeClock, bank, library, respond
from tests.tui.stage import Stage, settled
from tui.app import ROOMS, Resieve
from tui.cli import main
from tui.screens.card import Card
from tui.screens.drill import Drill
from tui.screens.duplicates import Duplicates
from tui.screens.import_preview import ImportPreview, Source
from tui.screens.key_entry import KeyEntry
from tui.screens.paper import Paper
from tui.screens.question_form import QuestionForm

HOSTILE = (
    "[red]x[/red] [@click=app.exit]k[/] \x1b[31mE\x1b]0;t\x07 "
    "\u202eabc\u2066 漢字 עברית e\u0301 end"
)
HELD = "@@"
"""What stands for it in the bank until its file is edited."""
BIDI = (0x61C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))
DRIVING = {chr(code) for code in (*range(9), *range(11, 32), *range(127, 160), *BIDI)}
SIZES = [(80, 24), (140, 40)]


def hostile(number: int, stem: str = HELD) -> Question:
    return Question(
        id="", chapter="", number=number, stem=f"{number} {stem}", answer_key=("b",),
        options=tuple(Option(letter, f"{letter} {HELD}", explanation=HELD)
                      for letter in LETTERS[:4]),
        explanation=HELD, reference=HELD, tags=(HELD,), figures=(Figure("figure.png", HELD),),
    )  # fmt: skip


@pytest.fixture
def opened(tmp_path) -> Iterator[Library]:
    """A store whose bank was edited by other hands and holds the worst, remarks included."""
    questions = [hostile(1), hostile(2, HELD * 60), hostile(3, "漢字" * 2_000)]
    book = bank(f"B {HELD}", {f"S {HELD}": {f"C {HELD}": questions}})
    library(tmp_path, book).close()
    file = tmp_path / "banks" / "b.json"
    edited = file.read_text("utf-8").replace(HELD, json.dumps(HOSTILE)[1:-1])
    file.write_text(edited, encoding="utf-8")
    made = Library.open(tmp_path, FakeClock())
    for _, question in list(made.active_questions()):
        respond(made, question.id, "wrong")
        made.note(question.id, HOSTILE)
        made.dispute(question.id, ("c",), HOSTILE)
        made.set_tier(question.id, Tier.HARDER, HOSTILE)
    yield made
    made.close()


def drill(made: Library) -> Drill:
    asked = [question.id for _, question in made.active_questions()]
    return Drill(made.open_sitting(HOSTILE, Purpose.FREE, asked))


def first(made: Library) -> tuple[Location, Question]:
    return next(made.active_questions())


def hostile_file(made: Library, header: str = "stem") -> Source:
    """A table not yet cleaned, under a name that is not clean either."""
    rows = [f"{header},a,b,key", *(f'"{HOSTILE} {n}",x,{HOSTILE},zz' for n in range(3))]
    path = made.store.folder.with_name("a\x1b[31mfile\u202e.csv")
    path.write_text("\n".join(rows), encoding="utf-8")
    return Source.of(path)


SCREENS = {name: lambda made, name=name: Resieve.room(made, name) for name in ROOMS} | {
    "drill": drill,
    "paper": lambda made: Paper(first(made)[0], Purpose.REVISION),
    "form": lambda made: QuestionForm(first(made)[1].id),
    "key": lambda made: KeyEntry(first(made)[0]),
    "card": lambda made: Card(made, first(made)[1]),
    "duplicates": lambda made: Duplicates(next(iter(made.banks))),
    "preview": lambda made: ImportPreview(hostile_file(made), ImportOptions()),
    "mapping": lambda made: ImportPreview(hostile_file(made, "x"), ImportOptions()),
}
WITH_TEXT = {"drill", "form", "card", "triage", "bank"}


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "140x40"])
@pytest.mark.parametrize("name", SCREENS)
async def test_no_text_of_a_bank_or_file_drives_a_screen(opened, name, size):
    app = Stage(opened, SCREENS[name](opened))
    async with app.run_test(size=size) as pilot:
        await app.workers.wait_for_complete()
        before = await settled(pilot)
        await pilot.press("b")
        after = await settled(pilot)

    assert not DRIVING & set(before + after)
    assert all(cell_len(line) <= size[0] for line in (before + "\n" + after).splitlines())
    if name in WITH_TEXT:
        assert "[red]x[/red]" in before


def test_a_bank_of_any_text_drives_no_command(opened, tmp_path, capsys):
    opened.close()
    capsys.readouterr()

    assert main(["--store", str(tmp_path), "triage"]) == 0
    assert main(["--store", str(tmp_path), "sweep", "--minutes", "10"]) == 0
    assert main(["--store", str(tmp_path), "sweep", "--minutes", "10", "--subject", "?"]) == 1
    told = capsys.readouterr()

    assert "[red]x[/red]" in told.out
    assert "[red]x[/red]" in told.err
    assert not DRIVING & set(told.out + told.err)


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=40))
def test_what_is_taken_out_has_no_cell_and_all_else_is_kept(text):
    found = safe_line(text)

    assert not DRIVING & set(found)
    assert not any(cell_len(sign) for sign in set(text) - set(found))
    assert [sign for sign in text if sign.isprintable()] == [s for s in found if s.isprintable()]
