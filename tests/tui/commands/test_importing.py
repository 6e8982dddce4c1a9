"""The commands `import`, `outline` and `key`: what they say, and that bad input harms nothing."""

import json
import re
from pathlib import Path

import pytest

from banks.library import Library
from domain.questions import Form
from domain.tiers import Tier
from tui.cli import main

HEAD = "number,stem,a,b,c,d,key\n"
GOOD = HEAD + "1,One?,w,x,y,z,a\n2,Two?,w,x,y,z,b\n3,Three?,w,x,y,z,c\n"
SHAPE = "subject,chapter,questions,weight\nClouds,1 Genera,20,8\nWind,Only,10,5\n"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "store"


def run(store: Path, *words: object) -> int:
    return main(["--store", str(store), "--today", "2027-03-01", *map(str, words)])


def file(store: Path, name: str, text: str) -> Path:
    path = store.parent / name
    path.write_text(text, encoding="utf-8")
    return path


def document(capsys: pytest.CaptureFixture[str]) -> dict:
    return json.loads(capsys.readouterr().out)


def library(store: Path) -> Library:
    return Library.open(store, read_only=True)


def test_import_tells_all_of_it_as_json(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = file(store, "some.csv", GOOD + "4,Four?,w,x,y,z,q\n5,Five?,w,w,y,z,a\n")
    assert run(store, "import", path, "--bank", "My Bank", "--json") == 1
    assert document(capsys) == {
        "bank": "my-bank",
        "format": "csv",
        "encoding": "utf-8",
        "added": 4,
        "updated": 0,
        "unchanged": 0,
        "retired": 0,
        "skipped": [
            {
                "line": 5,
                "reason": "the key 'q' is neither an option's letter or number nor its text",
            }
        ],
        "warnings": [{"line": 6, "reason": "two options are the same; either counts as the other"}],
    }
    assert library(store).banks["my-bank"].title == "My Bank"


def test_import_again_updates_by_place_and_a_changed_text_is_another_question(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(store, "import", file(store, "some.csv", GOOD), "--bank", "B", "--subject", "Air")
    run(store, "mark", "--subject", "Air", "--chapter", "1", "--wrong", "2", "--rest", "right")
    changed = GOOD.replace("w,x,y,z,a", "w,x,y,z,d").replace("Two?", "Quite another?")
    capsys.readouterr()
    assert run(store, "import", file(store, "new.csv", changed), "--subject", "Air", "--json") == 0
    counts = document(capsys)
    assert [counts[name] for name in ("added", "updated", "unchanged", "retired")] == [1, 1, 1, 1]
    run(store, "triage", "--json")
    tiers = {row["number"]: row["tier"] for row in document(capsys)["questions"]}
    assert tiers == {1: "clear", 2: "untried", 3: "clear"}


def test_other_texts_in_a_chapter_replace_nothing_unasked_and_an_import_is_undone_whole(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(store, "import", file(store, "some.csv", GOOD), "--bank", "B")
    other = file(store, "other.csv", GOOD.replace("?", " then?"))
    more = file(store, "more.csv", HEAD + "9,Nine?,w,x,y,z,a\n")
    capsys.readouterr()
    assert run(store, "import", other) == 1
    printed = capsys.readouterr()
    assert "3 questions have different text in the bank" in printed.out
    assert "--renumber" in printed.err
    assert not any(question.retired for question in library(store).banks["b"].questions.values())

    assert run(store, "import", other, more, "--renumber") == 0
    questions = library(store).banks["b"].questions.values()
    assert [question.number for question in questions] == [1, 2, 3, 4, 5, 6, 7]
    assert run(store, "import", other, "--force") == 0
    retired = [
        question.stem
        for question in library(store).banks["b"].questions.values()
        if question.retired
    ]
    assert retired == ["One?", "Two?", "Three?"]

    opened = Library.open(store)
    assert opened.undo().label == "the import of other.csv"
    assert opened.undo().label == "the import of other.csv, more.csv"
    assert [question.stem for question in opened.banks["b"].questions.values()] == [
        "One?",
        "Two?",
        "Three?",
    ]
    opened.close()


def test_a_dry_run_says_the_same_and_writes_nothing(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = file(store, "some.csv", GOOD)
    run(store, "import", path, "--bank", "B")
    before = sorted((store / "banks").iterdir()), (store / "banks" / "b.json").read_bytes()
    capsys.readouterr()
    changed = file(store, "new.csv", GOOD + "4,Four?,w,x,y,z,a\n")
    assert run(store, "import", changed, "--dry-run", "--json") == 0
    assert document(capsys)["added"] == 1
    after = sorted((store / "banks").iterdir()), (store / "banks" / "b.json").read_bytes()
    assert after == before


def test_several_files_are_brought_in_together_or_not_at_all(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good, bad = file(store, "good.csv", GOOD), file(store, "bad.txt", "Dear all\n")
    assert run(store, "import", good, bad, "--bank", "B") == 1
    assert library(store).banks == {}
    more = file(store, "more.csv", HEAD + "4,Four?,w,x,y,z,a\n")
    assert run(store, "import", good, more, "--bank", "B") == 0
    assert len(library(store).banks["b"].questions) == 4


def test_a_file_of_nothing_usable_says_what_was_expected_on_standard_error(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(store, "import", file(store, "bad.txt", "Dear all\n")) == 1
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "bad.txt: no usable question was found" in printed.err
    assert "number,stem,a,b,c,d,key" in printed.err


def test_columns_and_the_base_of_numeric_keys_can_be_said(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = file(
        store, "odd.csv", "Nr,Frage,Eins,Zwei,Drei,Loesung\nx,Was?,u,v,w,1\ny,Wer?,u,v,w,1\n"
    )
    columns = ["--columns", "stem=2,a=3,b=4,c=5,key=6", "--key-from", "0"]
    assert run(store, "import", path, "--bank", "B", *columns) == 0
    keys = {question.answer_key for question in library(store).banks["b"].questions.values()}
    assert keys == {("b",)}
    assert run(store, "import", path, "--bank", "B", "--columns", "wrong=2") == 2
    named = "stem=Frage,a=Eins,b=zwei,c=5,key=Loesung"
    assert run(store, "import", path, "--bank", "C", "--columns", named, "--key-from", "0") == 0
    assert {q.answer_key for q in library(store).banks["c"].questions.values()} == {("b",)}
    capsys.readouterr()
    assert run(store, "import", path, "--bank", "C", "--columns", "stem=Fragen") == 1
    assert "has no column 'Fragen' for stem; there are: nr, frage" in capsys.readouterr().err


def test_columns_are_named_in_objects_marks_and_shapes(store: Path) -> None:
    lines = '{"q": {"n": 1, "say": "Which?"}, "pick": ["x", "y"], "good": "y"}\n' * 2
    objects = file(store, "odd.jsonl", lines)
    columns = "number=q.n,stem=q.say,options=pick,key=good"
    assert run(store, "import", objects, "--bank", "J", "--columns", columns) == 1  # comes twice
    shape = file(store, "shape.csv", "Was,Teil,Wieviele\nWind,Only,4\n")
    columns = "subject=Was,chapter=Teil,questions=Wieviele"
    kind = ["--kind", "outline", "--bank", "Book"]
    assert run(store, "import", shape, *kind, "--columns", columns) == 0
    marks = file(store, "marks.csv", "Wo,Nr,Wann,Wie\nWind,3,2027-01-05,hm\n")
    columns = "subject=Wo,number=Nr,date=Wann,verdict=Wie"
    kind = ["--kind", "marks", "--bank", "Book", "--columns", columns]
    assert run(store, "import", marks, *kind, "--dry-run") == 1
    assert run(store, "import", marks, *kind, "--words", "hm=wrong mixed up") == 0
    more = file(store, "more.csv", "Wo,Nr,Wann,Wie\nWind,4,2027-01-05,HM\n")
    assert run(store, "import", more, *kind) == 0  # the word is remembered

    made = library(store)
    assert [q.answer_key for q in made.banks["j"].questions.values()] == [("b",)]
    assert len(made.banks["book"].questions) == 4
    assert made.history.standing("book/wind/only/4").tier is Tier.HARD


def test_a_new_edition_withdraws_what_it_does_not_hold(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(store, "import", file(store, "one.csv", GOOD), "--bank", "B")
    capsys.readouterr()
    second = file(store, "two.csv", HEAD + "1,One?,w,x,y,z,a\n2,Three?,w,x,y,z,c\n")
    run(store, "import", second, "--edition", "second")
    out = capsys.readouterr().out
    assert "moved: 3" in out
    assert "retired: 2" in out
    imported = library(store).banks["b"]
    assert imported.edition == "second"
    assert [q.id for q in imported.questions.values() if not q.retired] == [
        "b/b/questions/1",
        "b/b/questions/3",
    ]


def test_which_bank_is_asked_for_where_there_are_several(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = file(store, "some.csv", GOOD)
    run(store, "import", path, "--bank", "One")
    run(store, "import", path, "--bank", "Two")
    assert run(store, "import", path) == 1
    assert "one, two" in capsys.readouterr().err


def test_a_shape_becomes_bare_questions(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(store, "outline", file(store, "shape.csv", SHAPE), "--bank", "Book", "--json") == 0
    report = document(capsys)
    assert (report["subjects"], report["chapters"], report["questions"], report["added"]) == (
        2,
        2,
        30,
        30,
    )
    book = library(store).banks["book"]
    assert {question.form for question in book.questions.values()} == {Form.BARE}
    assert [subject.weight for subject in book.subjects] == [8, 5]


def test_a_key_as_printed_makes_keyed_questions_and_a_correction_regrades(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(store, "outline", file(store, "shape.csv", SHAPE), "--bank", "Book")
    place = ["--subject", "Wind", "--chapter", "Only"]
    assert run(store, "key", *place, "1 BCADB CADBA") == 0
    run(store, "mark", *place, "--responses", "BCADBCADBA")
    first = library(store).history
    assert first.standing("book/wind/only/4").tier is Tier.CLEAR
    assert run(store, "key", *place, "4 a") == 0
    assert library(store).history.standing("book/wind/only/4").tier is Tier.HARD


def test_a_damaged_key_is_told_by_number_and_the_good_ones_are_kept(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(store, "outline", file(store, "shape.csv", SHAPE), "--bank", "Book")
    capsys.readouterr()
    place = ["--subject", "Wind", "--chapter", "Only"]
    assert run(store, "key", *place, "1-B, 2-x, 4-c, 4-d, 11-a") == 1
    errors = capsys.readouterr().err.splitlines()
    assert errors == [
        "resieve: 2: 'x' is not one of a–d",
        "resieve: 3 has no letter",
        "resieve: 4 occurs twice (c kept, d not)",
        "resieve: 11 is not in the chapter (1–10)",
    ]
    keys = [q.answer_key for q in library(store).banks["book"].in_chapter("wind/only")][:4]
    assert keys == [("b",), (), (), ("c",)]
    assert run(store, "key", *place, "no key at all") == 1


def test_marks_kept_elsewhere_come_in_by_the_same_door_once(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(store, "outline", file(store, "shape.csv", SHAPE), "--bank", "Book")
    rows = "subject,chapter,number,date,verdict,sureness\nWind,Only,3,2027-01-05,wrong,\n"
    path = file(
        store, "marks.csv", rows + "Wind,Only,3,2027-01-09,wrong,\nWind,Only,99,2027-01-09,wrong,\n"
    )
    capsys.readouterr()
    assert run(store, "import", path, "--json") == 1
    report = document(capsys)
    assert (report["format"], report["added"], report["skipped"][0]["line"]) == ("marks", 2, 4)
    run(store, "import", path, "--json")
    assert document(capsys)["unchanged"] == 2
    assert library(store).history.standing("book/wind/only/3").tier is Tier.HARDER


def test_marks_of_which_too_many_are_refused_wait_for_force(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(store, "outline", file(store, "shape.csv", SHAPE), "--bank", "Book")
    rows = "subject,chapter,number,date,verdict\nWind,Only,1,2027-01-05,wrong\n"
    path = file(store, "marks.csv", rows + "Wind,Only,2,2027-01-05,hm\n" * 2)
    capsys.readouterr()
    assert run(store, "import", path) == 1
    out = capsys.readouterr().out
    assert "probably misread: 2 of 3 rows are refused" in out
    assert "2027-01-05: book/wind/only/1 wrong, sure (revision)" in out
    assert "Not understood as verdict: hm (2)" in out
    assert library(store).history.standing("book/wind/only/1").tier is Tier.UNTRIED
    run(store, "import", path, "--force")
    assert library(store).history.standing("book/wind/only/1").tier is Tier.HARD


def test_printed_questions_can_have_five_options(store: Path) -> None:
    shape = file(store, "shape.csv", SHAPE)
    place = ["--subject", "Wind", "--chapter", "Only"]
    run(store, "outline", shape, "--bank", "Book")
    assert run(store, "key", *place, "1 e") == 1
    assert run(store, "outline", shape, "--bank", "Book", "--options", "5") == 0
    assert run(store, "key", *place, "1 e") == 0


def test_an_import_says_how_it_changed_the_plan_and_nothing_where_it_did_not(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shape = file(store, "book.csv", "subject,chapter,questions\nClouds,Genera,300\nWind,All,300\n")
    assert run(store, "outline", shape, "--bank", "Book") == 0
    assert "The plan changed" not in capsys.readouterr().out
    assert run(store, "plan", "--exam", "2027-06-01") == 0
    capsys.readouterr()
    more = file(store, "more.csv", "subject,chapter,questions\nTides,All,300\n")
    assert run(store, "import", more, "--bank", "Book") == 0
    last_line = capsys.readouterr().out.splitlines()[-1]
    assert re.fullmatch(r"The plan changed: spare \d+ → \d+ days, \d+ visits move.*\.", last_line)
    assert run(store, "import", more, "--bank", "Book") == 0
    assert "The plan changed" not in capsys.readouterr().out
    assert run(store, "import", more, "--bank", "Extras") == 0
    offer = capsys.readouterr().out.splitlines()[-1]
    assert offer.startswith(
        "Extras does not count in the plan; `resieve bank --take-up extras` takes it up: spare "
    )
    assert run(store, "import", more, "--bank", "Extras") == 0
    assert "in the plan" not in capsys.readouterr().out
