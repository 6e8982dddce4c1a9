"""Whatever stands in a bank's file, nothing of it drives the terminal or is read as markup."""

import json
import zipfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from rich.cells import cell_len

from banks.contents import Location
from banks.intake.file_import import ImportOptions
from banks.library import Library
from banks.planning.intents import accept
from banks.store.checked_json import sealed
from domain.plan.inputs import PlanInputs
from domain.questions import LETTERS, Figure, Option, Question
from domain.responses import Purpose
from domain.text import safe_line
from domain.tiers import Tier
from tests.builders import FakeClock, bank, chapter_sitting, library, respond
from tests.tui.stage import Stage, settled
from tui.app import Resieve
from tui.base_app import SCREENS
from tui.cli import main
from tui.screens.drill import DrillScreen
from tui.screens.duplicates import DuplicatesScreen
from tui.screens.import_preview import ImportPreview, Source
from tui.screens.key_entry import KeyEntryScreen
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.screens.question_details import QuestionDetails
from tui.screens.question_form import QuestionForm

HOSTILE = (
    "[red]x[/red] [@click=app.exit]k[/] \x1b[31mE\x1b]0;t\x07 "
    "\x1b]52;c;aGFoYQ==\x07\x1b]8;;http://x.example\x1b\\\x1bP1$r\x1b\\\x9b31m\x9d0;t\x9c "
    "\u202eabc\u2066\u200f\u2028 漢字 עברית e\u0301 end"
)
HELD = "@@"
"""What stands for it in the bank until its file is edited."""
BIDI = (0x61C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))
DRIVING = {chr(code) for code in (*range(9), *range(11, 32), *range(127, 160), *BIDI)}
SIZES = [("sealed", (80, 24)), ("sealed", (140, 40)), ("sealed", (2, 1)), ("edited", (80, 24))]
"""Whether the file's check sum matches, which the width has no part in, and the terminal."""


def hostile(number: int, stem: str = HELD) -> Question:
    return Question(
        id="", chapter="", number=number, stem=f"{number} {stem}", answer_key=("b",),
        options=tuple(Option(letter, f"{letter} {HELD}", explanation=HELD)
                      for letter in LETTERS[:4]),
        explanation=HELD, reference=HELD, tags=(HELD,), figures=(Figure("figure.png", HELD),),
    )  # fmt: skip


@pytest.fixture(params=["sealed", "edited"])
def opened(tmp_path, request, monkeypatch) -> Iterator[Library]:
    """A store that others made and that holds the worst in every text, the log's included.

    Its bank's check sum does or does not match: anyone can make one that does.
    """
    monkeypatch.setattr("banks.library.tidy", lambda text: text)
    questions = [hostile(1), hostile(2, HELD * 60), hostile(3, "漢字" * 2_000)]
    book = bank(f"B {HELD}", {f"S {HELD}": {f"C {HELD}": questions}})
    library(tmp_path, book).close()
    file = tmp_path / "banks" / "b.json"
    edited = file.read_text("utf-8").replace(HELD, json.dumps(HOSTILE)[1:-1])
    file.write_text(edited, encoding="utf-8")
    if request.param == "sealed":
        tables = json.loads(edited)
        del tables["seal"]
        file.write_bytes(sealed(tables))
    made = Library.open(tmp_path, FakeClock())
    for _, question in list(made.active_questions()):
        respond(made, question.id, "wrong")
        made.note(question.id, HOSTILE)
        made.dispute(question.id, ("c",), HOSTILE)
        made.set_tier(question.id, Tier.HARDER, HOSTILE)
    assert bool(made.store.notices) is (request.param == "edited")
    yield made
    made.close()


def drill(made: Library) -> DrillScreen:
    asked = [question.id for _, question in made.active_questions()]
    return DrillScreen(made.open_sitting(HOSTILE, Purpose.FREE, asked))


def first(made: Library) -> tuple[Location, Question]:
    return next(made.active_questions())


def hostile_file(made: Library, header: str = "stem") -> Source:
    """A table not yet cleaned, under a name that is not clean either."""
    rows = [f"{header},a,b,key", *(f'"{HOSTILE} {n}",x,{HOSTILE},zz' for n in range(3))]
    path = made.store.folder.with_name("a\x1b[31mfile\u202e.csv")
    path.write_text("\n".join(rows), encoding="utf-8")
    return Source.of(path)


SCREENS = {name: lambda made, name=name: Resieve.new_screen(made, name) for name in SCREENS} | {
    "drill": drill,
    "paper": lambda made: PrintedMarkingScreen(*chapter_sitting(first(made)[0], Purpose.REVISION)),
    "form": lambda made: QuestionForm(first(made)[1].id),
    "key": lambda made: KeyEntryScreen(first(made)[0]),
    "card": lambda made: QuestionDetails(made, first(made)[1]),
    "duplicates": lambda made: DuplicatesScreen(next(iter(made.banks))),
    "preview": lambda made: ImportPreview(hostile_file(made), ImportOptions()),
    "mapping": lambda made: ImportPreview(hostile_file(made, "x"), ImportOptions()),
}
WITH_TEXT = {"drill", "form", "card", "triage", "bank"}


@pytest.mark.parametrize(("opened", "size"), SIZES, indirect=["opened"], ids=str)
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
    if name in WITH_TEXT and size[0] >= 80:
        assert "[red]x[/red]" in before


def test_a_bank_of_any_text_drives_no_command(opened, tmp_path, capsys):
    opened.close()
    capsys.readouterr()

    assert main(["--store", str(tmp_path), "triage"]) == 0
    assert main(["--store", str(tmp_path), "sweep", "--minutes", "10"]) == 0
    assert main(["--store", str(tmp_path), "sweep", "--minutes", "10", "--subject", "?"]) == 1
    printed = capsys.readouterr()

    assert "[red]x[/red]" in printed.out
    assert "[red]x[/red]" in printed.err
    assert not DRIVING & set(printed.out + printed.err)


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=40))
def test_what_is_taken_out_has_no_cell_and_all_else_is_kept(text):
    cleaned = safe_line(text)

    assert not DRIVING & set(cleaned)
    assert not any(cell_len(sign) for sign in set(text) - set(cleaned))
    assert [sign for sign in text if sign.isprintable()] == [s for s in cleaned if s.isprintable()]


def texts_in(file: Path) -> Iterator[str]:
    """Every text that a reader of the file would find in it."""
    if zipfile.is_zipfile(file):
        with zipfile.ZipFile(file) as archive:
            for name in archive.namelist():
                yield name
                yield archive.read(name).decode("utf-8", "surrogateescape")
    elif file.suffix == ".pdf":
        with file.open("rb") as stream:
            yield "".join(page.extract_text() for page in PdfReader(stream).pages)
    elif file.suffix in (".json", ".jsonl"):
        for line in [file.read_text("utf-8")] if file.suffix == ".json" else file.open():
            yield from _strings(json.loads(line))
    else:
        yield file.read_text("utf-8").replace("\r\n", "\n").removeprefix("\ufeff")


def _strings(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, held in value.items():
            yield name
            yield from _strings(held)
    elif isinstance(value, list):
        for held in value:
            yield from _strings(held)


EXPORTS = [
    *(["export", f"out{ending}", "--history"] for ending in (".csv", ".json", ".jsonl", ".xlsx")),
    ["export", "out.md", "--history"], ["export", "out.zip"],
    ["export", "out.zip", "--format", "qti-3.0"],
    ["export", "out.csv", "--marks"], ["export", "out.csv", "--disputes"],
    ["export", "out.md", "--disputes"], ["report", "--html", "out.html"],
    *(
        ["sweep", "--minutes", "9", "--tier", "hard,harder,hardest", "--sheet", f"out.{end}"]
        for end in ("txt", "md", "html", "pdf")
    ),
    ["plan", "--calendar", "out.ics"],
]  # fmt: skip


@pytest.mark.parametrize("words", EXPORTS, ids=" ".join)
def test_no_text_goes_out_raw_in_a_file(opened, tmp_path, monkeypatch, words):
    accept(opened, PlanInputs(exam=date(2026, 4, 30)))
    opened.close()
    monkeypatch.chdir(tmp_path)

    assert main(["--store", str(tmp_path), "--today", "2026-03-02", *words]) == 0

    (file,) = tmp_path.glob("out.*")
    texts = list(texts_in(file))
    assert texts
    assert not DRIVING & set("".join(texts))


@pytest.mark.parametrize("words", [
    ["triage"], ["today"], ["plan"], ["report"], ["sweep", "--minutes", "10"],
], ids=" ".join)  # fmt: skip
def test_no_text_goes_out_raw_as_json(opened, tmp_path, capsysbinary, words):
    accept(opened, PlanInputs(exam=date(2026, 4, 30)))
    opened.close()
    capsysbinary.readouterr()

    assert main(["--store", str(tmp_path), "--today", "2026-03-02", *words, "--json"]) == 0

    document = json.loads(capsysbinary.readouterr().out)
    assert not DRIVING & set("".join(_strings(document)))
