from textual.app import ComposeResult
from textual.content import Content

from tests.tui.stage import Themed, settled, text_of
from tui.widgets.virtual_list import VirtualList


class Listing(Themed):
    def __init__(self, count: int) -> None:
        super().__init__()
        self.count = count
        self.picked: list[int] = []
        self.drawn: list[int] = []

    def compose(self) -> ComposeResult:
        yield VirtualList(empty="No questions.")

    def on_mount(self) -> None:
        self.query_one(VirtualList).show(range(self.count), self.draw)
        self.query_one(VirtualList).focus()

    def draw(self, item: int, width: int) -> Content:
        self.drawn.append(item)
        return Content(f"question {item} [b]of the bank[/b] " + "x" * width)

    def on_virtual_list_picked(self, message: VirtualList.Picked) -> None:
        self.picked.append(message.rows.item)


async def test_only_what_is_in_sight_is_drawn():
    app = Listing(100_000)
    async with app.run_test(size=(40, 10)) as pilot:
        await pilot.press("G")

        assert set(app.drawn) <= {*range(10), *range(99_990, 100_000)}
        assert "> question 99999" in text_of(app)


async def test_letters_arrows_and_pages_move_the_marker():
    app = Listing(50)
    async with app.run_test(size=(40, 10)) as pilot:
        rows = app.query_one(VirtualList)
        seen = []
        for key in ("down", "j", "k", "pagedown", "pageup", "end", "down", "g", "up"):
            await pilot.press(key)
            seen.append(rows.selected)

        assert seen == [1, 2, 1, 10, 1, 49, 49, 0, 0]


async def test_enter_takes_the_selected_row_and_text_is_never_markup():
    app = Listing(5)
    async with app.run_test(size=(60, 10)) as pilot:
        await pilot.press("j", "enter")

        assert app.picked == [1]
        assert "> question 1 [b]of the bank[/b] xxx" in text_of(app)
        assert text_of(app).splitlines()[1].endswith("…")


async def test_an_empty_list_says_so():
    app = Listing(0)
    async with app.run_test(size=(40, 10)) as pilot:
        await pilot.press("j", "enter")

        assert "No questions." in text_of(app)
        assert app.picked == []


async def test_ticked_rows_are_marked_and_chosen_together():
    app = Listing(5)
    async with app.run_test(size=(60, 10)):
        rows = app.query_one(VirtualList)
        rows.tick([1, 3])
        chosen = rows.chosen
        rows.tick([3])

        assert chosen == [1, 3]
        assert rows.chosen == [1]


async def test_a_click_selects_and_a_second_takes():
    app = Listing(5)
    async with app.run_test(size=(60, 10)) as pilot:
        await pilot.click(VirtualList, offset=(5, 2))
        await pilot.click(VirtualList, offset=(5, 2))

        assert app.picked == [2]


async def test_of_two_lists_the_one_that_has_the_keys_is_told_without_colour():
    class Two(Themed):
        def compose(self):
            yield VirtualList(id="one")
            yield VirtualList(id="two")

    app = Two()
    async with app.run_test(size=(20, 6)) as pilot:
        for rows in app.query(VirtualList):
            rows.show(["a", "b"], lambda item, width: Content(item))
        app.query_one("#one").focus()
        first = await settled(pilot)
        await pilot.press("tab")
        second = await settled(pilot)

    assert [line[:3] for line in first.splitlines() if "a" in line] == ["> a", "› a"]
    assert [line[:3] for line in second.splitlines() if "a" in line] == ["› a", "> a"]


async def test_another_theme_paints_every_line_anew():
    app = Listing(5)
    async with app.run_test(size=(40, 10)) as pilot:
        app.theme = "textual-dark"
        await settled(pilot)
        dark = backgrounds(app)
        app.theme = "textual-light"
        await settled(pilot)

        assert not dark & backgrounds(app)


def backgrounds(app: Listing) -> set[object]:
    """The colours behind the lines that are not selected."""
    rows = app.query_one(VirtualList)
    return {segment.style.bgcolor for y in range(1, 5) for segment in rows.render_line(y)}
