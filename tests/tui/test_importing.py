"""The import screens: choose, read with progress, map columns, look, import, stop half-way."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from threading import Event

import openpyxl
import pytest
from textual.pilot import Pilot
from textual.widgets import Input, TextArea

from banks.clock import pretend_clock
from banks.intake.file_import import ImportOptions, apply_import, preview_import
from banks.library import Library
from tests.banks.planned import Clock, planned_library
from tests.tui.stage import Stage, text_of, type_text
from tui.screens import import_preview
from tui.screens.import_file import ImportScreen
from tui.screens.import_preview import ImportPreview, Source
from tui.screens.mapping import ColumnMapping

KEYED = "number,stem,a,b,c,d,key\n" + "".join(
    f"{n},What is {n}?,one,two,three,four,{'abcd'[n % 4]}\n" for n in range(1, 41)
)
ODD = "Nr;Frage;Erste;Zweite;Dritte;Loesung\n" + "".join(
    f"x{n};Was ist {n} hier?;eins;zwei;drei;{1 + n % 3}\n" for n in range(1, 31)
)


@pytest.fixture
def library(tmp_path: Path) -> Library:
    return Library.open(tmp_path / "store", pretend_clock(date(2027, 2, 1)))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "papers"
    made.mkdir()
    (made / "keyed.csv").write_text(KEYED, encoding="utf-8")
    (made / "odd.csv").write_text(ODD, encoding="utf-8")
    return made


async def until(pilot: Pilot, words: str) -> None:
    """Wait for words on the screen: a thread is at work."""
    for _ in range(3000):
        await pilot.pause(0.01)
        if words in text_of(pilot.app):
            return
    raise AssertionError(f"{words!r} is not on the screen:\n{text_of(pilot.app)}")


async def test_a_file_chosen_by_its_path_is_looked_at_before_anything_is_written(
    library: Library, folder: Path
) -> None:
    app = Stage(library, ImportScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.screen.query_one("#path", Input).value = str(folder / "keyed.csv")
        await pilot.press("enter")
        await until(pilot, "40 added")
        assert library.banks == {}
        assert "[new 40]" in text_of(app)
        await pilot.press("i")
        await until(pilot, "Saved in keyed")
        assert len(library.banks["keyed"].questions) == 40


async def test_the_screen_says_how_an_import_changed_the_plan(tmp_path: Path) -> None:
    planned = planned_library(tmp_path / "planned", Clock())
    path = tmp_path / "more.csv"
    path.write_text("subject,chapter,questions\nMaps,All,300\n", encoding="utf-8")
    screen = ImportPreview(Source.of(path), ImportOptions(bank="Book"))
    async with Stage(planned, screen).run_test(size=(80, 24)) as pilot:
        await until(pilot, "300 added")
        await pilot.press("i")
        await until(pilot, "Saved in Book")
        await until(pilot, "The plan changed: spare ")
    planned.close()


async def test_a_path_is_typed_until_one_file_is_left(library: Library, folder: Path) -> None:
    app = Stage(library, ImportScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await type_text(pilot, f"{folder}/od")
        assert "odd.csv" in text_of(app)
        assert "keyed.csv" not in text_of(app)
        await pilot.press("enter")
        await until(pilot, "Frage")


async def test_a_file_is_chosen_from_its_folder_by_the_arrows(
    library: Library, folder: Path
) -> None:
    app = Stage(library, ImportScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.screen.query_one("#path", Input).value = str(folder)
        await pilot.press("down", "down", "enter")
        await until(pilot, "40 added")
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen.query_one("#path", Input).value == str(folder / "keyed.csv")


async def test_whether_there_is_a_header_and_where_keys_count_from_are_one_key_each(
    library: Library, folder: Path
) -> None:
    app = Stage(library, ImportPreview(Source.of(folder / "odd.csv"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "Frage")
        await pilot.press("minus", "s", "a", "b", "c", "k", "1", "0", "0")
        await until(pilot, "no header row · numeric keys from 0")
        await pilot.press("enter")
        await until(pilot, "11 of 31 rows")  # the header, and the keys that say 3


async def test_columns_that_are_not_obvious_are_asked_for(library: Library, folder: Path) -> None:
    app = Stage(library, ImportPreview(Source.of(folder / "odd.csv"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "Frage")
        assert isinstance(app.screen, ColumnMapping)
        await pilot.press("minus", "s", "a", "b", "c", "k", "enter")
        await until(pilot, "30 added")
        await pilot.press("i")
        await until(pilot, "Saved in odd")
    questions = list(library.banks["odd"].questions.values())
    assert questions[0].stem == "Was ist 1 hier?"
    assert [option.text for option in questions[0].options] == ["eins", "zwei", "drei"]
    assert [question.answer_key for question in questions[:3]] == [("b",), ("c",), ("a",)]


async def test_a_mapping_without_a_stem_or_a_number_is_not_taken(
    library: Library, folder: Path
) -> None:
    app = Stage(library, ImportPreview(Source.of(folder / "odd.csv"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "Frage")
        for _ in range(6):
            await pilot.press("minus")
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, ColumnMapping)
        await pilot.press("escape")
        await until(pilot, "e sets them")
    assert library.banks == {}


async def test_what_is_wrong_is_listed_first_with_its_line(library: Library, folder: Path) -> None:
    (folder / "bad.csv").write_text(KEYED + "41,What?,one,two,three,four,z\n", encoding="utf-8")
    app = Stage(library, ImportPreview(Source.of(folder / "bad.csv"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "Read last before it:")
        shown = text_of(app)
        assert "40 added" in shown
        assert "[not imported 1]" in shown
        assert "line     42" in shown
        await pilot.press("right")
        assert "[new 40]" in text_of(app)


async def test_a_file_without_questions_says_what_was_expected(
    library: Library, folder: Path
) -> None:
    (folder / "letter.txt").write_text("Dear all,\nsee you soon.\n", encoding="utf-8")
    app = Stage(library, ImportPreview(Source.of(folder / "letter.txt"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "no usable question")
        assert "number,stem,a,b,c,d,key" in text_of(app)


async def test_reading_stopped_half_way_leaves_nothing_and_can_be_taken_up_again(
    library: Library, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    half_way, go_on = Event(), Event()

    def slow(*args: object, progress: Callable[[float], None] | None = None) -> object:
        read = preview_import(*args[:5])
        half_way.set()
        go_on.wait(5)
        (progress or args[5])(0.5)
        return read

    monkeypatch.setattr(import_preview, "preview_import", slow)
    app = Stage(library, ImportPreview(Source.of(folder / "keyed.csv"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        while not half_way.is_set():
            await pilot.pause(0.01)
        await pilot.press("escape")
        go_on.set()
        await until(pilot, "Stopped. Nothing was written")
        await pilot.pause(0.05)
        assert "40 added" not in text_of(app)
        assert library.banks == {}
        monkeypatch.setattr(import_preview, "preview_import", preview_import)
        await pilot.press("ctrl+r")
        await until(pilot, "40 added")
        await pilot.press("i")
        await until(pilot, "Saved in keyed")
    assert len(library.banks["keyed"].questions) == 40


async def test_the_same_file_again_changes_nothing(library: Library, folder: Path) -> None:
    data = KEYED.encode()
    apply_import(
        library, [preview_import(library, library.banks, data, "keyed.csv", ImportOptions())]
    )
    app = Stage(
        library, ImportPreview(Source.of(folder / "keyed.csv"), ImportOptions(bank="keyed"))
    )
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "40 unchanged")


async def test_a_changed_key_is_said_to_grade_the_history_anew(
    library: Library, folder: Path
) -> None:
    apply_import(
        library, [preview_import(library, {}, KEYED.encode(), "keyed.csv", ImportOptions())]
    )
    changed = KEYED.replace(
        "1,What is 1?,one,two,three,four,b", "1,What is 1?,one,two,three,four,c"
    )
    (folder / "keyed.csv").write_text(changed, encoding="utf-8")
    app = Stage(
        library, ImportPreview(Source.of(folder / "keyed.csv"), ImportOptions(bank="keyed"))
    )
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "re-graded")
        await until(pilot, "key b) two → c) three")


async def test_another_encoding_that_fits_is_one_key_away(library: Library, folder: Path) -> None:
    rows = "number,stem,a,b,key\n1,Où est-il ?,là,ici,a\n2,Où est-elle ?,là,ici,b\n"
    (folder / "rows.csv").write_bytes(rows.encode("cp1252"))
    app = Stage(library, ImportPreview(Source.of(folder / "rows.csv"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "Où est-il")
        await pilot.press("o")
        await until(pilot, "Oů est-il")
        await pilot.press("o")
        await until(pilot, "Où est-il")


def describe_the_book(library: Library) -> None:
    """A bank of which only the shape is known."""
    shape = b"subject,chapter,questions\nWind,Only,9\n"
    apply_import(
        library, [preview_import(library, {}, shape, "book.csv", ImportOptions(bank="Book"))]
    )


async def test_words_of_ones_own_are_asked_for_and_another_kind_is_one_key_away(
    library: Library, folder: Path
) -> None:
    describe_the_book(library)
    rows = "subject,chapter,number,date,verdict\nWind,1,3,03/04/2026,?\nWind,1,4,03/04/2026,right\n"
    (folder / "marks.csv").write_text(rows, encoding="utf-8")
    app = Stage(library, ImportPreview(Source.of(folder / "marks.csv"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "03/04/2026")
        await pilot.press("l", "enter")  # right, but unsure
        await until(pilot, "0 would be added")
        await pilot.press("E", "d", "enter")  # the day comes first
        await until(pilot, "2 would be added")
        await pilot.press("e")
        await until(pilot, "marks · first row: column names")
        await pilot.press("2", "2", "2")
        await until(pilot, "marks ·")
    assert library.history.standing("book/wind.only/3").tier.name == "UNTRIED"


async def test_rows_with_a_word_that_means_nothing_are_left_out_once_that_is_said(
    library: Library, folder: Path
) -> None:
    describe_the_book(library)
    rows = (
        "subject,chapter,number,date,verdict\nWind,1,3,2026-04-03,hm\nWind,1,4,2026-04-03,right\n"
    )
    (folder / "marks.csv").write_text(rows, encoding="utf-8")
    app = Stage(library, ImportPreview(Source.of(folder / "marks.csv"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "What do they mean?")
        await pilot.press("escape")
        await until(pilot, "1 would be added")
        assert "as you said" not in text_of(app)
        await pilot.press("E", "minus", "enter")
        await until(pilot, "'hm' is left out, as you said")
        assert "1 would be added" in text_of(app)


async def test_keys_typed_while_the_columns_are_read_as_another_kind_are_for_those_columns(
    library: Library, folder: Path
) -> None:
    may_read = Event()

    def read() -> bytes:
        may_read.wait(10)
        return ODD.encode()

    app = Stage(library, ImportPreview(Source("odd.csv", read), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        may_read.set()
        await until(pilot, "questions ·")
        may_read.clear()
        await pilot.press("2", "2", "v")  # marks, an outline; then nothing of an outline's
        await pilot.pause(0.1)
        may_read.set()
        await until(pilot, "outline ·")
        await pilot.press("2", "2", "v")  # questions, marks; then the verdict
        await until(pilot, f"{'Nr':18} verdict")


def sheet_of(rows: int, path: Path) -> None:
    """A spreadsheet whose headers say nothing that is known."""
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Wolken")
    sheet.append(["Nr", "Frage", "Erste", "Zweite", "Dritte", "Loesung"])
    for number in range(rows):
        sheet.append(
            [f"x{number}", f"Was ist {number} hier?", "eins", "zwei", "drei", 1 + number % 3]
        )
    book.save(path)


@pytest.mark.slow
async def test_thousands_of_rows_of_a_spreadsheet_mapped_stopped_half_way_and_taken_up_again(
    library: Library, folder: Path
) -> None:
    sheet_of(3_000, folder / "large.xlsx")
    app = Stage(library, ImportPreview(Source.of(folder / "large.xlsx"), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "Frage")
        assert isinstance(app.screen, ColumnMapping)
        await pilot.press("minus", "s", "a", "b", "c", "k", "enter")
        await until(pilot, "%")
        await pilot.press("escape")
        await until(pilot, "Stopped. Nothing was written")
        assert library.banks == {}
        assert list(library.store.bank_files()) == []
        await pilot.press("ctrl+r")
        await until(pilot, "3,000 added")
        assert "[warnings 1]  new 3,000" in text_of(app)
        await pilot.press("i")
        await until(pilot, "Saved in large")
    bank = library.banks["large"]
    assert len(bank.questions) == 3_000
    assert [question.answer_key for question in list(bank.questions.values())[:3]] == [
        ("a",),
        ("b",),
        ("c",),
    ]


async def test_pasted_text_is_looked_at_like_a_file(library: Library) -> None:
    app = Stage(library, ImportScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        app.screen.query_one("#bank", Input).value = "Mine"
        await pilot.press("ctrl+y")
        await pilot.pause()
        app.screen.query_one(TextArea).text = "1. Which?\nA) one\nB) two\nAns: b\n"
        await pilot.press("ctrl+r")
        await until(pilot, "1 added")
        await pilot.press("i")
        await until(pilot, "Saved in Mine")
    (question,) = library.banks["mine"].questions.values()
    assert (question.stem, question.answer_key) == ("Which?", ("b",))


async def test_another_set_pasted_into_a_chapter_is_asked_about_and_the_text_is_kept(
    library: Library,
) -> None:
    def printed(word: str) -> str:
        return "".join(f"{n}. Which {word} {n}?\nA) one\nB) two\nAns: b\n" for n in range(1, 5))

    data = printed("cloud").encode()
    apply_import(library, [preview_import(library, {}, data, "a.txt", ImportOptions(bank="Mine"))])
    app = Stage(library, ImportScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("ctrl+y")
        await until(pilot, "into Mine")
        app.screen.query_one(TextArea).text = printed("wind")
        await pilot.press("escape", "ctrl+y", "ctrl+r")
        await until(pilot, "4 added, 4 retired")
        await pilot.press("i")
        await until(pilot, "4 numbers of")
        assert "Other questions" in text_of(app)
        await pilot.press("o")
        await until(pilot, "4 added.")
        await pilot.press("i")
        await until(pilot, "Saved in Mine")
        await pilot.press("escape", "ctrl+y")
        await until(pilot, "into Mine")
        assert app.screen.query_one(TextArea).text == ""

    assert [question.number for question in library.banks["mine"].questions.values()] == list(
        range(1, 9)
    )
    assert not any(question.retired for question in library.banks["mine"].questions.values())
    library.undo()
    assert len(library.banks["mine"].questions) == 4


async def test_a_page_left_empty_or_without_reading_brings_nothing(library: Library) -> None:
    app = Stage(library, ImportScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for leave in ("ctrl+r", "escape"):
            await pilot.press("ctrl+y")
            await pilot.pause()
            await pilot.press(leave)
            await pilot.pause()
            assert isinstance(app.screen, ImportScreen)


async def test_a_banks_shape_and_marks_come_in_by_the_same_screen(
    library: Library, folder: Path
) -> None:
    (folder / "shape.csv").write_text("subject,chapter,questions\nClouds,One,12\n")
    (folder / "marks.csv").write_text(
        "subject,chapter,number,date,verdict\nClouds,One,3,2027-01-05,wrong\n"
        "Clouds,One,13,2027-01-05,wrong\n"
    )
    app = Stage(library, ImportPreview(Source.of(folder / "shape.csv"), ImportOptions(bank="Book")))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "12 added")
        await pilot.press("i")
        await until(pilot, "Saved in Book")
        app.push_screen(ImportPreview(Source.of(folder / "marks.csv"), ImportOptions()))
        await until(pilot, "Marks: 1 would be added")
        assert "[not imported 1]" in text_of(app)
        await pilot.press("i")
        await until(pilot, "Marks: 1 added")
    assert library.history.standing("book/clouds/one/3").missed_days == 1


async def test_what_is_to_check_comes_first_and_stands_as_it_will_be_drilled(
    library: Library,
) -> None:
    printed = "".join(
        f"{n}. Which is cloud {n}?\n(a) Cirrus\n(b) Stratus\n(c) Cumulus\nAns. (b)\n\n"
        for n in range(1, 12)
    ).replace("(c) Cumulus\n", "", 1)
    app = Stage(library, ImportPreview(Source("pasted text", printed.encode), ImportOptions()))
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, "has 2 options")
        shown = text_of(app)

    assert "[to check 1]" in shown
    assert "Layout: numbers 1., options (a), answer keys after each question" in shown
    for words in ("Which is cloud 1?", "a  Cirrus", "b  Stratus", "has 2 options"):
        assert words in shown
