"""Every picture looks as it was kept: text and styles at 80x24 and 120x40, on the demo.

When one is meant to look different: `python -m tests.pictures --compare FILE.html` draws both side
by side; look at them, then `--keep`.
"""

import pytest

from tests.pictures import KEPT, PICTURES, SIZES, Look, looks

pytestmark = pytest.mark.slow


async def test_every_screen_looks_as_it_was_kept():
    drawn = await looks(())
    different = [
        path.name for path, look in drawn.items() if look.written() != path.read_text("utf-8")
    ]

    assert not different
    assert set(drawn) == set(KEPT.iterdir())
    assert len(drawn) == len(PICTURES) * len(SIZES)


def test_a_look_is_read_as_it_was_written():
    look = Look(("ab ", "é  "), (("bold #ffffff on #000000", "none", "none"), ("none",) * 3))

    assert Look.read(look.written()) == look
    assert "é" in look.svg()
    assert not any(added in look.svg() for added in ("<circle", "@font-face", "Fira"))
