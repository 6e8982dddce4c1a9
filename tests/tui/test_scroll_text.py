"""A page of text keeps every word in sight, beside its bar."""

from textual.app import App
from textual.content import Content
from textual.filter import LineFilter

from tests.tui.stage import settled
from tui.widgets.text_block import ScrollText, TextLines


class Seen(LineFilter):
    """Takes down what it is given, and shows every x as a y."""

    def __init__(self):
        super().__init__()
        self.texts = []

    def apply(self, segments, background):
        self.texts += [segment.text for segment in segments]
        return [segment._replace(text=segment.text.replace("x", "y")) for segment in segments]


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


async def test_lines_are_filtered_when_they_are_set_and_not_again_when_scrolled(monkeypatch):
    app, seen = Reading(), Seen()
    monkeypatch.setattr(app, "get_line_filters", lambda: [seen])
    async with app.run_test(size=(40, 8)) as pilot:
        page = app.query_one(ScrollText)
        page.show([lambda _: Content("\n".join(f"x line {number}" for number in range(30)))])
        await settled(pilot)
        set_first = len(seen.texts)
        page.turn(1)
        text = await settled(pilot)
        again = [words for words in seen.texts[set_first:] if "line" in words]

    assert "y line 7" in text
    assert "y line 1\n" not in text
    assert set_first
    assert not again


class Padded(Reading):
    CSS = "ScrollText { padding: 2 1; border-left: solid white; }"


async def test_what_was_scrolled_past_is_not_seen_in_the_space_above_the_page():
    app = Padded()
    async with app.run_test(size=(40, 8)) as pilot:
        page = app.query_one(ScrollText)
        page.show([lambda _: Content("\n".join(f"line {number}" for number in range(30)))])
        await settled(pilot)
        page.scroll_to(y=9, animate=False, immediate=True)
        lines = (await settled(pilot)).splitlines()

    assert [line.strip("│ ") for line in lines[:2]] == ["", ""]
    assert "line 9" in lines[2]


class Written(App):
    CSS = "TextLines { padding: 0 2; border-top: solid white; } #high { height: auto; }"

    def compose(self):
        yield TextLines(lambda _: Content("one\ntwo"))
        yield TextLines(lambda width: Content("-" * width), id="high")


async def test_only_lines_that_differ_are_painted_again(monkeypatch):
    app, painted = Written(), []
    async with app.run_test(size=(40, 8)) as pilot:
        text = app.query(TextLines).first()
        await settled(pilot)
        monkeypatch.setattr(text, "refresh", lambda *regions, **_: painted.append(regions))
        text.show(lambda _: Content("one\nthree"))
        text.show(lambda _: Content("one\nthree"))

    assert [[region.y for region in regions] for regions in painted] == [[1]]


async def test_lines_are_set_anew_for_another_width_style_and_height():
    app = Written()
    async with app.run_test(size=(40, 12)) as pilot:
        text = app.query_one("#high", TextLines)
        before = (await settled(pilot)).splitlines()
        await pilot.resize_terminal(30, 12)
        for _ in range(20):
            narrow = (await settled(pilot)).splitlines()
            if narrow != before:
                break
        text.show(lambda _: Content("one\ntwo\nthree"), layout=True)
        text.styles.padding = (0, 4)
        higher = (await settled(pilot)).splitlines()

    assert before[1:5] == ["  one", "  two", "─" * 40, "  " + "-" * 36]
    assert narrow[3:5] == ["─" * 30, "  " + "-" * 26]
    assert higher[3:7] == ["─" * 30, "    one", "    two", "    three"]
