"""A page of text keeps every word in sight, beside its bar."""

from textual.app import App
from textual.content import Content

from tests.tui.stage import settled
from tui.widgets.text_block import ScrollText


class Reading(App):
    CSS = "ScrollText { padding: 0 1 0 2; border-left: solid white; width: 30; }"

    def compose(self):
        yield ScrollText()


async def test_a_block_as_wide_as_the_page_is_not_cut():
    app = Reading()
    async with app.run_test(size=(40, 8)) as pilot:
        page = app.query_one(ScrollText)
        page.show([lambda width: Content("x" * (width - 1) + "!")])
        short = (await settled(pilot)).splitlines()[0]
        page.show([lambda width: Content("x" * (width - 1) + "!")] * 9)
        long = (await settled(pilot)).splitlines()[0]

    assert "x!" in short
    assert "x!" in long


async def test_a_block_shown_again_is_set_once_and_stands_as_often_as_it_is_listed():
    asked = []

    def stem(width: int) -> Content:
        asked.append(width)
        return Content("stem")

    app = Reading()
    async with app.run_test(size=(40, 8)) as pilot:
        page = app.query_one(ScrollText)
        page.show([stem, lambda _: Content("first")])
        await settled(pilot)
        page.show([stem, lambda _: Content("second"), stem])
        again = await settled(pilot)
        before = len(asked)
        page.styles.width = 20
        await settled(pilot)

    assert again.count("stem") == 2
    assert "first" not in again
    assert "second" in again
    assert len(set(asked[:before])) == before  # once a width
    assert set(asked[before:]).isdisjoint(asked[:before])
    assert asked[before:]


async def test_a_page_is_painted_without_colours_before_it_has_a_width(monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    app = Reading()
    async with app.run_test(size=(40, 8)) as pilot:
        page = app.query_one(ScrollText)
        page.styles.display = "none"
        page.show([lambda _: Content("read")])
        page.styles.width = 1
        page.styles.display = "block"
        await settled(pilot)
        page.styles.width = 30
        text = await settled(pilot)

    assert "read" in text
