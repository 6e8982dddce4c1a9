"""The whole way: a real question set is imported, drilled over three days, a chapter marked.

The open question set is MedMCQA's validation split (Pal et al., "MedMCQA", PMLR 174, 2022; MIT
licence), read where it lies beside the project; a set of the same shape made here is always tried.
"""

import json
from collections import Counter
from pathlib import Path

import pytest

from banks.library import Library
from banks.store.folder import Store
from domain.questions import Bank
from domain.responses import Purpose
from domain.tiers import Tier
from tests.builders import FakeClock, chapter_sitting
from tests.published.open_sets import WHOLE
from tests.tui.stage import Stage, type_text
from tui.cli import main
from tui.screens.drill import DrillScreen
from tui.screens.printed_marking import PrintedMarkingScreen

OPEN_SET = WHOLE / "medmcqa_validation.jsonl"
WRONG, RIGHT, UNSURE, BLANK = "wrong", "right", "unsure", "blank"

# What the candidate does with each ten questions on three days, and, worked out by hand from the
# tier rules, where they stand then.
TABLE = [
    ((RIGHT, RIGHT, RIGHT), Tier.CLEAR),
    ((WRONG, WRONG, WRONG), Tier.HARDEST),
    ((WRONG, BLANK, RIGHT), Tier.HARDER),
    ((UNSURE, RIGHT, RIGHT), Tier.HARD),
    ((BLANK, RIGHT, UNSURE), Tier.HARD),
]


def a_set_like_it(path: Path) -> Path:
    """4,183 questions in the fields and with the oddities of the open set."""
    rows = [
        {
            "question": f"Which of these is number {n}?", "cop": n % 4, "choice_type": "multi",
            "opa": f"{n} a", "opb": f"{n} b", "opc": f"{n} c", "opd": "All of the above",
            "exp": None if n % 2 else f"Because of {n}.\nSo it is.",
            "subject_name": f"Subject {n % 21}", "topic_name": f"Topic {n % 3}",
        }
        for n in range(4183)
    ]  # fmt: skip
    path.write_text("\n".join(map(json.dumps, rows)) + "\n", encoding="utf-8")
    return path


@pytest.fixture(params=["a set like it", *(["the open set"] if OPEN_SET.exists() else [])])
def imported(request: pytest.FixtureRequest, tmp_path: Path, capsys) -> Library:
    """A library with the set imported by the command, and a printed chapter of 105 beside it."""
    made_up = request.param == "a set like it"
    source = a_set_like_it(tmp_path / "set.jsonl") if made_up else OPEN_SET
    folder = tmp_path / "store"
    outline = tmp_path / "printed.csv"
    outline.write_text("subject,chapter,questions\nClouds,1 Genera,105\n")
    store = ["--store", str(folder)]
    assert main([*store, "import", str(source), "--bank", "Set", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    counted = (
        document["added"] + document["updated"] + document["unchanged"] + len(document["skipped"])
    )
    assert counted == 4183
    assert main([*store, "outline", str(outline), "--bank", "Book"]) == 0
    capsys.readouterr()
    return Library(Store.open(folder), FakeClock())


async def drill(opened: Library, day: int) -> None:
    """Drill the first fifty on one day, key by key, as the table says."""
    questions = [question for _, question in opened.active_questions("set")][:50]
    names = [question.id for question in questions]
    sitting = opened.open_sitting(f"Day {day}", Purpose.REVISION, names)
    async with Stage(opened, DrillScreen(sitting, lambda: 0.0)).run_test(size=(80, 24)) as pilot:
        for place, question in enumerate(questions):
            shown = pilot.app.screen.run.shown.seating.options
            letters = {option.id: "abcdefgh"[seat] for seat, option in enumerate(shown)}
            key = question.answer_key[0]
            texts = {option.id: option.text for option in question.options}
            other = next(text for text in texts if texts[text] != texts[key])
            does = TABLE[place // 10][0][day]
            press = {
                RIGHT: letters[key], UNSURE: letters[key].upper(), WRONG: letters[other],
                BLANK: "full_stop",
            }  # fmt: skip
            await pilot.press(press[does], "enter")


@pytest.mark.slow
async def test_the_triage_shows_what_the_hand_worked_table_says(imported: Library, capsys) -> None:
    for day in range(3):
        await drill(imported, day)
        imported.now.go_on(days=1)
    book: Bank = imported.banks["book"]
    chapter = book.subjects[0].chapters[0]
    location = imported.location(book.in_chapter(chapter.id)[0])
    async with Stage(
        imported, PrintedMarkingScreen(*chapter_sitting(location, Purpose.STUDY))
    ).run_test(size=(80, 24)) as pilot:
        await type_text(pilot, "1-30 ")
        for number in range(31, 41):
            await type_text(pilot, f"{number}?")
        await pilot.press("enter")
    folder = str(imported.store.folder)
    imported.close()

    assert main(["--store", folder, "triage", "--bank", "set", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    expected = Counter({Tier.UNTRIED: 4133})
    for _, tier in TABLE:
        expected[tier] += 10
    counts = {name: document["counts"][name] for name in (tier.word for tier in Tier)}
    assert counts == {tier.word: expected[tier] for tier in Tier}

    assert main(["--store", folder, "triage", "--bank", "book", "--tier", "hard", "--json"]) == 0
    marked = json.loads(capsys.readouterr().out)
    assert sorted(row["number"] for row in marked["questions"]) == list(range(1, 41))
