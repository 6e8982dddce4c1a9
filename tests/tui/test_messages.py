"""What is told in passing stays on its screen, and leaves the keys in sight."""

from tests.builders import bank, library
from tests.tui.stage import Stage, Wings, messages_of, settled


async def test_a_message_stays_on_the_screen_that_it_was_told_on(tmp_path):
    first = Wings()
    app = Stage(library(tmp_path, bank("Book", {})), first)
    async with app.run_test(size=(80, 24)) as pilot:
        first.notify("told [first]")
        lines = (await settled(pilot)).splitlines()
        assert lines[-2:] == [" told [first]", " esc Back   ? Help"]

        above = Wings()
        app.push_screen(above)
        above.tell("told before it is drawn")
        first.notify("told while covered")
        shown = await settled(pilot)
        assert messages_of(app) == ["told while covered", "told before it is drawn"]
        assert "told before it is drawn" in shown
        assert "covered" not in shown

        app.go_back()
        shown = await settled(pilot)
        assert "told while covered" in shown
        assert "drawn" not in shown

        app.push_screen(above := Wings())
        await settled(pilot)
        app.go_back()
        above.tell("told when it was left")
        assert "told when it was left" in await settled(pilot)

        app.notify("told for a moment", timeout=0.01)
        assert messages_of(app) == ["told for a moment"]
        await pilot.pause(0.05)
        assert "told for" not in await settled(pilot)
        assert messages_of(app) == []
