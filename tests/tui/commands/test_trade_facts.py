"""The main job in figures, fed through the commands.

Common practice, no source: a bank of 21 subjects with some 525 questions in 9 chapters each; 250
to 300 of a subject are marked in the first study, and the 150 to 200 of them missed again in
revision are the set of its one-day sweep.
"""

import json
from pathlib import Path
from random import Random

import pytest

from tests.builders import bank, bares, library
from tui.cli import main

CHAPTERS = {f"Chapter {number}": 55 + number for number in range(9)}
"""Nine chapters, 531 questions."""


class Pencil:
    """What a candidate marked on paper: (chapter, number) → wrong, in each of two studies."""

    def __init__(self, seed: int) -> None:
        draw = Random(seed)
        book = [(chapter, n) for chapter, count in CHAPTERS.items() for n in range(1, count + 1)]
        self.first = set(draw.sample(book, draw.randint(250, 300)))
        self.again = set(draw.sample(sorted(self.first), draw.randint(150, 200)))
        self.new = set(draw.sample(sorted(set(book) - self.first), 20))

    def wrong(self, marks: set[tuple[str, int]], chapter: str) -> str:
        """A chapter's marks as they are typed."""
        return ",".join(str(number) for at, number in sorted(marks) if at == chapter)


def run(store: Path, day: str, *words: str) -> None:
    assert main(["--store", str(store), "--today", day, *words]) == 0


def mark_all(store: Path, pencil: Pencil, marks: set, day: str, purpose: str) -> None:
    for chapter in CHAPTERS:
        run(
            store, day, "mark", "--subject", "Instruments", "--chapter", chapter,
            "--wrong", pencil.wrong(marks, chapter), "--rest", "right", "--purpose", purpose,
        )  # fmt: skip


def listed(store: Path, capsys: pytest.CaptureFixture[str], *words: str) -> set[tuple[str, int]]:
    capsys.readouterr()
    run(store, "2026-06-20", *words, "--json")
    rows = json.loads(capsys.readouterr().out)["questions"]
    return {(row["chapter"], row["number"]) for row in rows}


@pytest.mark.parametrize("seed", [1, 2])
def test_what_was_missed_again_is_exactly_the_set_of_the_sweep_day(tmp_path, capsys, seed):
    chapters = {title: bares(count) for title, count in CHAPTERS.items()}
    subjects = {"Instruments": chapters, "Clouds": {"Genera": bares(40)}}
    library(tmp_path, bank("Observer's Question Book", subjects)).close()
    pencil = Pencil(seed)
    mark_all(tmp_path, pencil, pencil.first, "2026-01-12", "study")
    mark_all(tmp_path, pencil, pencil.again | pencil.new, "2026-04-13", "revision")
    triage = ("triage", "--subject", "Instruments")

    assert 250 <= len(pencil.first) <= 300
    assert 150 <= len(pencil.again) <= 200
    assert listed(tmp_path, capsys, *triage, "--missed", "2") == pencil.again
    assert listed(tmp_path, capsys, *triage, "--tier", "harder,hardest") == pencil.again
    assert (
        listed(tmp_path, capsys, *triage, "--tier", "hard,harder,hardest")
        == pencil.first | pencil.new
    )
