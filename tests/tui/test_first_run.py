"""From nothing to the first marked line of the plan, without a file: every key counted.

The goal was stated before it was measured: the least keys that the information needs, times 1.1.
The information is 21 titles with nine numbers each, the exam day, and the numbers missed, each
with what separates it from the next; four keys go on: to the exam day, to Today, into the
chapter, and for the rest that was right.
"""

from datetime import date

import pytest
from textual.events import Paste
from textual.pilot import Pilot

from banks.demo.making import printed_bank
from banks.library import Library
from banks.planning.workload import PlanWorkload
from tests.builders import library
from tests.tui.stage import Stage, settled
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.screens.today import TodayScreen

CHAPTERS = 9
EXAM = "2027-05-15"
MISSED = (3, 7, 12, 15, 18, 22, 25, 28, 31, 34)
GO_ON = 4
GOAL = 1.1
KEYS = {"\n": "enter", " ": "space", ",": "comma", "-": "minus", "'": "apostrophe"}


class CountedKeys:
    """Types and counts; a capital letter is one key."""

    def __init__(self, pilot: Pilot) -> None:
        self.pilot, self.count = pilot, 0

    async def press(self, *keys: str) -> None:
        self.count += len(keys)
        await self.pilot.press(*keys)

    async def type_at_once(self, text: str) -> None:
        """Counted key by key, given to the field in one go: drawing each key takes seconds."""
        self.count += len(text)
        self.pilot.app.post_message(Paste(text))
        await self.pilot.pause()

    async def type(self, text: str) -> None:
        await self.press(*(KEYS.get(character, character) for character in text))


def shape() -> str:
    """21 subjects of nine chapters, as they are typed."""
    titles = [subject.title for subject in printed_bank(date(2026, 3, 2)).subjects]
    return "\n".join(
        f"{title} " + " ".join(str(60 + (place + 7 * chapter) % 9) for chapter in range(CHAPTERS))
        for place, title in enumerate(titles)
    )


@pytest.mark.slow
async def test_the_first_run_needs_hardly_more_keys_than_it_has_to_say(tmp_path) -> None:
    opened: Library = library(tmp_path / "store")
    text, missed = shape(), " ".join(map(str, MISSED))
    least = len(text) + len(EXAM) + len(missed) + GO_ON

    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        keys = CountedKeys(pilot)
        first, rest = text.split("\n", 1)
        await keys.type(first)
        await keys.type_at_once("\n" + rest)
        await keys.press("tab")
        await keys.type(EXAM)
        await keys.press("ctrl+r")
        await pilot.app.workers.wait_for_complete()
        shown = await settled(pilot)
        assert "Today" in shown
        await keys.press("enter")
        await settled(pilot)
        assert isinstance(pilot.app.screen, PrintedMarkingScreen)
        await keys.type(missed + " ")
        await keys.press("enter")
        await settled(pilot)

    titles = [subject.title for bank in opened.banks.values() for subject in bank.subjects]
    assert len(titles) == 21
    assert all(
        len(subject.chapters) == CHAPTERS
        for bank in opened.banks.values()
        for subject in bank.subjects
    )
    tried = len(opened.history.answered_on(opened.today()))
    assert tried == len(next(iter(PlanWorkload(opened).plan().entries)).parts[0].numbers)
    assert keys.count <= GOAL * least, (keys.count, least)
    print(f"\nfirst run: {keys.count} keys, least {least}")
